"""Averages of curves, against means worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tonecompare.compare.curves.mean_curves import Side, average

AXIS = np.array([1.0, 2.0])


def _side(**by_note):
    return Side("x", {note: np.asarray(rows, dtype=float) for note, rows in by_note.items()})


def test_notes_weigh_equally_however_many_plucks_they_have():
    before = _side(E2=[[0.0, 0.0]] * 9, A2=[[10.0, 10.0]])
    both = average(AXIS, before, _side(E2=[[0.0, 0.0]], A2=[[10.0, 10.0]]))
    np.testing.assert_allclose(both.before, [5.0, 5.0])


def test_only_shared_notes_count():
    both = average(AXIS, _side(E2=[[1.0, 1.0]], A2=[[9.0, 9.0]]), _side(E2=[[2.0, 2.0]]))
    np.testing.assert_allclose(both.difference, [1.0, 1.0])
    assert both.notes == ("E2",)
    assert average(AXIS, _side(E2=[[1.0, 1.0]]), _side(A2=[[1.0, 1.0]])) is None


def test_interval_of_the_difference_is_that_of_a_paired_t_test():
    before, after = np.array([0.0, 1.0, 2.5, 3.0]), np.array([1.0, 2.4, 3.1, 4.9])
    names = ("E2", "A2", "D3", "G3")
    both = average(
        AXIS,
        _side(**{n: [[v, v]] for n, v in zip(names, before, strict=True)}),
        _side(**{n: [[v, v]] for n, v in zip(names, after, strict=True)}),
    )
    # scipy.stats is the reference here.
    expected = stats.ttest_rel(after, before).confidence_interval(0.95)
    assert both.ci_low[0] == pytest.approx(expected.low)
    assert both.ci_high[0] == pytest.approx(expected.high)


def test_spread_is_pooled_over_notes_and_blind_to_their_levels():
    rows = {"E2": [[0.0, 0.0], [2.0, 0.0]], "A2": [[50.0, 0.0], [54.0, 0.0]]}
    both = average(AXIS, _side(**rows), _side(**rows))
    # Variances of the two notes by hand: 2 and 8 with one degree of freedom each.
    assert both.spread_before[0] == pytest.approx(np.sqrt(5.0))


def test_one_note_or_one_pluck_gives_no_interval_and_no_spread():
    both = average(AXIS, _side(E2=[[1.0, 1.0]]), _side(E2=[[2.0, 2.0]]))
    assert np.isnan(both.ci_low).all()
    assert np.isnan(both.spread_before).all()


def test_points_too_few_notes_have_are_missing():
    nan = np.nan
    before = _side(E2=[[1.0, 1.0]], A2=[[1.0, nan]], D3=[[1.0, nan]])
    after = _side(E2=[[2.0, 2.0]], A2=[[2.0, 2.0]], D3=[[2.0, 2.0]])
    both = average(AXIS, before, after)
    assert np.isfinite(both.difference[0])
    assert np.isnan(both.before[1])
    assert np.isnan(both.difference[1])
