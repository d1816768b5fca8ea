"""Channels that carry each other's output, told by the comb that only a pickup has."""

from __future__ import annotations

from pathlib import Path

import check_takes as takes
import numpy as np
import pandas as pd
import pytest

from tonecompare import strings as st
from tonecompare.compare.bench.exchanged_channels import outputs_swapped
from tonecompare.compare.bench.signs import bench_signs
from tonecompare.measure import measure_session
from tonecompare.quantities.registry import PARTIAL_LEVELS
from tonecompare.session import load_session
from tonecompare.session.model import STANDARD_TUNING

#: Open strings in Hz (12-TET, A4 = 440).
OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)
N = np.arange(1, 25)


def _plucks(
    pickup: float | None, *, seed: int, scatter_db: float = 1.0, fret: int = 0, strings: int = 6
) -> pd.DataFrame:
    """Three plucks of each string on both outputs, apart from the program's own string model.

    Velocity at the pickup over force at the bridge is ``sin(n pi d/L)`` in size (travelling waves);
    both have the pick's ``sin(n pi p)/n``, a coil's low-pass at 3.2 kHz the one, a high-pass at
    159 Hz (1 nF into 1 MΩ) the other. No pickup: two outputs without comb between them.
    """
    rng = np.random.default_rng(seed)
    sounding = 2.0 ** (-fret / 12.0)
    rows = []
    for index in range(strings):
        hz = N * OPEN_HZ[index] / sounding
        note = _NOTES[fret][index]
        for number in range(1, 4):
            pick = 0.17 + 0.004 * rng.standard_normal()
            piezo = np.abs(np.sin(np.pi * N * pick)) / N + 1e-3
            magnetic = piezo.copy()
            if pickup is not None:
                magnetic *= np.abs(np.sin(np.pi * N * pickup / sounding)) + 0.02
            magnetic /= np.abs(1.0 - (hz / 3200.0) ** 2 + 1j * hz / 3200.0 / 1.4)
            piezo = piezo / np.hypot(1.0, 159.0 / hz)
            for output, amplitude in (("magnetic", magnetic), ("piezo", piezo)):
                level = 20.0 * np.log10(amplitude) + scatter_db * rng.standard_normal(24)
                level -= 10.0 * np.log10(np.sum(10.0 ** (level / 10.0)))
                rows.append(
                    {"output": output, "note": note, "string": 6 - index, "file": "both.wav",
                     "pluck": 3 * index + number, "f0_hz": hz[0]}
                    | dict(zip(PARTIAL_LEVELS, level, strict=True))
                )  # fmt: skip
    return pd.DataFrame(rows)


_NOTES = {0: STANDARD_TUNING, 12: ("E3", "A3", "D4", "G4", "B4", "E5")}
_OTHER = {"magnetic": "piezo", "piezo": "magnetic"}


@pytest.mark.parametrize("pickup", [0.06, 0.07, 0.13, 0.18, 0.22, 0.3])
@pytest.mark.parametrize("fret", [0, 12])
def test_the_comb_stands_on_the_magnetic_output(pickup: float, fret: int) -> None:
    for seed in range(5):
        plucks = _plucks(pickup, seed=seed, fret=fret)
        found = outputs_swapped(plucks, STANDARD_TUNING)
        assert found is False
        exchanged = plucks.assign(output=plucks["output"].map(_OTHER))
        found = outputs_swapped(exchanged, STANDARD_TUNING)
        assert found is True


def test_outputs_without_a_comb_between_them_tell_nothing() -> None:
    for seed in range(40):
        found = outputs_swapped(_plucks(None, seed=seed, scatter_db=2.0), STANDARD_TUNING)
        assert found is None


def test_two_strings_are_too_few() -> None:
    assert outputs_swapped(_plucks(0.2, seed=1, strings=2), STANDARD_TUNING) is None


def test_notes_whose_string_is_not_known_do_not_count() -> None:
    plucks = _plucks(0.2, seed=1)
    assert outputs_swapped(plucks.assign(string=np.nan), STANDARD_TUNING) is None
    blank = plucks.assign(string=pd.array([pd.NA] * len(plucks), dtype="Int64"))
    assert outputs_swapped(blank, STANDARD_TUNING) is None
    assert outputs_swapped(plucks[plucks["output"] == "piezo"], STANDARD_TUNING) is None


def _two_channels() -> np.ndarray:
    """Four open strings once each through the string model, shape (2, n): magnetic, piezo."""
    rng = np.random.default_rng(4)
    plucks = st.plucks_in_turn(
        [(string, 0) for string in (6, 5, 4, 3)],
        start_s=1.0,
        spacing_s=1.6,
        repeats=1,
        damp_before_s=0.12,
        like=st.PluckSpec(0.0, 1, position_mm=115.0, decay_factor=0.3),
    )
    channels = (
        st.Channel("magnetic", st.humbucker(45.0)),
        st.Channel("piezo", None, st.Piezo(), ratio=1.0, delay_us=350.0, polarity=-1),
    )
    rendered = st.render_recording(
        st.standard_instrument(), st.VoiceSpec("both", channels), plucks, rng=rng,
        rate_hz=takes.RATE_HZ, noise=st.NoiseSpec(mains_hz=50.0, line_dbfs=(-75.0,), hiss_dbfs=-80),
        subtype="FLOAT",
    )  # fmt: skip
    return rendered.samples


@pytest.mark.long
def test_exchanged_channels_are_told_by_check_and_at_the_bench(tmp_path: Path) -> None:
    samples = _two_channels()
    for folder, pair in (("right", samples), ("exchanged", samples[::-1])):
        takes.write(tmp_path / folder / "stock" / "both.wav", pair)
        told = [f for f in takes.faults(tmp_path / folder) if f.kind == "outputs exchanged"]
        loaded = load_session(tmp_path / folder)
        signs = bench_signs(loaded, measure_session(loaded))
        shown = [sign for sign in signs if sign.kind == "outputs"]
        if folder == "right":
            assert told == shown == []
        else:
            assert [(f.stage, f.voice, f.severity) for f in told] == [("stock", "both", "doubt")]
            assert [(s.stage, s.voice, s.data) for s in shown] == [("stock", "both", ())]
