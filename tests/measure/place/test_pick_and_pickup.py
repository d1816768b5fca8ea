"""Picking points and pickup position from ideal combs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from positions_truth import low_pass_db

from tonecompare.measure.partials.partial_set import no_partials
from tonecompare.measure.place.joint_fit import fit_joint
from tonecompare.measure.place.pick_and_pickup import (
    PluckAmplitudes,
    _opened,
    amplitudes_of,
    find_positions,
)
from tonecompare.measure.place.pick_candidates import find_dips

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


@pytest.mark.parametrize(("pickup", "fill_db"), [(0.07, -10.0), (0.14, -14.0), (0.25, -10.0)])
def test_nulls_that_a_bent_pickup_fills_lead_no_place_astray(pickup: float, fill_db: float) -> None:
    # sin² + fill for both combs: the closed form of a voice whose deepest nulls are filled.
    rng = np.random.default_rng(5)
    fill = 10.0 ** (fill_db / 10.0)
    picks = np.repeat([0.15, 0.2, 0.17, 0.23, 0.19, 0.16], 3) + 0.005 * rng.standard_normal(18)
    plucks = []
    for i, pick in enumerate(picks):
        hz = OPEN_HZ[i // 3] * ORDER
        level = sum(10.0 * np.log10(np.sin(np.pi * ORDER * x) ** 2 + fill) for x in (pick, pickup))
        level = level - 20.0 * np.log10(ORDER) + low_pass_db(hz, 3500.0, 1.5)
        level += rng.normal(0.0, 0.5, 24)
        plucks.append(PluckAmplitudes(level, np.full(24, 0.1), hz, 1.0))
    found = find_positions(plucks)
    assert found.pickup_point == pytest.approx(pickup, abs=0.003)
    error = np.abs(found.pluck_point - picks)
    assert np.isfinite(error).sum() >= 12
    assert np.nanmax(error) < 0.008
    assert np.nanmean(error < 1.96 * found.pluck_point_sd) > 0.9


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


def test_picks_that_stand_still_leave_open_which_comb_is_which() -> None:
    found = find_positions(_plucks([0.2] * 12, 0.1))
    assert found.pickup_point is None
    assert found.reason == "the takes cannot tell the pickup's comb from the pick's"


def test_a_place_with_a_rival_is_open_and_says_between_which() -> None:
    plucks = _plucks(PICKS, 0.14)
    # Seven partials known to 5 dB: several places explain them.
    few = plucks[4]
    level = np.full(24, np.nan)
    level[[0, 1, 2, 3, 8, 9, 10]] = few.level_db[[0, 1, 2, 3, 8, 9, 10]]
    plucks[4] = PluckAmplitudes(level, np.full(24, 5.0), few.frequency_hz, 1.0)
    found = find_positions(plucks)
    assert np.isnan(found.pluck_point[4])
    assert np.isfinite(np.delete(found.pluck_point, 4)).all()
    assert found.rival_probability[4] > 0.02
    assert abs(found.likely[4] - found.rival[4]) > 0.01


def test_a_place_beyond_the_middle_counts_from_the_nearer_end() -> None:
    # Picked at about 0.21 of the scale throughout; at fret 19 that is 0.63 of what sounds.
    sounding = 2.0 ** (-19.0 / 12.0)
    far = [0.2, 0.21, 0.22, 0.23]
    near = _plucks(PICKS, 0.1)
    high = _plucks([pick / sounding for pick in far], 0.1, sounding=sounding, seed=2)
    found = find_positions([*near, *high])
    assert found.pluck_point[12:] == pytest.approx(1.0 - np.array(far) / sounding, abs=0.01)
    assert found.beyond.tolist() == [False] * 12 + [True] * 4


def test_unlike_strings_that_follow_no_comb_widen_what_is_stated() -> None:
    def scattered(db: float) -> list[PluckAmplitudes]:
        rng = np.random.default_rng(5)
        shared = rng.normal(0.0, db, (6, 24))  # the same in every repeat of a string
        return [
            PluckAmplitudes(p.level_db + shared[i % 6], p.level_sd_db, p.frequency_hz, 1.0)
            for i, p in enumerate(_plucks(PICKS * 2, 0.14))
        ]

    clean, wild = find_positions(scattered(0.0)), find_positions(scattered(2.0))
    assert clean.joint is not None
    assert wild.joint is not None
    # 2 dB of 2.02 are shared by the four repeats of a string: nearly one strike instead of four.
    assert 2.0 < wild.joint.repeat < 4.01
    assert clean.joint.repeat < 1.5
    assert wild.pickup_point == pytest.approx(0.14, abs=0.005)
    assert wild.joint.covariance[0, 0] > 9.0 * clean.joint.covariance[0, 0]
    assert np.nanmedian(wild.pluck_point_sd) > 2.0 * np.nanmedian(clean.pluck_point_sd)


def test_a_place_read_from_a_ruler_holds_against_one_pluck() -> None:
    # The levels alone say 0.112 ± 0.0015; a ruler that says 0.1 is good for 1.5 mm of 648.
    for seed in range(3):
        found = find_positions(_plucks([0.2], 0.112, scatter_db=3.0, seed=seed), pickup_point=0.1)
        assert found.pickup_point == pytest.approx(0.1, abs=0.0046)


def test_one_odd_pluck_states_more_than_its_neighbours() -> None:
    plucks = _plucks(PICKS, 0.14)
    odd = np.random.default_rng(4).normal(0.0, 3.0, 24)
    plucks[6] = PluckAmplitudes(
        plucks[6].level_db + odd, plucks[6].level_sd_db, plucks[6].frequency_hz, 1.0
    )
    found = find_positions(plucks)
    others = float(np.nanmedian(np.delete(found.pluck_point_sd, 6)))
    assert not found.pluck_point_sd[6] < 2.0 * others


def test_a_joint_fit_says_whether_it_came_to_rest_and_what_it_took() -> None:
    # Ideal points have no width: the fit holds it at its bound, which is rest too.
    found = find_positions(_plucks(PICKS, 0.14))
    whole = found.joint
    assert whole is not None
    assert whole.converged
    assert 0 < whole.iterations <= 12
    away = np.clip(whole.picks + 0.02, 0.0, 0.5)
    short = fit_joint(found.data, whole.shape, away, rounds=2)
    assert (short.converged, short.iterations) == (False, 2)
    assert short.cost > whole.cost


def test_picks_of_a_voice_crowd_about_one_place() -> None:
    # Eight partials known to 3 dB explain several places; where the others were picked helps.
    right = {True: 0, False: 0}
    kept = [0, 1, 2, 3, 8, 9, 10, 11]
    for seed in range(16):
        plucks = _plucks(PICKS, 0.14, seed=seed)
        level = np.full(24, np.nan)
        noise = np.random.default_rng(seed).normal(0.0, 3.0, 24)
        level[kept] = (plucks[4].level_db + noise)[kept]
        plucks[4] = PluckAmplitudes(level, np.full(24, 3.0), plucks[4].frequency_hz, 1.0)
        found = find_positions(plucks)
        assert found.joint is not None
        for crowd in right:
            place = find_dips(found.data, found.joint, crowd=crowd).place[4, 0]
            right[crowd] += bool(abs(place - 0.19) < 0.08)
    assert right[True] >= 12
    assert right[True] > right[False]


def test_strength_is_the_pluck_s_own_whatever_place_and_fret() -> None:
    plucks = [*_plucks(PICKS, 0.14), *_plucks(PICKS, 0.14, sounding=0.5, seed=2)]
    louder = plucks[7]
    plucks[7] = replace(louder, level_db=louder.level_db + 6.0)
    gain = find_positions(plucks).gain_db
    assert gain[7] - np.median(gain) == pytest.approx(6.0, abs=1.0)
    assert np.std(np.delete(gain, 7)) < 0.7


def test_another_fit_as_good_opens_what_it_has_elsewhere() -> None:
    found = find_positions(_plucks(PICKS, 0.14))
    assert found.joint is not None
    moved = found.joint.picks.copy()
    moved[3] = 0.05
    opened = _opened(found, found.data, found.joint, replace(found.joint, picks=moved))
    assert np.isnan(opened.pluck_point).tolist() == [k == 3 for k in range(12)]
    assert opened.rival[3] == 0.05
    assert opened.rival_probability[3] == pytest.approx(0.5)
