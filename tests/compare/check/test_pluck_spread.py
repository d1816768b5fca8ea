"""The pooled spread from pluck to pluck, against sums worked out by hand."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from tonecompare.compare.check.pluck_spread import pluck_spreads


def _plucks(levels, *, column="level_dbfs"):
    rows = [
        {"stage": "a", "voice": "neck", "output": "magnetic", "note": note, column: value}
        for note, values in levels.items()
        for value in values
    ]
    return pd.DataFrame(rows)


def test_deviations_are_within_notes_and_pooled():
    # Within E2: 1, 2, 3 and 2 (mean 2): 2; within A2: 15, 17 and 16 (mean 16): 2; df 3 + 2.
    found = pluck_spreads(_plucks({"E2": [1.0, 2.0, 3.0, 2.0], "A2": [15.0, 17.0, 16.0]}))
    assert found == {"level_dbfs": pytest.approx(math.sqrt(4.0 / 5.0))}


def test_a_ratio_is_spread_in_cents_and_percent():
    # One octave up and down from the middle in turn: 1200 cents about the mean, df 4 of 5 values.
    octaves = {"E2": [500.0, 2000.0, 500.0, 2000.0, 1000.0]}
    found = pluck_spreads(_plucks(octaves, column="centroid_hz"))
    assert found == {"centroid_hz": pytest.approx(1200.0)}
    e = {"E2": [math.exp(-0.05), math.exp(0.05), math.exp(-0.05), math.exp(0.05), 1.0]}
    assert pluck_spreads(_plucks(e, column="decay_s")) == {"decay_s": pytest.approx(5.0)}


@pytest.mark.parametrize(
    "levels",
    [
        {"E2": [1.0, 2.0], "A2": [5.0]},  # one degree of freedom
        {"E2": [1.0] * 9},  # no difference at all
        {"": [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]},  # no note was named
        {"E2": [math.nan] * 9},
    ],
)
def test_too_little_gives_nothing_rather_than_zero(levels):
    assert pluck_spreads(_plucks(levels)) == {}
