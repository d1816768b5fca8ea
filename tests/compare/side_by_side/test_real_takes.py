"""Real takes that stand for two voices: against RMS of the samples, and halves of one voice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import tonecompare as tc
from tonecompare.compare.side_by_side import side_by_side
from tonecompare.session.given import session_of_given

_NOTES = ("e3", "a3", "c4", "e5")


def _takes(recordings: Path, guitar: str, repeats: tuple[int, ...]) -> list[Path]:
    folder = recordings / "two-guitars" / guitar / "ord"
    return [folder / f"twang_{note}_f_rr{n}.flac" for note in _NOTES for n in repeats]


def _voices_of(folder: Path, voices: dict[str, list[Path]]):
    for name, takes in voices.items():
        (folder / name).mkdir(parents=True)
        for take in takes:
            (folder / name / take.name).symlink_to(take)
    session = session_of_given([folder])
    (stage,) = side_by_side(session, tc.measure_session(session))
    return stage


def _level_db(take: Path) -> float:
    """RMS of half a second from 50 ms after the loudest rise, found by hand."""
    samples, rate = sf.read(take)
    mono = samples if samples.ndim == 1 else samples[:, 0]
    frames = np.abs(mono[: mono.size // 64 * 64]).reshape(-1, 64).max(axis=1)
    start = int(np.argmax(frames > 0.1 * frames.max())) * 64
    part = mono[start + round(0.05 * rate) : start + round(0.55 * rate)]
    return float(10 * np.log10(np.mean(part**2)))


@pytest.mark.slow
def test_two_guitars_as_two_voices_differ_by_the_rms_of_their_samples(recordings, tmp_path):
    every = {g: _takes(recordings, g, (1, 2, 3, 4)) for g in ("green", "black")}
    stage = _voices_of(tmp_path / "pair", every)
    (pair,) = stage.against_loudest
    by_note = {
        g: np.array([_level_db(take) for take in takes]).reshape(len(_NOTES), 4).mean(axis=1)
        for g, takes in every.items()
    }
    each = by_note[pair.sound.voice] - by_note[pair.against.voice]
    cell = pair.cells["level_dbfs"]
    assert cell.n_notes == len(_NOTES)
    assert cell.difference == pytest.approx(each.mean(), abs=0.4)
    # t of three degrees of freedom at 95 % (tables: 3.182).
    half = 3.182 * each.std(ddof=1) / 2
    assert (cell.ci_high - cell.ci_low) / 2 == pytest.approx(half, rel=0.25)


@pytest.mark.slow
@pytest.mark.parametrize("guitar", ["green", "black"])
def test_two_halves_of_one_voice_are_not_called_apart(recordings, tmp_path, guitar):
    halves = {
        "first": _takes(recordings, guitar, (1, 3)),
        "second": _takes(recordings, guitar, (2, 4)),
    }
    stage = _voices_of(tmp_path / "halves", halves)
    assert stage.farthest is None
    (pair,) = stage.against_loudest
    low, high = pair.cells["level_dbfs"].ends
    assert low < 0.0 < high
