"""The A curve against the printed table, librosa, and the mains lines' values."""

from __future__ import annotations

import librosa
import numpy as np
import pytest
from numpy.typing import ArrayLike

from tonecompare.measure.quiet.a_weighting import a_weighting_gain

# IEC 61672-1:2013 Table 3, A column, nominal 10 Hz … 20 kHz in third octaves (from transcriptions
# of the standard; the standard itself was not opened).
TABLE_DB = [
    -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1,
    -13.4, -10.9, -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5,
    -0.1, -1.1, -2.5, -4.3, -6.6, -9.3,
]  # fmt: skip

# Worked from the standard's formula apart from this code.
MAINS_DB = {
    50: -30.27, 60: -27.05, 100: -19.14, 120: -16.71, 150: -13.98, 180: -11.95, 200: -10.85,
    240: -9.06, 250: -8.67, 300: -7.05, 350: -5.79, 360: -5.57, 450: -3.94, 550: -2.66, 1000: 0.0,
}  # fmt: skip


def a_weighting_db(frequency_hz: ArrayLike) -> np.ndarray:
    with np.errstate(divide="ignore"):
        return np.asarray(20.0 * np.log10(a_weighting_gain(frequency_hz)))


def exact_frequency_hz(band_number: int | np.ndarray) -> np.ndarray:
    """Exact base-10 frequency of a third-octave band; n = 10 is "10 Hz", n = 30 is 1 kHz."""
    return np.asarray(1000.0 * 10.0 ** (0.1 * (np.asarray(band_number) - 30.0)))


def test_table_of_the_standard() -> None:
    # The table is rounded to 0.1 dB: half of that is all the difference allowed.
    assert np.abs(a_weighting_db(exact_frequency_hz(np.arange(10, 44))) - TABLE_DB).max() <= 0.05


def test_exact_frequencies_not_nominal_ones() -> None:
    assert exact_frequency_hz(12) == pytest.approx(15.8489, abs=1e-4)
    assert a_weighting_db(16.0) == pytest.approx(-56.42, abs=0.005)
    assert a_weighting_db(exact_frequency_hz(12)) == pytest.approx(-56.69, abs=0.005)


def test_librosa_agrees() -> None:
    hz = np.geomspace(10.0, 40000.0, 500)
    theirs = librosa.A_weighting(hz, min_db=None)
    # librosa adds 2.000 dB where the exact normalisation is 1.99966.
    assert np.abs(a_weighting_db(hz) - theirs).max() <= 0.001


@pytest.mark.parametrize(("line_hz", "expected_db"), MAINS_DB.items())
def test_mains_lines(line_hz: float, expected_db: float) -> None:
    assert a_weighting_db(line_hz) == pytest.approx(expected_db, abs=0.0051)


def test_white_noise_20_to_20k() -> None:
    # A-weighted minus unweighted level of white noise: -2.05 dB (integral of the formula).
    hz = np.linspace(20.0, 20000.0, 200001)
    assert 10 * np.log10(np.mean(a_weighting_gain(hz) ** 2)) == pytest.approx(-2.05, abs=0.01)


def test_gain_is_zero_at_zero_and_one_at_1_khz() -> None:
    assert a_weighting_gain(0.0) == 0.0
    assert a_weighting_db(0.0) == -np.inf
    assert a_weighting_gain(1000.0) == pytest.approx(1.0, abs=1e-12)
