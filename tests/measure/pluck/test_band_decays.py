"""Decays of a chord's bands against closed forms, and where the rows say what was played."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.arrays import FloatArray
from tonecompare.measure.pluck.band_decays import measure_band_decays
from tonecompare.measure.signal import PluckSignal
from tonecompare.measure.single_pluck import measure_pluck
from tonecompare.measure.table import MeasuredSubject, Subject
from tonecompare.quantities.octave_bands import BAND_DECAYS
from tonecompare.takes.plucks.passages import event_of

RATE_HZ = 44100.0
#: Tones in the middle of three bands, and the seconds in which each falls by 60 dB.
TONES = {250.0: 6.0, 1000.0: 3.0, 4000.0: 1.2}
#: exp(-sigma t) falls by 60 dB in 3 ln 10 / sigma.
_DECAY = 3.0 * np.log(10.0)


def _chord(*, noise: float = 0.0) -> FloatArray:
    time_s = np.arange(round(4.0 * RATE_HZ)) / RATE_HZ
    sound = sum(
        0.1 * np.exp(-_DECAY / t60_s * time_s) * np.sin(2.0 * np.pi * hz * time_s)
        for hz, t60_s in TONES.items()
    )
    return np.asarray(sound + noise * np.random.default_rng(4).standard_normal(time_s.size))


@pytest.mark.parametrize("noise", [0.0, 1e-5])
def test_each_band_dies_as_the_tone_in_it(noise: float) -> None:
    found = measure_band_decays(PluckSignal(_chord(noise=noise), RATE_HZ, None, None))
    for hz, t60_s in TONES.items():
        measured = found[f"decay_{round(hz):04d}_s"]
        assert measured.value == pytest.approx(t60_s, rel=0.02)
        assert measured.unit == "s"


def test_chords_alone_have_decays_of_bands() -> None:
    chord = PluckSignal(_chord(), RATE_HZ, None, None, is_chord=True)
    assert set(BAND_DECAYS) <= set(measure_pluck(chord).quantities)
    note = PluckSignal(_chord(), RATE_HZ, None, None)
    assert not set(BAND_DECAYS) & set(measure_pluck(note).quantities)


def test_no_decay_is_told_of_a_band_in_which_no_string_sounds() -> None:
    signal = PluckSignal(_chord(), RATE_HZ, None, None, is_chord=True, lowest_hz=246.9)
    found = measure_band_decays(signal)
    assert found["decay_0125_s"].value is None
    assert found["decay_0125_s"].reason == "no partial lies in this band"
    assert found["decay_0250_s"].value == pytest.approx(6.0, rel=0.02)


def test_an_event_says_what_it_is() -> None:
    named = ("E2", "Em7 chord", "riff", "riff B", "")
    assert [event_of(name) for name in named] == ["note", "chord", "riff", "riff", ""]
    told = Subject("plucks", "s", "v", note="Am chord")
    assert MeasuredSubject(told, {}).cells()["event"] == "chord"


def test_a_rate_too_low_for_the_treble_says_so() -> None:
    found = measure_band_decays(PluckSignal(_chord()[::4], RATE_HZ / 4.0, None, None))
    assert found["decay_8000_s"].value is None
    assert "sampling rate" in found["decay_8000_s"].reason
