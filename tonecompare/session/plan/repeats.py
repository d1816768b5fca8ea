"""How many repeats a change needs, and what change some repeats can show.

The test that the comparison makes is turned round. For one note, two stages of ``n`` plucks each
are compared by a two-sample t test:

    df = 2 (n - 1),   nc = change / (s sqrt(2 / n)).

Over ``k`` notes, each note gives one difference of two means of ``n`` plucks, and these are tested
against zero (one-sample t):

    df = k - 1,       nc = change sqrt(k) / sqrt(2 s² / n + d²),

with ``s`` the standard deviation from pluck to pluck and ``d`` that of the true change from note
to note. The power is the probability of the noncentral t distribution beyond the two-sided
critical value: P(T' > t) + P(T' < -t), T' ~ nct(df, nc).

Source: J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 2nd ed. 1988, ch. 2 (the
noncentral t power of the t test; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later

#: More plucks of a note than anyone plays; beyond it a change counts as out of reach.
MOST_REPEATS = 500
#: The usual chance with which a change is to show, and that of a false claim.
POWER, ALPHA = 0.8, 0.05


@dataclass(frozen=True)
class AssumedSpread:
    """How much a quantity differs from pluck to pluck, and the change a reader cares about.

    ``sd`` and ``smallest_change`` are in ``unit``.
    """

    quantity: str
    label: str
    unit: str
    sd: float
    smallest_change: float
    source: str = ""


#: One player plucking the same note again, in the same way: median standard deviation measured on
#: openly licensed sets of single guitar notes. The changes are the hearing thresholds.
TYPICAL_SPREADS: Mapping[str, AssumedSpread] = {
    spread.quantity: spread
    for spread in (
        AssumedSpread(
            "level_dbfs",
            tr_later("Level"),
            "dB",
            0.6,
            1.0,
            tr_later("0.5–0.7 dB; 2.5 dB in casual playing"),
        ),
        AssumedSpread(
            "centroid_hz",
            tr_later("Brightness"),
            tr_later("cents"),
            60.0,
            84.0,
            tr_later("20–110 cents"),
        ),
        AssumedSpread("decay_s", tr_later("Decay time"), "%", 5.0, 25.0, "3–7 %"),
        AssumedSpread("cents", tr_later("Pitch"), "cents", 0.45, 5.0, tr_later("0.3–0.6 cents")),
    )
}


def spreads_with(
    measured: Mapping[str, float] | None = None, changes: Mapping[str, float] | None = None
) -> tuple[AssumedSpread, ...]:
    """Return the typical spreads with some replaced: by those of existing takes, by wishes.

    Parameters
    ----------
    measured
        Standard deviation from pluck to pluck by quantity, as existing takes show it.
    changes
        The smallest change that matters to the user, by quantity.

    Raises
    ------
    InputError
        For a quantity without typical spread and for numbers that are not above 0.
    """
    result = dict(TYPICAL_SPREADS)
    for quantity in (*(measured or {}), *(changes or {})):
        if quantity not in result:
            raise InputError(
                tr(
                    "{quantity}: no spread is known for it; known are {known}.",
                    quantity=quantity,
                    known=", ".join(result),
                )
            )
    for quantity, sd in (measured or {}).items():
        _positive(sd, tr("the spread of {quantity}", quantity=quantity))
        result[quantity] = replace(
            result[quantity], sd=float(sd), source=tr_later("from existing takes")
        )
    for quantity, change in (changes or {}).items():
        _positive(change, tr("the smallest change of {quantity}", quantity=quantity))
        result[quantity] = replace(result[quantity], smallest_change=float(change))
    return tuple(result.values())


def power_of(
    change: float,
    spread_sd: float,
    *,
    repeats: float,
    notes: float = 1,
    note_sd: float = 0.0,
    alpha: float = ALPHA,
) -> float:
    """Return the chance (0 to 1) that a true change shows as one.

    Parameters
    ----------
    change, spread_sd
        The true change and the standard deviation from pluck to pluck, in one unit.
    repeats
        Plucks of each note in each stage (may be fractional).
    notes
        Notes the change is judged over; 1 means a single note.
    note_sd
        Standard deviation of the true change from note to note.
    alpha
        Permitted chance of a false claim, two-sided.
    """
    from scipy import special, stats

    df = 2.0 * (repeats - 1.0) if notes == 1 else notes - 1.0
    if df <= 0.0:
        return 0.0
    variance = (2.0 * spread_sd**2 / repeats + (note_sd**2 if notes > 1 else 0.0)) / notes
    noncentrality = abs(change) / math.sqrt(variance)
    critical = float(stats.t.ppf(1.0 - alpha / 2.0, df))
    if noncentrality > 30.0 + critical:
        return 1.0
    below = float(special.nctdtr(df, noncentrality, -critical))
    above = 1.0 - float(special.nctdtr(df, noncentrality, critical))
    return above + (below if math.isfinite(below) else 0.0)


def repeats_needed(
    smallest_change: float,
    spread_sd: float,
    *,
    notes: int = 1,
    note_sd: float = 0.0,
    power: float = POWER,
    alpha: float = ALPHA,
) -> int | None:
    """Return how many plucks of each note, in each stage, show a change.

    Parameters
    ----------
    smallest_change, spread_sd
        The smallest change that matters and the standard deviation from pluck to pluck, in one
        unit.
    notes, note_sd, alpha
        As in :func:`power_of`.
    power
        The chance with which the change is to be shown.

    Returns
    -------
    repeats
        At least 2 (fewer have no spread); None when more than :data:`MOST_REPEATS` would be
        needed, or when no number of repeats helps because the notes disagree.

    Raises
    ------
    InputError
        For numbers that cannot be.

    Examples
    --------
    >>> repeats_needed(1.0, 1.0)
    17
    """
    _positive(smallest_change, tr("the smallest change"))
    _check(spread_sd, notes, note_sd, power, alpha)

    def enough(repeats: int) -> bool:
        got = power_of(
            smallest_change, spread_sd, repeats=repeats, notes=notes, note_sd=note_sd, alpha=alpha
        )
        return got >= power

    if not enough(MOST_REPEATS):
        return None
    low, high = 1, MOST_REPEATS
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return max(high, 2)


def smallest_change(
    repeats: int,
    spread_sd: float,
    *,
    notes: int = 1,
) -> float | None:
    """Return the smallest change that so many repeats show, in the unit of ``spread_sd``.

    Parameters are those of :func:`repeats_needed`, power and alpha its usual ones. None when no
    change can be shown: a single note plucked once has no spread to be judged by.

    Raises
    ------
    InputError
        For numbers that cannot be.
    """
    from scipy import optimize

    _check(spread_sd, notes, 0.0, POWER, ALPHA)
    if repeats < 1:
        raise InputError(tr("repeats is {n}; at least 1 is needed.", n=repeats))
    if notes == 1 and repeats < 2:
        return None

    def lack(change: float) -> float:
        return power_of(change, spread_sd, repeats=repeats, notes=notes) - POWER

    high = spread_sd
    while lack(high) < 0.0:
        high *= 2.0
    return float(optimize.brentq(lack, 0.0, high, xtol=1e-6 * high))


def _positive(value: float, name: str) -> None:
    if not 0.0 < value < math.inf:
        raise InputError(
            tr("{name} is {value}; a number above 0 is needed.", name=name, value=value)
        )


def _check(spread_sd: float, notes: int, note_sd: float, power: float, alpha: float) -> None:
    _positive(spread_sd, tr("the spread from pluck to pluck"))
    if notes < 1:
        raise InputError(tr("the number of notes is {n}; at least 1 is needed.", n=notes))
    if not 0.0 <= note_sd < math.inf:
        raise InputError(
            tr("the spread from note to note is {value}; 0 or more is needed.", value=note_sd)
        )
    for value, name in ((power, "power"), (alpha, "alpha")):
        if not 0.0 < value < 1.0:
            raise InputError(
                tr(
                    "{name} is {value}; it lies between 0 and 1 (did you give %?).",
                    name=name,
                    value=value,
                )
            )
    if power <= alpha:
        raise InputError(
            tr("power is {power}; it must be more than alpha ({alpha}).", power=power, alpha=alpha)
        )
