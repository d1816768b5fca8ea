"""Borrowing the scatter of the notes between quantities."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special

from tonecompare.compare.difference.moderation import (
    MOST_BORROWED,
    _inverse_trigamma,
    moderate,
    pooled_ratio,
)


@pytest.mark.parametrize("x", [0.3, 1.0, 7.0, 80.0])
def test_inverse_trigamma(x: float) -> None:
    assert _inverse_trigamma(float(special.polygamma(1, x))) == pytest.approx(x, rel=1e-8)


def test_known_f_distribution_is_recovered() -> None:
    # ratio = 2.5 F(5, 8): the moments of the logarithm must give 2.5 and 8 back.
    rng = np.random.default_rng(2)
    ratio = 2.5 * rng.f(5, 8, 40000)
    middle, borrowed = pooled_ratio(ratio, np.full(ratio.size, 5.0))
    assert middle == pytest.approx(2.5, rel=0.02)
    assert borrowed == pytest.approx(8.0, rel=0.05)


def test_agreeing_ratios_borrow_up_to_the_cap() -> None:
    rng = np.random.default_rng(3)
    ratio = 1.5 * rng.chisquare(5, 4000) / 5
    middle, borrowed = pooled_ratio(ratio, np.full(ratio.size, 5.0))
    assert middle == pytest.approx(1.5, rel=0.03)
    assert borrowed == MOST_BORROWED


def test_few_rows_borrow_nothing() -> None:
    variance, df = moderate(np.ones(5), np.full(5, 5.0), np.ones(5), np.full(5, 48.0))
    np.testing.assert_array_equal(variance, np.ones(5))
    np.testing.assert_array_equal(df, np.full(5, 5.0))


def test_a_row_that_stands_out_keeps_its_own_scatter() -> None:
    rng = np.random.default_rng(4)
    own = rng.chisquare(5, 40) / 5
    own[7] = 30.0
    variance, df = moderate(own, np.full(40, 5.0), np.ones(40), np.full(40, 48.0))
    assert variance[7] == 30.0
    assert df[7] == 5.0
    assert df[0] > 5.0


def test_rows_without_a_prediction_keep_their_own_scatter() -> None:
    rng = np.random.default_rng(5)
    own, predicted = rng.chisquare(5, 30) / 5, np.ones(30)
    predicted[3], own[4] = np.nan, 0.0
    variance, df = moderate(own, np.full(30, 5.0), predicted, np.full(30, 48.0))
    assert (variance[3], df[3]) == (own[3], 5.0)
    assert (variance[4], df[4]) == (0.0, 5.0)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.5])
def test_moderated_t_keeps_its_error_where_quantities_agree(share: float) -> None:
    rng = np.random.default_rng(6)
    rows, notes, repeats, hits, trials = 60, 6, 5, np.zeros(2), 0
    for _ in range(150):
        plucks = 2.0 / repeats
        scatter = np.sqrt(2.0 * share**2 + plucks)
        d = scatter * rng.standard_normal((notes, rows))
        predicted = plucks / notes * rng.chisquare(48, rows) / 48
        own = d.var(axis=0, ddof=1) / notes
        variance, df = moderate(own, np.full(rows, 5.0), predicted, np.full(rows, 48.0))
        p = 2.0 * special.stdtr(df, -np.abs(d.mean(axis=0)) / np.sqrt(variance))
        hits += [(p < 0.05).sum(), (p < 0.001).sum()]
        trials += rows
    # Binomial standard errors at 9000 trials: 0.23 % and 0.033 %.
    assert hits[0] / trials < 0.05 + 0.007
    assert hits[0] / trials > 0.03
    assert hits[1] / trials < 0.001 + 0.001
