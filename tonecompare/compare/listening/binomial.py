"""Right answers against guessing: exact probabilities of the binomial distribution."""

from __future__ import annotations

import scipy  # scipy.stats loads when it is first asked for

#: Largest probability of guessing that counts as heard, and the confidence of intervals.
ALPHA, CONFIDENCE = 0.05, 0.95


def guessing_p(right: int, trials: int, chance: float) -> float:
    """Return how often guessing gives as many right answers or more.

    Parameters
    ----------
    right, trials
        Right answers and questions; 0 questions give 1.
    chance
        Share a guesser gets right: 1/2 in ABX, 1/3 in a triangle test.

    Returns
    -------
    float
        ``sum(C(n, k) chance^k (1 - chance)^(n - k), k = right … n)``.

    Examples
    --------
    >>> round(guessing_p(12, 16, 0.5), 4)
    0.0384
    """
    return float(scipy.stats.binom.sf(right - 1, trials, chance))


def fewest_right(trials: int, chance: float, *, alpha: float = ALPHA) -> int:
    """Return the critical number: the fewest right answers whose ``guessing_p`` is at most alpha.

    One more than ``trials`` where even all right do not suffice. For a triangle test these are
    the numbers of ISO 4120.
    """
    return next(
        (n for n in range(trials + 1) if guessing_p(n, trials, chance) <= alpha), trials + 1
    )


def power(share: float, trials: int, chance: float) -> float:
    """Return how often a listener passes who is right in this share of the trials."""
    return float(scipy.stats.binom.sf(fewest_right(trials, chance) - 1, trials, share))


def share_limits(right: int, trials: int) -> tuple[float, float]:
    """Return the 95 % limits of the share of right answers (Clopper & Pearson 1934).

    Exact: they hold the true share in at least 95 % of tests. Over listeners who differ they hold
    the mean share, and are then wider than need be (the right answers vary less than binomially).
    """
    tail = (1.0 - CONFIDENCE) / 2.0
    low = float(scipy.stats.beta.ppf(tail, right, trials - right + 1)) if right else 0.0
    high = float(scipy.stats.beta.isf(tail, right + 1, trials - right)) if right < trials else 1.0
    return low, high
