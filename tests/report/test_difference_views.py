"""Rows of differences.csv as data."""

from __future__ import annotations

import pandas as pd
import pytest

from tonecompare.report.difference_views import rows_of


def _one(row, **changes):
    return rows_of(pd.DataFrame([row(**changes)]))[0]


def test_size_and_certainty_in_hearing_thresholds(row):
    one = _one(row, hearing_threshold=2.0)
    assert one.in_thresholds == pytest.approx(-2.85)
    assert one.interval_in_thresholds == pytest.approx((-3.1, -2.6))
    assert one.surely_thresholds == pytest.approx(2.6)


def test_an_interval_over_zero_is_sure_of_nothing(row):
    assert _one(row, ci_high=0.5).surely_thresholds == 0.0


def test_falls_and_rises_have_their_own_threshold(row):
    both = {"threshold_low": -25.0, "threshold_high": 40.0, "unit": "%"}
    fall = _one(row, difference=-25.0, **both)
    rise = _one(row, difference=25.0, **both)
    assert fall.in_thresholds == -1.0
    assert rise.in_thresholds == pytest.approx(0.625)


def test_missing_numbers_are_none_not_zero(row):
    one = _one(row, difference=float("nan"), hearing_threshold=None, ci_low=None)
    assert one.difference is None
    assert one.in_thresholds is None
    assert one.interval_in_thresholds is None


def test_of_several_units_one_is_kept(row):
    rows = [row(quantity="centroid_hz", unit="cents"), row(quantity="centroid_hz", unit="%")]
    assert [one.unit for one in rows_of(pd.DataFrame(rows))] == ["%"]


def test_only_rows_over_all_notes_unless_asked(row):
    table = pd.DataFrame([row(), row(note="E2")])
    assert [one.note for one in rows_of(table)] == ["all"]
    assert [one.note for one in rows_of(table, note=None)] == ["all", "E2"]
    assert rows_of(pd.DataFrame()) == []


def test_a_band_of_one_note_says_nothing_and_one_of_a_riff_does(row):
    band = {"quantity": "shape_4000_db", "before_value": -10.0, "after_value": -8.0, "n_notes": 1}
    assert not _one(row, **band).matters
    assert _one(row, **band, played=True).matters
    assert _one(row, **{**band, "n_notes": 2}).matters
