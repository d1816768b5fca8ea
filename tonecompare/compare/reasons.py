"""Why a verdict is what it is, as codes with data; the sentences are made in the report's words.

A row that may claim nothing has one of :data:`UNJUDGED`. Every other code stands here with its
data; intervals are in the unit beside them, thresholds as :func:`limit` gives them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tonecompare.compare.thresholds import HearingThreshold

NOT_BOTH = "not-on-both-sides"
NO_VARIATION = "no-variation"
ONE_NOTE = "one-note"
ONE_PLUCK = "one-pluck"
ONE_STRETCH = "one-stretch"
NO_SIGNAL = "no-signal"
NOT_DETERMINED = "not-determined"
#: Codes of rows that may claim nothing, without data: unmeasured on a side; repeats that do not
#: vary; one note only; too few plucks of a note; one quiet stretch without uncertainty; signal over
#: hum without a level known on both sides.
#: What all plucks of a voice show together, not determined on a side, has what each side lacks as
#: data, "" for a side that has it.
UNJUDGED = (
    NOT_BOTH, NO_VARIATION, ONE_NOTE, ONE_PLUCK, ONE_STRETCH, NO_SIGNAL, NOT_DETERMINED,
)  # fmt: skip

#: Not shown, and nobody knows how small a one is heard. Data: low and high end, unit.
UNKNOWN_LIMIT = "unknown-limit"
#: A difference that is shown and nobody knows how small a one is heard; no data.
NO_THRESHOLD = "no-threshold"
#: Nothing is shown where no hearing threshold is known, so that there is no verdict either. Data:
#: low and high end, unit.
NOT_SHOWN = "not-shown"
#: Shown or not, set against its hearing threshold: limit, hearing thresholds passed.
UNCHANGED, SHOWN, LIKELY = "unchanged", "shown", "likely"
#: Shown and beyond its hearing threshold, but under the notes by so many dB that no room lets it be
#: heard; that number.
FAINT = "faint"
#: What the player sets (tuning, picking place) was set otherwise; no data.
SET_BY_PLAYER = "set-by-player"

#: Not decided. Data: low and high end, unit; then what would settle it.
ALONE = "one-note-alone"
MORE_STRETCHES, NO_STRETCHES = "more-stretches", "no-stretches-settle"
MORE_PLUCKS, NO_PLUCKS = "more-plucks", "no-plucks-settle"
MORE_NOTES, NOTHING = "more-notes", "nothing-settles"

#: A stage drifted; the interval that allows for it: low and high end, unit.
DRIFTED = "stage-drifted"
#: Causes other than the work: their places in the tuple of confounds.
CAUSES = "causes"


@dataclass(frozen=True)
class Reason:
    """Why one row has its verdict.

    Attributes
    ----------
    code
        What kind of reason: a word of this module.
    quantity
        Column of the quantity it speaks of.
    data
        Its numbers and names, as the comment beside the code says.

    Examples
    --------
    >>> Reason(MORE_PLUCKS, "level_dbfs", (-0.2, 1.4, "dB", 12)).data[3]
    12
    """

    code: str
    quantity: str
    data: tuple[Any, ...] = ()


def limit(threshold: HearingThreshold) -> tuple[float, float, str, float]:
    """Return a hearing threshold as data: below, above, unit, likely audible from how many on."""
    return threshold.below, threshold.above, threshold.unit, threshold.likely_at
