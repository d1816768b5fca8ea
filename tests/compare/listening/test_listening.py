"""Exact probabilities, limits and d′ against closed forms, published tables and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tonecompare.compare.listening.binomial import fewest_right, guessing_p, power, share_limits
from tonecompare.compare.listening.pooled import Answers, holm, pool
from tonecompare.compare.listening.sensitivity import d_prime_of, share_right


@pytest.mark.parametrize(("right", "trials"), [(12, 16), (13, 16), (9, 10), (14, 20), (26, 40)])
def test_p_is_the_closed_form(right, trials):
    exact = sum(math.comb(trials, k) for k in range(right, trials + 1)) / 2**trials
    assert guessing_p(right, trials, 0.5) == pytest.approx(exact, rel=1e-12)
    if (right, trials) == (12, 16):
        assert exact == pytest.approx(0.0384, abs=5e-5)


# ISO 4120:2021, table of the triangle test: fewest right answers at 5, 1 and 0.1 %.
ISO_4120 = {
    10: (7, 8, 9), 15: (9, 10, 12), 20: (11, 13, 14), 25: (13, 15, 17), 30: (15, 17, 19),
    35: (17, 19, 22), 40: (19, 21, 24), 50: (23, 26, 28), 60: (27, 30, 33),
}  # fmt: skip


@pytest.mark.parametrize("trials", ISO_4120)
def test_critical_numbers_of_the_triangle_are_the_standard_s(trials):
    found = tuple(fewest_right(trials, 1 / 3, alpha=alpha) for alpha in (0.05, 0.01, 0.001))
    assert found == ISO_4120[trials]


def test_too_few_trials_cannot_pass():
    assert fewest_right(4, 0.5) == 5
    assert fewest_right(5, 0.5) == 5


# Clopper & Pearson's limits as published for these counts.
@pytest.mark.parametrize(
    ("right", "trials", "low", "high"),
    [(12, 16, 0.476, 0.927), (0, 10, 0.0, 0.308), (10, 10, 0.692, 1.0)],
)
def test_limits_are_clopper_and_pearson_s(right, trials, low, high):
    assert share_limits(right, trials) == pytest.approx((low, high), abs=6e-4)


# Power at the critical number, binomial: n 16 and 10.
@pytest.mark.parametrize(
    ("share", "trials", "said"),
    [(0.6, 16, 0.167), (0.8, 16, 0.798), (0.9, 16, 0.983), (0.8, 10, 0.376)],
)
def test_power_is_what_the_trials_give(share, trials, said):
    assert power(share, trials, 0.5) == pytest.approx(said, abs=5e-4)


# Macmillan & Creelman (ABX, differencing), Ennis 1993 (triangle).
@pytest.mark.parametrize(
    ("d", "task", "share"),
    [(1, "abx", 0.5825), (2, "abx", 0.7468), (1, "triangle", 0.4180), (2, "triangle", 0.6048)],
)
def test_d_prime_is_the_tables(d, task, share):
    assert share_right(d, task) == pytest.approx(share, abs=6e-5)
    assert d_prime_of(share, task) == pytest.approx(d, abs=1e-3)


@pytest.mark.parametrize("task", ["abx", "triangle"])
@pytest.mark.parametrize("d", [0.0, 0.7, 1.8])
def test_d_prime_is_that_of_a_simulated_listener(task, d):
    rng = np.random.default_rng(41)
    a, b, x = rng.normal(size=(3, 400_000))
    b = b + d
    if task == "abx":  # X is an A: right when nearer to A than to B
        right = np.abs(x - a) < np.abs(x - b)
    else:  # two As (a, x) and b: right when b is farthest from the other two
        right = (np.abs(a - x) < np.abs(a - b)) & (np.abs(a - x) < np.abs(x - b))
    assert right.mean() == pytest.approx(share_right(d, task), abs=0.003)


def test_guessing_and_all_right_are_the_ends_of_d_prime():
    assert d_prime_of(0.4, "abx") == 0.0
    assert d_prime_of(1 / 3, "triangle") == 0.0
    assert d_prime_of(1.0, "abx") == math.inf


def test_listeners_are_pooled():
    counts = [("one", 12), ("two", 13), ("three", 12), ("four", 7)]
    said = pool([Answers(name, "abx", right, 16) for name, right in counts])
    assert (said.listeners, said.passed, said.right, said.trials) == (4, 3, 44, 64)
    exact = sum(math.comb(64, k) for k in range(44, 65)) / 2**64
    assert said.p_value == pytest.approx(exact)
    assert said.heard
    assert said.by_luck == pytest.approx(1 - (1 - 2517 / 65536) ** 4)
    low, high = share_limits(44, 64)
    assert said.d_prime[1:] == pytest.approx((d_prime_of(low, "abx"), d_prime_of(high, "abx")))


def test_repeating_until_one_passes_gains_nothing():
    tests = [Answers("one", "abx", right, 16) for right in (8, 7, 9, 12)]
    said = pool(tests)
    assert (said.listeners, said.passed, said.heard) == (1, 0, False)
    assert said.again == ("one",)


def test_tests_of_two_tasks_are_no_one_count():
    with pytest.raises(ValueError, match="one task"):
        pool([Answers("one", "abx", 8, 16), Answers("two", "triangle", 8, 16)])


def test_many_tests_are_allowed_for():
    # Holm 1979 on four: 4 x .01, 3 x .015, 2 x .03, and never less than the one before.
    assert holm([0.03, 0.01, 0.2, 0.015]) == pytest.approx((0.06, 0.04, 0.2, 0.045))
