"""dBFS by AES17: a full-scale sine is 0 dBFS RMS, a full-scale square +3.01 dBFS."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.pluck.level_and_attack import measure_level
from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet
from tonecompare.measure.signal import PluckSignal
from tonecompare.units import dbfs_to_mean_square, mean_square_to_dbfs

RATE_HZ = 48000.0
_T = np.arange(48000) / RATE_HZ


@pytest.mark.parametrize(
    ("x", "dbfs"),
    [
        (np.sin(2.0 * np.pi * 997.0 * _T), 0.0),
        (np.sign(np.sin(2.0 * np.pi * 1000.0 * _T + 0.01)), 3.0103),
        (0.001 * np.sin(2.0 * np.pi * 997.0 * _T), -60.0),
    ],
)
def test_level(x: np.ndarray, dbfs: float) -> None:
    found = measure_level(PluckSignal(x, RATE_HZ, None, None))["level_dbfs"]
    assert found.value == pytest.approx(dbfs, abs=2e-3)


def test_conversions() -> None:
    assert mean_square_to_dbfs(0.5) == pytest.approx(0.0, abs=1e-12)
    assert dbfs_to_mean_square(3.0102999566) == pytest.approx(1.0, rel=1e-9)


def test_hum_of_known_level_reads_in_the_same_scale() -> None:
    # AES17 again: a 50 Hz sine of amplitude 0.001 is -60 dBFS, whatever band it is summed in.
    rng = np.random.default_rng(1)
    t = np.arange(2 * 48000) / RATE_HZ
    x = 0.001 * np.sin(2.0 * np.pi * 50.0 * t) + 1e-6 * rng.standard_normal(t.size)
    found = measure_quiet(x, rate_hz=RATE_HZ).quantities["hum_dbfs"]
    assert found.value == pytest.approx(-60.0, abs=0.02)
