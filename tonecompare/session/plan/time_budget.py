"""How long a stage takes to record, and what fits into the minutes there are.

Of the strings, frets and repeats that fit, those are chosen that show the smallest change that
matters: over all notes (:func:`tonecompare.session.plan.repeats.smallest_change`), for every
quantity of the table of spreads. Where several do, more strings go before more repeats, up to five;
fewer than three strings only where three do not fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.session.plan.plan_model import PlanOptions
from tonecompare.session.plan.playing import played_s
from tonecompare.session.plan.repeats import AssumedSpread, smallest_change, spreads_with
from tonecompare.session.plan.selectors import planned_voices

#: Seconds a pluck takes at the bench: it rings, then the string is damped.
SECONDS_PER_PLUCK = 9.0
#: Seconds for the selector, the tuner and the quiet of one recording.
SECONDS_PER_VOICE = 60.0
#: Fewer repeats have no spread to be judged by, more tire the hand.
_FEWEST_REPEATS, _MOST_REPEATS = 2, 10
#: A change on fewer strings says little of the guitar.
_FEWEST_STRINGS = 3
#: Where fewer show what matters, this many are played all the same: one slip is then no loss.
_USUAL_REPEATS = 5


def stage_minutes(voices: int, plucks: int, *, played_s: float = 0.0) -> float:
    """Return how long a stage takes: ``voices`` recordings and the first once more.

    Parameters
    ----------
    voices
        Voices of the stage.
    plucks
        Plucks of each recording.
    played_s
        Seconds of chords and riffs in each recording.

    Examples
    --------
    >>> stage_minutes(3, 30)
    22.0
    """
    return (voices + 1) * (SECONDS_PER_VOICE + plucks * SECONDS_PER_PLUCK + played_s) / 60.0


@dataclass(frozen=True)
class _Choice:
    """So many strings, each fret plucked so often, and how well that shows what matters.

    ``reach`` is the smallest change shown over the smallest that matters, of the worst quantity.
    """

    strings: int
    repeats: int
    reach: float


def within_minutes(options: PlanOptions, minutes: float) -> PlanOptions:
    """Return options whose strings and repeats fit into so many minutes a stage.

    Raises
    ------
    InputError
        When nothing fits that could be judged; the message says how long the least takes.
    """
    voices = len(planned_voices(options.layout, splits=options.splits, outputs=options.outputs))
    frets = len(dict.fromkeys(options.frets))
    more_s = played_s(options.play)
    least = stage_minutes(voices, _FEWEST_REPEATS * frets, played_s=more_s)
    for_plucks_s = minutes * 60.0 / (voices + 1) - SECONDS_PER_VOICE - more_s
    plucks = int(for_plucks_s / SECONDS_PER_PLUCK + 1e-9)
    spreads = spreads_with(options.measured_spreads, options.smallest_changes)
    choices = [
        _Choice(strings, repeats, _reach(spreads, repeats, strings * frets))
        for strings in range(1, len(options.tuning) + 1)
        for repeats in range(_FEWEST_REPEATS, _MOST_REPEATS + 1)
        if strings * frets * repeats <= plucks
    ]
    if not choices:
        raise InputError(
            tr(
                "{minutes} minutes are too few: {voices} voices and the first once more take at "
                "least {least} minutes a stage, with one string plucked {repeats} times. Give more "
                "minutes, or record fewer voices or frets.",
                minutes=f"{minutes:g}",
                voices=voices,
                least=f"{least:.0f}",
                repeats=_FEWEST_REPEATS,
            )
        )
    # A guitar is not its lowest string: low, middle and high, where they fit.
    wide = [one for one in choices if one.strings >= min(_FEWEST_STRINGS, len(options.tuning))]
    choices = wide or choices
    enough = [one for one in choices if one.reach <= 1.0]
    chosen = (
        max(enough, key=lambda one: (one.strings, -abs(one.repeats - _USUAL_REPEATS)))
        if enough
        else min(choices, key=lambda one: one.reach)
    )
    return replace(
        options,
        repeats=chosen.repeats,
        strings=_spread_out(len(options.tuning), chosen.strings),
    )


def _reach(spreads: Sequence[AssumedSpread], repeats: int, notes: int) -> float:
    shown = [
        (smallest_change(repeats, spread.sd, notes=notes) or float("inf")) / spread.smallest_change
        for spread in spreads
    ]
    return max(shown)


def _spread_out(strings: int, chosen: int) -> tuple[int, ...]:
    """Return string numbers from the thickest to the thinnest, evenly spread; () for all."""
    if chosen == strings:
        return ()
    if chosen == 1:
        return (strings,)
    step = (strings - 1) / (chosen - 1)
    return tuple(strings - round(i * step) for i in range(chosen))
