"""Picking points and pickup position from ideal combs, and a coil resonance from closed form."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.partials import no_partials
from tonecompare.measure.positions import (
    PluckAmplitudes,
    amplitudes_of,
    comb_db,
    find_positions,
)
from tonecompare.measure.resonance import find_resonance, low_pass_db

ORDER = np.arange(1, 25)
OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)


def _plucks(
    picks: list[float],
    pickup: float | None,
    *,
    sounding: float = 1.0,
    scatter_db: float = 0.3,
    seed: int = 1,
) -> list[PluckAmplitudes]:
    """Ideal string: a_n = |sin n pi p| |sin n pi d| / n (nulls filled 40 dB down), low-pass."""
    rng = np.random.default_rng(seed)
    out = []
    for i, pick in enumerate(picks):
        hz = OPEN_HZ[i % 6] * ORDER / sounding
        amplitude = np.hypot(np.sin(np.pi * ORDER * pick), 0.01) / ORDER
        if pickup is not None:
            amplitude *= np.hypot(np.sin(np.pi * ORDER * pickup / sounding), 0.01)
        level = 20.0 * np.log10(amplitude) + low_pass_db(hz, 3500.0, 1.5)
        level += rng.normal(0.0, scatter_db, 24)
        out.append(PluckAmplitudes(level, np.full(24, 0.1), hz, sounding))
    return out


PICKS = [0.15, 0.2, 0.17, 0.23, 0.19, 0.16, 0.21, 0.18, 0.22, 0.2, 0.17, 0.19]


@pytest.mark.parametrize("pickup", [0.07, 0.14, 0.25])
def test_both_combs_come_back(pickup: float) -> None:
    found = find_positions(_plucks(PICKS, pickup))
    assert found.pickup_point == pytest.approx(pickup, abs=0.003)
    assert found.pluck_point == pytest.approx(np.array(PICKS), abs=0.004)
    assert np.all(found.pluck_point_sd < 0.01)


def test_known_pickup_is_used_as_it_is() -> None:
    found = find_positions(_plucks(PICKS[:2], 0.1), pickup_point=0.1)
    assert found.pickup_point == pytest.approx(0.1, abs=0.003)
    assert found.pluck_point == pytest.approx(np.array(PICKS[:2]), abs=0.006)


def test_piezo_has_no_comb_of_its_own() -> None:
    found = find_positions(_plucks(PICKS, None), comb=False)
    assert found.pickup_point is None
    assert found.pluck_point == pytest.approx(np.array(PICKS), abs=0.004)


def test_one_pluck_cannot_tell_the_combs_apart() -> None:
    found = find_positions(_plucks([0.2], 0.1))
    assert found.pickup_point is None
    assert np.isnan(found.pluck_point).all()
    assert found.reason == "the takes cannot tell the pickup's comb from the pick's"


def test_no_partials_no_position() -> None:
    nothing = amplitudes_of(no_partials("no pitch was found"), sounding=None)
    found = find_positions([nothing] * 5)
    assert found.reason == "too few partials stand above the noise"
    assert np.isnan(found.pluck_point).all()


def test_comb_has_the_printed_levels() -> None:
    # d/L = 1/4: -3.01, 0, -3.01 dB and a null at the fourth partial (closed form).
    level = comb_db(np.array(0.25))
    assert level[:3] == pytest.approx([-3.01, 0.0, -3.01], abs=0.03)
    assert level[3] < -25.0


@pytest.mark.parametrize(("resonance_hz", "q"), [(2800.0, 2.0), (4000.0, 1.5)])
def test_resonance_of_a_second_order_low_pass(resonance_hz: float, q: float) -> None:
    # |1/(1 - (f/f_r)² + i f/(Q f_r))| at f_r is Q (closed form).
    assert low_pass_db(np.array([resonance_hz]), resonance_hz, q)[0] == pytest.approx(
        20.0 * np.log10(q), abs=1e-9
    )
    rng = np.random.default_rng(2)
    hz = np.array([f * ORDER for f in OPEN_HZ * 4])
    level = low_pass_db(hz, resonance_hz, q) + rng.normal(0.0, 0.5, hz.shape)
    found = find_resonance(hz, level)
    assert found.frequency_hz.value == pytest.approx(resonance_hz, rel=0.05)
    assert found.q.value == pytest.approx(q, rel=0.3)


def test_flat_response_has_no_resonance() -> None:
    rng = np.random.default_rng(3)
    hz = np.array([f * ORDER for f in OPEN_HZ * 4])
    found = find_resonance(hz, rng.normal(0.0, 1.0, hz.shape))
    assert found.frequency_hz.value is None
    assert found.frequency_hz.reason.startswith("not determinable")


def test_too_few_points() -> None:
    found = find_resonance(np.full((1, 24), np.nan), np.full((1, 24), np.nan))
    assert found.frequency_hz.reason == "not determinable: too few partials of too few notes"
