"""Octave bands moved with the picking place: those of the ideal string, summed by partials."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.comb_correction import at_one_place
from tonecompare.measure.pluck.octave_bands import band_response
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES, BANDS
from tonecompare.quantities.registry import PARTIAL_LEVELS

F0_HZ = 110.0


def _pluck(place: float) -> dict[str, object]:
    """Return a string of partials sin²(n pi p)/n⁴, a full row, and its bands."""
    order = np.arange(1, 101)
    power = np.sin(np.pi * order * place) ** 2 / order**4.0
    row: dict[str, object] = {"note": "A2", "pluck_point": place, "f0_hz": F0_HZ}
    h = 10.0 * np.log10(power[:24] / power[:24].sum())
    row |= dict(zip(PARTIAL_LEVELS, h, strict=True))
    levels = np.full(len(BANDS), np.nan)
    for index, band in enumerate(BANDS):
        passed = (band_response(order * F0_HZ, band) * power).sum()
        if passed > 0.0:
            levels[index] = 10.0 * np.log10(passed)
    total = 10.0 * np.log10(np.nansum(10.0 ** (levels / 10.0)))
    return (
        row
        | dict(zip(BAND_LEVELS, levels, strict=True))
        | dict(zip(BAND_SHAPES, levels - total, strict=True))
    )


def test_plucks_at_two_places_have_the_same_bands_at_one() -> None:
    plucks = pd.DataFrame([_pluck(0.11), _pluck(0.14)])
    moved = at_one_place(plucks)
    for columns in (BAND_LEVELS, BAND_SHAPES):
        was = plucks[list(columns)].diff().iloc[1].to_numpy(dtype=float)
        left = moved[list(columns)].diff().iloc[1].to_numpy(dtype=float)
        assert np.isnan(left[0])
        # Soft edges here, sharp ones in the truth; nulls filled here and not there.
        assert np.nanmax(np.abs(left)) < 0.35
        assert np.nanmax(np.abs(was)) > 1.2


def test_a_pluck_of_unknown_place_loses_its_bands() -> None:
    plucks = pd.DataFrame([_pluck(0.11), _pluck(0.14)])
    plucks.loc[1, "pluck_point"] = np.nan
    moved = at_one_place(plucks)
    assert np.isnan(moved.loc[1, "band_1000_db"])
    assert moved.loc[0, "band_1000_db"] == pytest.approx(plucks.loc[0, "band_1000_db"])
