"""Tests of several listeners put together: each one's passing, and all their answers as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tonecompare.compare.listening.binomial import ALPHA, fewest_right, guessing_p, share_limits
from tonecompare.compare.listening.sensitivity import CHANCE, d_prime_of


@dataclass(frozen=True)
class Answers:
    """Right answers of one finished test; ``task`` is "abx" or "triangle"."""

    listener: str
    task: str
    right: int
    trials: int

    @property
    def p_value(self) -> float:
        """How often guessing gives as many right answers or more."""
        return guessing_p(self.right, self.trials, CHANCE[self.task])

    @property
    def passed(self) -> bool:
        """Whether this test alone has the critical number of right answers."""
        return self.right >= fewest_right(self.trials, CHANCE[self.task])


@dataclass(frozen=True)
class PooledAnswers:
    """All answers to one question: whether these two sounds differ to the ear.

    ``p_adjusted`` allows for the other sounds tested (Holm 1979). ``by_luck`` is the probability
    that at least one of guessing listeners passes; ``again`` names listeners with several tests.
    """

    task: str
    listeners: int
    passed: int
    tests: int
    right: int
    trials: int
    p_value: float
    p_adjusted: float
    share: tuple[float, float, float]
    d_prime: tuple[float, float, float]
    by_luck: float
    again: tuple[str, ...] = ()

    @property
    def heard(self) -> bool:
        """Whether guessing explains the answers of all listeners in at most 5 % of cases."""
        return self.p_adjusted <= ALPHA


def pool(tests: Sequence[Answers]) -> PooledAnswers:
    """Put the tests of one pair of sounds together, every trial of every listener counting.

    A listener counts as having heard it whose answers over all own tests pass as one.

    Raises
    ------
    ValueError
        When there are no tests, or of two tasks.
    """
    tasks = {test.task for test in tests}
    if len(tasks) != 1:
        raise ValueError(f"tests of one task are pooled, not of {sorted(tasks)}")
    (task,) = tasks
    names = list(dict.fromkeys(test.listener for test in tests))
    own = [_together([test for test in tests if test.listener == name]) for name in names]
    all_ = _together(tests)
    low, high = share_limits(all_.right, all_.trials)
    share = all_.right / all_.trials
    missed = 1.0
    for one in own:
        chance = CHANCE[task]
        missed *= 1.0 - guessing_p(fewest_right(one.trials, chance), one.trials, chance)
    return PooledAnswers(
        task,
        len(names),
        sum(one.passed for one in own),
        len(tests),
        all_.right,
        all_.trials,
        all_.p_value,
        all_.p_value,
        (share, low, high),
        (d_prime_of(share, task), d_prime_of(low, task), d_prime_of(high, task)),
        1.0 - missed,
        tuple(n for n in names if sum(test.listener == n for test in tests) > 1),
    )


def _together(tests: Sequence[Answers]) -> Answers:
    right, trials = (sum(getattr(test, name) for test in tests) for name in ("right", "trials"))
    return Answers(tests[0].listener, tests[0].task, right, trials)


def holm(p_values: Sequence[float]) -> tuple[float, ...]:
    """Return p-values that allow for one another (Holm 1979), in the given order."""
    order = sorted(range(len(p_values)), key=lambda i: p_values[i])
    adjusted, least = [0.0] * len(p_values), 0.0
    for rank, place in enumerate(order):
        least = max(least, min(1.0, (len(p_values) - rank) * p_values[place]))
        adjusted[place] = least
    return tuple(adjusted)
