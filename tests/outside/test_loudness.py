"""Loudness match of clips against ITU-R BS.1770 and the calibration of EBU Tech 3341."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.report.sounds.loudness import k_weighted_db

#: Stereo tones of -23 dBFS peak by frequency in LUFS: the filters of BS.1770-4 Tables 1 and 2,
#: evaluated apart from this code. One channel alone reads 3.01 less, and -0.691 is the standard's.
TONES = {
    25: -34.08, 50: -27.63, 100: -24.83, 196: -23.97, 500: -23.65, 1000: -22.99, 2000: -20.62,
    5000: -19.68, 10000: -19.65,
}  # fmt: skip


@pytest.mark.parametrize(("hz", "lufs"), TONES.items())
def test_tones(hz: int, lufs: float) -> None:
    t = np.arange(8 * 48000) / 48000.0
    tone = 10.0 ** (-23.0 / 20.0) * np.sin(2.0 * np.pi * hz * t)
    assert k_weighted_db(tone, 48000.0) - 0.691 == pytest.approx(lufs - 3.0103, abs=0.02)


@pytest.mark.parametrize(
    ("rate_hz", "lufs"), [(44100, -22.991), (48000, -22.993), (96000, -23.011)]
)
def test_calibration_tone_at_other_rates(rate_hz: int, lufs: float) -> None:
    # EBU Tech 3341 case 1: -23 dBFS at 1 kHz in two channels is -23.0 LUFS ± 0.1; the filters that
    # reproduce BS.1770's table at 48 kHz give these values (computed apart from this code).
    t = np.arange(8 * rate_hz) / rate_hz
    tone = 10.0 ** (-23.0 / 20.0) * np.sin(2.0 * np.pi * 1000.0 * t)
    assert k_weighted_db(tone, float(rate_hz)) - 0.691 == pytest.approx(lufs - 3.0103, abs=0.003)
