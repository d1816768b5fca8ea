"""What the statistics do at their edges; values against outside sources stand in tests/outside."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tonecompare.compare.difference.statistics import (
    Estimate,
    combine,
    holm,
    moments,
    over_notes,
    pooled,
    welch,
)


def test_moments_leave_gaps_out() -> None:
    mean, variance, count = moments([[1.0, np.nan, 5.0], [3.0, np.nan, np.nan]])
    np.testing.assert_array_equal(mean, [2.0, np.nan, 5.0])
    np.testing.assert_array_equal(variance, [2.0, np.nan, np.nan])
    np.testing.assert_array_equal(count, [2, 0, 1])


def test_one_repeat_gives_a_difference_but_no_interval() -> None:
    estimate = welch((1.0, np.nan, 1), (2.0, 0.5, 5))
    assert float(estimate.difference) == 1.0
    assert np.isnan(estimate.se)
    assert np.isnan(estimate.p_value)


def test_one_note_gives_no_interval_over_notes() -> None:
    estimate = over_notes(np.array([[1.0, 1.0], [np.nan, 3.0]]))
    np.testing.assert_array_equal(estimate.difference, [1.0, 2.0])
    np.testing.assert_array_equal(np.isfinite(estimate.se), [False, True])


def test_identical_repeats_are_no_evidence() -> None:
    estimate = Estimate(np.array([0.0, 1.0]), np.zeros(2), np.full(2, 5.0))
    assert estimate.p_value[0] == 1.0
    assert np.isnan(estimate.p_value[1])


def test_combined_variance_of_equal_parts_adds_the_degrees_of_freedom() -> None:
    estimate = combine(0.0, np.array([2.0, 2.0]), np.array([5.0, 5.0]))
    assert float(estimate.se) == 2.0
    assert float(estimate.df) == pytest.approx(10.0)


def test_a_known_variance_has_no_end_of_degrees_of_freedom() -> None:
    estimate = combine(1.96, np.array([0.5, 0.5]), np.array([np.inf, np.inf]))
    assert float(estimate.p_value) == pytest.approx(0.05, abs=1e-4)


def test_weighted_holm_protects_the_heavy_row_from_many_light_ones() -> None:
    p = np.array([0.02, *np.full(20, 0.5)])
    weights = np.array([1.0, *np.full(20, 1.0 / 20.0)])
    assert holm(p)[0] == pytest.approx(0.42)
    assert holm(p, weights=weights)[0] == pytest.approx(0.04)


def test_holm_leaves_gaps_out() -> None:
    adjusted = holm([0.01, np.nan, 0.04])
    np.testing.assert_allclose(adjusted, [0.02, np.nan, 0.04])
    assert np.isnan(holm([np.nan])).all()


def test_callers_arrays_stay_as_they_are() -> None:
    p = np.array([0.04, 0.01])
    holm(p)
    np.testing.assert_array_equal(p, [0.04, 0.01])


def test_student_is_that_of_scipy() -> None:
    rng = np.random.default_rng(5)
    one, other = rng.normal(0.0, 1.0, (4, 3)), rng.normal(0.5, 1.0, (5, 3))
    found = pooled(
        (one.mean(axis=0), one.var(axis=0, ddof=1), 4.0),
        (other.mean(axis=0), other.var(axis=0, ddof=1), 5.0),
    )
    known = stats.ttest_ind(other, one)
    assert found.p_value == pytest.approx(known.pvalue, rel=1e-9)
    assert found.df == pytest.approx([7.0] * 3)
    alone = pooled((0.0, np.nan, 1.0), (1.0, 1.0, 4.0))
    assert np.isnan(alone.se)
    assert np.isnan(alone.df)
