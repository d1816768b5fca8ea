"""Hands on and off the strings; how well two coils cancel."""

from __future__ import annotations

import numpy as np
import pytest
from quiet_truth import falling_hum, white

from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult, measure_quiet
from tonecompare.measure.quiet.two_quiets import coil_mismatch_from_residual, hum_hands

RATE_HZ = 48000.0
N = 96000


def _quiet(hum_dbfs: float | None, seed: int, hiss_dbfs: float = -110.0) -> QuietResult:
    rng = np.random.default_rng(seed)
    x = white(hiss_dbfs, rng, n=N, rate_hz=RATE_HZ)
    if hum_dbfs is not None:
        x += falling_hum(hum_dbfs, rng, mains_hz=50.0, n=N, rate_hz=RATE_HZ)
    return measure_quiet(x, rate_hz=RATE_HZ)


# |a - b| over the mean and the residual re one coil: 6.02 dB over 20 lg(|a - b|/(a + b)) (algebra,
# worked apart from this code).
MISMATCH = [(1.0, -40.0), (5.0, -26.0), (10.0, -20.0)]


@pytest.mark.parametrize(("percent", "re_one_db"), MISMATCH)
def test_mismatch_from_the_residual(percent: float, re_one_db: float) -> None:
    found = coil_mismatch_from_residual(_quiet(-50.0 + re_one_db, 1), _quiet(-50.0, 2))
    assert found.residual_db.value == pytest.approx(re_one_db, abs=0.1)
    assert found.mismatch.value == pytest.approx(percent, rel=0.02)
    assert found.mismatch.uncertainty is not None


def test_mismatch_uncertainty_covers_not_knowing_which_coil_is_on() -> None:
    # a = 1, b = 0.9: mismatch over the mean 10.53 %; the split coil may be either.
    for one in (1.0, 0.9):
        split = _quiet(-50.0 + 20.0 * np.log10(one), 3)
        found = coil_mismatch_from_residual(_quiet(-70.0, 4), split).mismatch
        assert found.value is not None
        assert found.uncertainty is not None
        assert abs(found.value - 100.0 * 0.1 / 0.95) < 1.3 * found.uncertainty


def test_mismatch_that_cannot_be_told() -> None:
    hidden = coil_mismatch_from_residual(_quiet(None, 5), _quiet(-60.0, 6))
    assert hidden.mismatch.value is None
    assert "whole pickup's hum does not stand above the floor" in hidden.mismatch.reason
    nothing = coil_mismatch_from_residual(_quiet(-60.0, 5), _quiet(None, 6))
    assert "split voice shows no hum" in nothing.mismatch.reason


def test_hands_on_minus_hands_off() -> None:
    found = hum_hands(_quiet(-72.0, 7), _quiet(-60.0, 8))
    assert found["hum_dbfs"].value == pytest.approx(-12.0, abs=0.05)
    assert found["hum_01_dbfs"].value == pytest.approx(-12.0, abs=0.05)
    assert found["hiss_dbfs"].value == pytest.approx(0.0, abs=0.2)
    assert found["hum_dbfs"].unit == "dB"
    silent = hum_hands(_quiet(None, 9), _quiet(-60.0, 8))
    assert silent["hum_dbfs"].value is None
    assert "no mains family" in silent["hum_dbfs"].reason
