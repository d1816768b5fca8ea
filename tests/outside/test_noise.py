"""Hiss, weighted noise and the level of a tone in noise, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from pluck_truth import RATE_HZ, signal

from tonecompare.measure.pluck.level_and_attack import measure_level
from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet


@pytest.mark.parametrize("bits", [16, 20])
def test_dithered_silence(bits: int) -> None:
    # A rounding quantiser with triangular dither of two steps errs by q²/4 in mean square, white
    # (Lipshitz, Wannamaker & Vanderkooy, J. Audio Eng. Soc. 40 (1992) 355; from memory): q²/12 of
    # rounding and q²/6 of dither. In dBFS (AES17) 10 lg(2 q²/4); 19980 Hz of the 24000 are counted.
    step = 2.0 ** (1 - bits)
    rng = np.random.default_rng(5)
    dither = rng.uniform(-0.5, 0.5, (2, 8 * 48000)).sum(axis=0)
    found = measure_quiet(step * np.round(dither), rate_hz=RATE_HZ).quantities
    band_dbfs = 10.0 * np.log10(step**2 / 2.0 * 19980.0 / 24000.0)
    assert found["hiss_dbfs"].value == pytest.approx(band_dbfs, abs=0.05)
    # A-weighted less unweighted, white noise 20 Hz-20 kHz: -2.05 dB (integral of the formula).
    assert found["noise_a_dbfs"].value == pytest.approx(band_dbfs - 2.05, abs=0.06)
    assert found["hum_dbfs"].value is None


@pytest.mark.parametrize(
    ("over_db", "correction_db"), [(20.0, 0.04), (10.0, 0.46), (6.0, 1.26), (3.0, 3.02)]
)
def test_the_quiet_is_taken_off_the_level(over_db: float, correction_db: float) -> None:
    # L = 10 lg(10^(L1/10) - 10^(L0/10)) (the correction for background noise of ISO 3744):
    # signal and noise together 20, 10, 6, 3 dB over the noise read 0.04 … 3.02 dB too high.
    t = np.arange(round(1.0 * RATE_HZ)) / RATE_HZ
    tone = 0.1 * np.sin(2.0 * np.pi * 997.0 * t)
    snr_db = over_db - correction_db
    noisy = signal(tone, 997.0, snr_db=snr_db)
    window = slice(round(0.05 * RATE_HZ), round(0.55 * RATE_HZ))
    read_db = 10.0 * np.log10(2.0 * np.mean(noisy.samples[window] ** 2))
    # Mean square of tone and noise over N samples: variance (4 P q + 2 q²)/N; four sigma of it.
    q = 10.0 ** (-snr_db / 10.0)
    within_db = 0.005 + 4.0 * 4.343 * float(np.sqrt((4.0 * q + 2.0 * q * q) / (0.5 * RATE_HZ)))
    assert read_db == pytest.approx(-20.0 + correction_db, abs=within_db)
    found = measure_level(noisy)
    assert found["level_dbfs"].value == pytest.approx(-20.0, abs=within_db)
    assert found["snr_db"].value == pytest.approx(snr_db, abs=within_db)
