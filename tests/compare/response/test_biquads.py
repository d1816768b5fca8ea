"""Bells and shelves against their closed forms and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import sosfreqz

from tonecompare.compare.model import EqualiserBand
from tonecompare.compare.response.biquads import gain_db, impulse_response, section
from tonecompare.errors import InputError

RATE_HZ = 48000.0
BELL = EqualiserBand("peak", 1000.0, 6.0, 1.5)
LOW = EqualiserBand("low-shelf", 200.0, -4.0, float(np.sqrt(0.5)))
HIGH = EqualiserBand("high-shelf", 5000.0, 5.0, float(np.sqrt(0.5)))


def _gain(band: EqualiserBand, hz: float) -> float:
    return float(gain_db([band], np.array([hz]), rate_hz=RATE_HZ)[0])


def test_bell_has_its_gain_at_its_centre_and_none_far_away() -> None:
    assert _gain(BELL, 1000.0) == pytest.approx(6.0, abs=1e-9)
    assert _gain(BELL, 1e-3) == pytest.approx(0.0, abs=1e-6)
    assert _gain(BELL, 23999.9) == pytest.approx(0.0, abs=1e-6)
    # Half the gain (in dB) where the analogue prototype has it: |f/f0 - f0/f| = 1/Q.
    half = EqualiserBand("peak", 500.0, 6.0, 2.0)
    edge = 500.0 * (0.25 + np.sqrt(0.25**2 + 1.0))
    assert _gain(half, edge) == pytest.approx(3.0, abs=0.02)


@pytest.mark.parametrize(("band", "low", "high"), [(LOW, -4.0, 0.0), (HIGH, 0.0, 5.0)])
def test_shelves_have_their_gain_on_one_side_and_half_at_the_corner(
    band: EqualiserBand, low: float, high: float
) -> None:
    assert _gain(band, 1.0) == pytest.approx(low, abs=1e-3)
    assert _gain(band, 23990.0) == pytest.approx(high, abs=1e-3)
    assert _gain(band, band.frequency_hz) == pytest.approx((low + high) / 2.0, abs=1e-6)


def test_a_bell_and_its_opposite_cancel() -> None:
    opposite = EqualiserBand("peak", 1000.0, -6.0, 1.5)
    hz = np.geomspace(20.0, 20000.0, 50)
    assert gain_db([BELL, opposite], hz, rate_hz=RATE_HZ) == pytest.approx(0.0, abs=1e-9)


def test_gain_is_scipys_and_the_sections_are_minimum_phase() -> None:
    bands = [BELL, LOW, HIGH]
    sections = np.stack([section(band, rate_hz=RATE_HZ) for band in bands])
    hz = np.geomspace(20.0, 20000.0, 64)
    _, response = sosfreqz(sections, worN=hz, fs=RATE_HZ)
    assert gain_db(bands, hz, rate_hz=RATE_HZ) == pytest.approx(
        20.0 * np.log10(np.abs(response)), abs=1e-9
    )
    for b0, b1, b2, a0, a1, a2 in sections:
        assert np.abs(np.roots([b0, b1, b2])).max() < 1.0
        assert np.abs(np.roots([a0, a1, a2])).max() < 1.0


def test_impulse_response_has_the_spectrum_of_the_sections() -> None:
    response = impulse_response([BELL, HIGH], overall_gain_db=-2.0, rate_hz=RATE_HZ, n=8192)
    spectrum = 20.0 * np.log10(np.abs(np.fft.rfft(response)))
    hz = np.fft.rfftfreq(8192, 1.0 / RATE_HZ)
    expected = gain_db([BELL, HIGH], hz, rate_hz=RATE_HZ) - 2.0
    assert spectrum == pytest.approx(expected, abs=1e-6)
    flat = impulse_response([], overall_gain_db=6.0, rate_hz=RATE_HZ, n=4)
    assert flat == pytest.approx([1.99526, 0.0, 0.0, 0.0], abs=1e-5)


def test_unusable_bands() -> None:
    with pytest.raises(InputError, match="did you give kHz"):
        section(EqualiserBand("peak", 30000.0, 1.0, 1.0), rate_hz=RATE_HZ)
    with pytest.raises(InputError, match="kind='notch' is no filter section"):
        section(EqualiserBand("notch", 300.0, 1.0, 1.0), rate_hz=RATE_HZ)
