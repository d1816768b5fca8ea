"""Hum that comes and goes widens its own uncertainty."""

from __future__ import annotations

import numpy as np
import pytest
from quiet_wander import KINDS, RATE_HZ, Kind, rates, render

from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet
from tonecompare.measure.quiet.wander import added_variance


def _first_order(rng: np.random.Generator, *, runs: int, m: int, keeps: float) -> np.ndarray:
    """Gaussian blocks (runs, m) of variance 1, each keeping a share of the one before."""
    x = rng.standard_normal((runs, m))
    for i in range(1, m):
        x[:, i] = keeps * x[:, i - 1] + np.sqrt(1.0 - keeps**2) * x[:, i]
    return x


@pytest.mark.parametrize("keeps", [0.2, 0.6, 0.8])
def test_the_added_variance_covers_whatever_the_autocorrelation(keeps: float) -> None:
    # The blocks' true mean is 0 by construction; the steady part is set to a thousandth.
    blocks = _first_order(np.random.default_rng(7), runs=4000, m=40, keeps=keeps)
    sd = np.sqrt(added_variance(blocks, np.full(4000, 1e-3 / 40.0)))
    mean = blocks.mean(axis=1)
    difference, se = mean[::2] - mean[1::2], np.hypot(sd[::2], sd[1::2])
    assert np.mean(np.abs(difference) < 1.96 * se) == pytest.approx(0.95, abs=0.025)


def test_a_steady_level_gets_nothing_added() -> None:
    blocks = np.random.default_rng(8).standard_normal((1000, 40))
    added = added_variance(blocks, np.full(1000, 1.0 / 40.0))
    assert np.mean(added > 0.0) < 0.03


def test_hum_that_swells_is_less_sure_than_steady_hum() -> None:
    steady, swells = (
        measure_quiet(render(kind, -60.0, np.random.default_rng(3)), rate_hz=RATE_HZ)
        for kind in (KINDS[0], KINDS[2])
    )
    for column in ("hum_dbfs", "hum_01_dbfs", "hum_03_dbfs", "noise_a_dbfs"):
        sure, unsure = steady.quantities[column], swells.quantities[column]
        assert sure.uncertainty is not None
        assert unsure.uncertainty is not None
        assert sure.uncertainty < 0.05
        assert unsure.uncertainty > 4.0 * sure.uncertainty
    assert (swells.quantities["hiss_dbfs"].uncertainty or 9.0) < 0.1


@pytest.mark.long
@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_the_interval_of_a_hum_difference_holds(kind: Kind) -> None:
    found = rates(kind, pairs=60, seed=11)
    assert found.covered >= 0.88
    assert found.claimed <= 0.06
    # Lines that wander by 1.5 dB each leave 3 dB in doubt, rightly.
    assert found.found_3_db >= (0.3 if kind.apart else 0.95)
