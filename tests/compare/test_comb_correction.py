"""The comb of the picking place, and plucks moved to one place."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.comb_correction import (
    NULL_POWER,
    at_one_place,
    comb_db,
    comb_error,
    comb_slope_db,
    release_level_db,
    steepness,
)
from tonecompare.quantities.registry import PARTIAL_LEVELS


def _plucks(places: list[float], *, note: str = "E2") -> pd.DataFrame:
    """Plucks of an ideal string, partials |sin(n pi p)|/n, null power filled in."""
    order = np.arange(1, 25)
    rows = []
    for p in places:
        power = (np.sin(np.pi * order * p) ** 2 + NULL_POWER) / order**2
        h = 10.0 * np.log10(power / power.sum())
        row: dict[str, object] = dict(zip(PARTIAL_LEVELS, h, strict=True))
        amplitude = np.sqrt(power)
        row |= {"note": note, "pluck_point": p, "level_dbfs": 10.0 * np.log10(power.sum())}
        row["centroid_hz"] = 100.0 * (order * amplitude).sum() / amplitude.sum()
        row["odd_even_db"] = 10.0 * np.log10(power[::2].sum() / power[1::2].sum())
        row["tristimulus_1"] = amplitude[0] / amplitude.sum()
        # README's definition: weights 1/n, half for a partial 35 dB below the strongest.
        root = np.sqrt(power / (power + 10.0**-3.5 * power.max()) / order)
        design = np.stack([np.ones(24), np.log2(order)], axis=1) * root[:, None]
        row["tilt_db_per_octave"] = np.linalg.lstsq(design, h * root, rcond=None)[0][1]
        rows.append(row)
    return pd.DataFrame(rows)


def test_comb_is_the_ideal_string_s() -> None:
    # p = L/5, partials 1-4 and 6 re partial 1 with the 1/n taken off (closed form): 20 lg of
    # sin(n pi/5)/sin(pi/5) = 0, 4.18, 4.18, 0, null, 0 dB. The null is filled to -23 dB.
    comb = comb_db(0.2)
    assert comb[:4] - comb[0] == pytest.approx([0.0, 4.18, 4.18, 0.0], abs=0.06)
    assert comb[5] == pytest.approx(comb[3], abs=1e-9)
    assert comb[4] == pytest.approx(-23.0, abs=0.05)


def test_five_millimetres_on_a_648_mm_string() -> None:
    # From 110 to 115 mm partial 5 falls by 2.7 dB on the ideal string released from one height
    # (worked apart from this code); 0.3 dB of it, p (1 - p), all partials share.
    change = comb_db(115.0 / 648.0) - comb_db(110.0 / 648.0)
    assert change[4] == pytest.approx(-2.7 + 0.3, abs=0.1)
    # Partials 6 and 12 rise by more than 10 dB on the ideal string; a filled null rises less.
    assert change[5] > 6.0
    assert change[11] > 6.0


def test_slope_is_the_derivative() -> None:
    step = 1e-6
    numeric = (comb_db(0.17 + step) - comb_db(0.17 - step)) / (2.0 * step)
    assert comb_slope_db(0.17) == pytest.approx(numeric, rel=1e-4, abs=1e-3)


def test_plucks_at_different_places_become_equal_at_one() -> None:
    moved = at_one_place(_plucks([0.15, 0.17, 0.19]))
    for column in ("h01_db", "h05_db", "h12_db", "level_dbfs", "centroid_hz", "odd_even_db",
                   "tristimulus_1", "tilt_db_per_octave"):  # fmt: skip
        assert np.ptp(moved[column].to_numpy()) == pytest.approx(0.0, abs=1e-6), column
    assert np.ptp(_plucks([0.15, 0.17, 0.19])["h05_db"].to_numpy()) > 3.0


def test_steepness_weighs_faint_partials_like_the_rest() -> None:
    # Partials 1/n² fall by 12.04 dB per octave, and 12 of them 9 dB fainter than that turn the
    # line by what ordinary least squares with weights 1/n says.
    order = np.arange(1, 25)
    h = -40.0 * np.log10(order)
    assert steepness(h[None])[0] == pytest.approx(-12.04, abs=0.01)
    h[12:] -= 9.0
    slope = np.polyfit(np.log2(order), h, 1, w=np.sqrt(1.0 / order))[0]
    assert steepness(h[None])[0] == pytest.approx(slope, rel=1e-9)


def test_release_at_equal_force_or_height() -> None:
    # Height over force is p (1 - p): 0.2 against 0.1 is 0.16 against 0.09.
    assert release_level_db(0.1, 0.2) == pytest.approx(20.0 * np.log10(0.16 / 0.09), abs=1e-9)
    assert release_level_db(0.2, 0.2) == 0.0


def test_each_note_has_its_own_place() -> None:
    both = pd.concat([_plucks([0.15, 0.17]), _plucks([0.25, 0.27], note="A2")], ignore_index=True)
    moved = at_one_place(both)
    alone = at_one_place(_plucks([0.15, 0.17]))
    assert moved["h07_db"].to_numpy()[:2] == pytest.approx(alone["h07_db"].to_numpy())


def test_a_pluck_of_unknown_place_loses_what_the_place_moves_and_keeps_the_rest() -> None:
    plucks = _plucks([0.15, 0.17]).assign(decay_s=4.0)
    plucks.loc[1, "pluck_point"] = np.nan
    moved = at_one_place(plucks)
    assert np.isnan(moved.loc[1, "h05_db"])
    assert np.isnan(moved.loc[1, "centroid_hz"])
    assert moved.loc[1, "decay_s"] == 4.0
    assert np.isfinite(moved.loc[0, "h05_db"])


def test_the_table_handed_in_is_left_alone() -> None:
    plucks = _plucks([0.15, 0.19])
    before = plucks.copy()
    at_one_place(plucks)
    pd.testing.assert_frame_equal(plucks, before)


def test_what_a_comb_leaves_open_of_partials_grows_near_a_null() -> None:
    # From 128 to 120 mm of 648 partial 5 comes out of its null at L/5 (129.6 mm): its shift
    # is open, of partial 2 a quarter, and 0.08 dB times n of every one.
    plucks = _plucks([128.0 / 648.0, 120.0 / 648.0]).assign(stage=["before", "after"])
    error = comb_error(plucks, "before", "after", share=0.25)
    shift = comb_db(120.0 / 648.0) - comb_db(128.0 / 648.0)
    # A null of -22 dB leaves e^(-0.065) = 94 % of the rest open beside the quarter: 95 %.
    assert error["h05_db"] == pytest.approx(np.hypot(0.95 * shift[4], 0.4), rel=0.01)
    assert error["h02_db"] == pytest.approx(np.hypot(0.25 * shift[1], 0.16), rel=0.02)
    assert error["tilt_db_per_octave"] > 0.0
    still = comb_error(plucks.assign(pluck_point=0.19), "before", "after", share=0.25)
    assert still["h13_db"] == pytest.approx(13 * 0.08)
