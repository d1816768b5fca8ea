"""A small count of the riffs; ``python tests/calibration/riff_rates.py`` counts them in full."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal
from riff_rates import HANDS, riffs, shelved, strum


def test_one_riff_with_each_change() -> None:
    kinds = ("null", "treble", "hum", "other")
    found = riffs(903, HANDS["0.3"], kinds=kinds)
    assert found == {"null": False, "treble": True, "hum": True, "other": True}


@pytest.mark.long
def test_a_riff_played_hard_tells_the_hand_from_the_pickup() -> None:
    found = riffs(904, HANDS["0.7"], on="stretching", kinds=("harder", "level", "oracle"))
    assert found == {"harder": False, "level": True, "oracle": True}


def test_strums_are_named_by_their_notes() -> None:
    assert sum(strum(seed) for seed in range(5000, 5012)) >= 11


def test_the_shelf_raises_treble_alone() -> None:
    pulse = np.zeros((1, 44_100))
    pulse[0, 0] = 1.0
    asked_hz = [50.0, 1000.0, 5000.0]
    hz, response = scipy.signal.freqz(shelved(pulse, 2.0)[0], worN=asked_hz, fs=44_100.0)
    level_db = 20.0 * np.log10(np.abs(response))
    # (s A + w)/(s + w): |H|² = (A² x² + 1)/(x² + 1), x = f over 1 kHz.
    ratio = hz / 1000.0
    known = 10.0 * np.log10((10.0 ** (2.0 / 10.0) * ratio**2 + 1.0) / (ratio**2 + 1.0))
    assert level_db == pytest.approx(known, abs=0.05)
