"""Statistics against published values, closed forms and SciPy.

Where a value has no other source named it is a closed form of Student's t (tables of any
statistics handbook) or an exact count.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tonecompare.compare.difference.statistics import (
    Estimate,
    hodges_lehmann,
    holm,
    moments,
    over_notes,
    t_quantile,
    welch,
)

A = np.array([1240.0, 1255.0, 1238.0, 1262.0, 1249.0])
B = np.array([1302.0, 1279.0, 1321.0, 1290.0, 1311.0])


def _welch(before: np.ndarray, after: np.ndarray) -> Estimate:
    return welch(moments(before), moments(after))


def test_welch_worked_example() -> None:
    # Computed with SciPy 1.17 for the same ten numbers: t 5.9576, df 6.5933, p 0.000708,
    # interval 30.980 ... 72.620.
    estimate = _welch(A, B)
    low, high = estimate.interval()
    assert float(estimate.difference) == pytest.approx(51.8, abs=1e-9)
    assert float(estimate.difference / estimate.se) == pytest.approx(5.9576, abs=5e-5)
    assert float(estimate.df) == pytest.approx(6.5933, abs=5e-5)
    assert float(estimate.p_value) == pytest.approx(0.000708, abs=5e-7)
    assert (float(low), float(high)) == pytest.approx((30.980, 72.620), abs=5e-4)


def test_welch_equals_scipy_on_a_batch() -> None:
    rng = np.random.default_rng(4)
    before = rng.normal(0.0, 1.0, (7, 40))
    after = rng.normal(0.3, 2.5, (4, 40))
    estimate = _welch(before, after)
    reference = stats.ttest_ind(after, before, equal_var=False)
    interval = reference.confidence_interval(0.95)
    np.testing.assert_allclose(estimate.p_value, reference.pvalue, rtol=1e-10)
    np.testing.assert_allclose(estimate.df, reference.df, rtol=1e-12)
    np.testing.assert_allclose(estimate.interval()[0], interval.low, rtol=1e-9)
    np.testing.assert_allclose(estimate.interval()[1], interval.high, rtol=1e-9)


def test_over_notes_equals_scipy_one_sample_t() -> None:
    rng = np.random.default_rng(5)
    differences = rng.normal(0.4, 1.0, (6, 25))
    estimate = over_notes(differences)
    reference = stats.ttest_1samp(differences, 0.0)
    np.testing.assert_allclose(estimate.p_value, reference.pvalue, rtol=1e-10)
    interval = reference.confidence_interval(0.95)
    np.testing.assert_allclose(estimate.interval()[0], interval.low, rtol=1e-9)


@pytest.mark.parametrize(
    ("n", "half_width"),
    [(3, 2.484), (4, 1.591), (5, 1.242), (6, 1.049), (8, 0.836), (10, 0.715), (20, 0.468)],
)
def test_half_width_of_a_mean_in_standard_deviations(n: int, half_width: float) -> None:
    # t(0.975, n - 1)/sqrt(n), tables of Student's t.
    values = np.arange(n, dtype=float)
    values = (values - values.mean()) / values.std(ddof=1)
    assert float(over_notes(values).half_width()) == pytest.approx(half_width, abs=5.1e-4)


@pytest.mark.parametrize(
    ("n", "smallest"), [(3, 2.27), (5, 1.46), (8, 1.07), (10, 0.94), (20, 0.64)]
)
def test_smallest_significant_difference_of_two_groups(n: int, smallest: float) -> None:
    # t(0.975, 2n - 2) sqrt(2/n), tables of Student's t; equal variances make Welch's df 2n - 2.
    values = np.arange(n, dtype=float)
    values = (values - values.mean()) / values.std(ddof=1)
    assert float(_welch(values, values).half_width()) == pytest.approx(smallest, abs=5.1e-3)


def test_t_quantile_against_scipy_and_the_normal_limit() -> None:
    df = np.array([1.0, 2.5, 5.0, 48.0])
    np.testing.assert_allclose(t_quantile(0.975, df), stats.t.ppf(0.975, df), rtol=1e-9)
    assert float(t_quantile(0.975, np.inf)) == pytest.approx(1.959963985, abs=1e-8)
    assert np.isnan(t_quantile(0.975, 0.0))


def test_holm_steps() -> None:
    # Holm (1979) with five tests: .01 .0125 .01667 .025 .05 are just accepted at 5 %.
    steps = 0.05 / np.array([5.0, 4.0, 3.0, 2.0, 1.0])
    np.testing.assert_allclose(holm(steps), 0.05, rtol=1e-12)
    assert (holm(steps * 0.999) < 0.05).all()
    assert (holm(steps * [1.001, 1, 1, 1, 1]) > 0.05).all()


def test_twenty_tests_would_raise_a_false_alarm_in_two_of_three_reports() -> None:
    # 1 - 0.95**20 = 64.2 %; Holm brings it to 4.9 % (1 - (1 - .05/20)**20).
    rng = np.random.default_rng(6)
    p = rng.random((4000, 20))
    plain = (p.min(axis=1) < 0.05).mean()
    corrected = np.mean([holm(row).min() < 0.05 for row in p])
    assert plain == pytest.approx(0.642, abs=0.025)
    assert corrected == pytest.approx(0.0488, abs=0.012)


def test_hodges_lehmann_shift_of_the_worked_example() -> None:
    # Two-sample shift of the same data is 52.0 (median of the 25 differences); the pairwise means
    # of all differences are the same set doubled, so the one-sample location of a symmetric set
    # must fall on its centre.
    differences = np.sort((B[:, None] - A[None, :]).ravel())
    assert np.median(differences) == 52.0
    symmetric = np.concatenate([differences, 104.0 - differences])
    assert float(hodges_lehmann(symmetric)) == pytest.approx(52.0, abs=1e-12)


def test_hodges_lehmann_by_hand() -> None:
    # Pairwise means of 1, 2, 10: 1, 1.5, 2, 5.5, 6, 10; their median is 3.75.
    assert float(hodges_lehmann([1.0, 2.0, 10.0])) == 3.75
    assert float(hodges_lehmann([1.0, np.nan, 2.0, 10.0])) == 3.75
    assert np.isnan(hodges_lehmann([np.nan, np.nan]))


def test_hodges_lehmann_efficiency_on_normal_scatter() -> None:
    # Asymptotic efficiency against the mean is 3/pi = 0.955 (Hodges & Lehmann 1963).
    rng = np.random.default_rng(8)
    draws = rng.standard_normal((20, 20000))
    efficiency = draws.mean(axis=0).var() / hodges_lehmann(draws).var()
    assert efficiency == pytest.approx(3.0 / np.pi, abs=0.02)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-50, 50), min_size=2, max_size=8),
    st.floats(-20, 20),
    st.floats(0.1, 10),
)
def test_locations_and_intervals_follow_shift_and_scale(
    values: list[float], shift: float, scale: float
) -> None:
    array = np.array(values)
    moved = array * scale + shift
    assert float(hodges_lehmann(moved)) == pytest.approx(
        float(hodges_lehmann(array)) * scale + shift, abs=1e-8
    )
    first, second = over_notes(array).interval(), over_notes(moved).interval()
    np.testing.assert_allclose(second, np.array(first) * scale + shift, atol=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=12))
def test_holm_is_never_below_p_never_above_bonferroni_and_keeps_the_order(p: list[float]) -> None:
    array = np.array(p)
    adjusted = holm(array)
    assert (adjusted >= array - 1e-15).all()
    assert (adjusted <= np.minimum(array * array.size, 1.0) + 1e-12).all()
    order = np.argsort(array, kind="stable")
    assert (np.diff(adjusted[order]) >= -1e-12).all()
