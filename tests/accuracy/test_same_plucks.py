"""The same plucks recorded, cut or stored in another way give the same numbers.

What must not matter: polarity, sample rate, an offset, the order of the plucks, one file or many, a
shift by part of a sample, silence behind the last note. Truth is the unchanged recording itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import check_takes as takes
import numpy as np
import pandas as pd
import pytest
from scipy.signal import resample_poly

from tonecompare.measure import measure_session
from tonecompare.session import load_session

RATE_HZ = 44_100
#: Quiet before the first pluck, and from each pluck to the next (as the helper makes them).
QUIET_S, SPACING_S = takes.QUIET_S, takes.SPACING_S
#: Largest difference of a mean over a note's plucks: dB, or ratio less 1. The attack hangs on the
#: onset, which may move by 0.2 ms in 23 ms where resampling has taken the noise of the top away.
LIMITS = {
    "level_dbfs": 0.01,
    "centroid_hz": 0.004,
    "decay_s": 0.004,
    "attack_ms": 0.01,
    "f0_hz": 1e-5,
}

Files = Mapping[str, tuple[np.ndarray, int]]


def _pieces() -> list[np.ndarray]:
    x = takes.take(repeats=2)
    starts = [round((QUIET_S + SPACING_S * k - 0.12) * RATE_HZ) for k in range(4)]
    return [x[: starts[0]], *np.split(x, starts)[1:]]


def _one(x: np.ndarray, rate_hz: int = RATE_HZ) -> Files:
    return {"neck": (x, rate_hz)}


def _shifted(x: np.ndarray) -> np.ndarray:
    turn = np.exp(-2j * np.pi * np.fft.rfftfreq(x.size) * 441.37)
    return np.asarray(np.fft.irfft(np.fft.rfft(x) * turn, x.size))


def _single_files() -> Files:
    quiet, *plucks = _pieces()
    first = {"neck/one": (np.concatenate([quiet, plucks[0]]), RATE_HZ)}
    return first | {f"neck/{k}": (piece, RATE_HZ) for k, piece in enumerate(plucks[1:])}


def _in_other_order() -> Files:
    quiet, *plucks = _pieces()
    return _one(np.concatenate([quiet, *(plucks[k] for k in (2, 0, 3, 1))]))


WAYS: Mapping[str, Callable[[np.ndarray], Files]] = {
    "inverted": lambda x: _one(-x),
    "48 kHz": lambda x: _one(resample_poly(x, 160, 147), 48_000),
    "96 kHz": lambda x: _one(resample_poly(x, 320, 147), 96_000),
    "off zero": lambda x: _one(x + 0.02),
    "part of a sample later": lambda x: _one(_shifted(x)),
    "silence behind": lambda x: _one(np.concatenate([x, np.zeros(2 * RATE_HZ)])),
    "less quiet": lambda x: _one(x[round(0.4 * RATE_HZ) :]),
    "a file a pluck": lambda _x: _single_files(),
    "in other order": lambda _x: _in_other_order(),
}


def _means(folder: Path, files: Files) -> pd.DataFrame:
    for name, (samples, rate_hz) in files.items():
        takes.write(folder / "stock" / f"{name}.wav", samples, rate_hz=rate_hz, subtype="FLOAT")
    plucks = measure_session(load_session(folder)).plucks
    assert len(plucks) == 4
    return plucks.groupby("note")[list(LIMITS)].mean()


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    return _means(tmp_path_factory.mktemp("plain"), _one(takes.take(repeats=2)))


@pytest.mark.parametrize("way", WAYS)
def test_the_same_plucks(plain: pd.DataFrame, tmp_path: Path, way: str) -> None:
    other = _means(tmp_path, WAYS[way](takes.take(repeats=2)))
    assert list(other.index) == list(plain.index)
    for name, limit in LIMITS.items():
        off = other[name] - plain[name] if name == "level_dbfs" else other[name] / plain[name] - 1.0
        assert off.abs().max() < limit, name
