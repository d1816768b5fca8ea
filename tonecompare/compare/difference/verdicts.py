"""What the numbers allow one to say: a verdict and a sentence for every row.

- ``likely-audible``: shown (adjusted p < 0.05 and the interval leaves 0 out), the difference at
  least two hearing thresholds (one for decay, whose published tolerance is wide already) and the
  whole interval outside one;
- ``measurable``: shown, but not shown to be beyond what is heard;
- ``no-change``: not shown, and the whole 95 % interval lies inside the hearing threshold;
- ``undecided``: everything else, with how many more plucks would settle it;
- ``confounded``: set by ``find_causes``, and here for what the player sets.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import ALL_NOTES, Block
from tonecompare.compare.difference.plucks_needed import Needed, plucks_needed
from tonecompare.compare.difference.statistics import ALPHA
from tonecompare.compare.thresholds import HearingThreshold, band_on_scale, threshold_of, wording
from tonecompare.quantities.compared import QUANTITIES, Quantity

#: Beyond this many, a number of plucks is no advice any more.
MOST_PLUCKS = 50
MOST_NOTES = 60
#: A partial that stays this far below the whole sound is easily masked by its neighbours (assumed):
#: its change is never called likely audible.
WEAK_PARTIAL_DB = -25.0

_CONDITION_SENTENCE = {
    "cents": "The strings were tuned differently in the two stages; that is tuning, not the work.",
    "pluck_point": "The strings were picked at another place; that is the playing, not the work.",
}


@dataclass(frozen=True)
class Verdicts:
    """Verdicts of a block, row by row. ``threshold_low`` and ``…_high`` are on the scale."""

    verdict: NDArray[np.object_]
    reason: NDArray[np.object_]
    threshold_low: FloatArray
    threshold_high: FloatArray
    more_plucks: FloatArray


def judge(
    block: Block,
    p_adjusted: FloatArray,
    share: FloatArray,
    *,
    overrides: Mapping[str, float] | None = None,
) -> Verdicts:
    """Judge every row of a block.

    Parameters
    ----------
    block
        Differences on the analysis scale.
    p_adjusted, share
        From :func:`tonecompare.compare.difference.correction.adjusted_p`.
    overrides
        Hearing thresholds set in session.toml.
    """
    thresholds = [threshold_of(quantity, overrides=overrides) for quantity in QUANTITIES]
    bands = np.array(
        [
            band_on_scale(quantity, threshold) if threshold else (np.nan, np.nan)
            for quantity, threshold in zip(QUANTITIES, thresholds, strict=True)
        ]
    )
    low, high = bands[block.quantity, 0], bands[block.quantity, 1]
    verdict, passed = _verdicts(block, p_adjusted, low, high, thresholds)
    undecided = verdict == "undecided"
    needed = plucks_needed(block, share, low, high)
    reason = np.empty(len(block), dtype=np.object_)
    ends, p = block.estimate.interval(), block.test.p_value
    for row in range(len(block)):
        quantity = QUANTITIES[block.quantity[row]]
        threshold = thresholds[block.quantity[row]]
        if block.unjudged[row]:
            reason[row] = block.unjudged[row]
        elif undecided[row]:
            interval = (float(ends[0][row]), float(ends[1][row]))
            alone = bool(block.note[row] != ALL_NOTES and p[row] < ALPHA * share[row])
            reason[row] = _undecided(block, row, quantity, interval, needed, alone=alone)
        elif verdict[row] == "confounded":
            reason[row] = _CONDITION_SENTENCE[quantity.column]
        else:
            reason[row] = _decided(verdict[row], quantity, threshold, float(passed[row]))
    waiting = undecided & (block.unjudged == "") & (needed.plucks <= MOST_PLUCKS)
    more = np.where(waiting, needed.plucks, np.nan)
    return Verdicts(verdict, reason, low, high, more)


def _verdicts(
    block: Block,
    p_adjusted: FloatArray,
    low: FloatArray,
    high: FloatArray,
    thresholds: list[HearingThreshold | None],
) -> tuple[NDArray[np.object_], FloatArray]:
    likely_at = np.array([t.likely_at if t else np.inf for t in thresholds])[block.quantity]
    condition = np.array([quantity.condition for quantity in QUANTITIES])[block.quantity]
    with np.errstate(invalid="ignore", divide="ignore"):
        ends = block.estimate.interval()
        side = np.where(block.difference < 0.0, low, high)
        passed = block.difference / side
        farthest = np.fmax(ends[0] / low, ends[1] / high)
        shown = (p_adjusted < ALPHA) & ((ends[0] > 0.0) | (ends[1] < 0.0))
        beyond = (ends[0] > high) | (ends[1] < low)
        inside = (ends[0] > low) & (ends[1] < high)
        weak = np.fmax(block.mean_before, block.mean_after) < WEAK_PARTIAL_DB
        partial = np.array([quantity.family == "partials" for quantity in QUANTITIES])
        masked = partial[block.quantity] & weak
        likely = shown & beyond & (passed >= likely_at) & ~masked
    # What stays below one threshold must do so up to the far end of its interval.
    verdict = np.full(len(block), "undecided", dtype=np.object_)
    judged = block.unjudged == ""
    verdict[judged & inside & ~shown] = "no-change"
    verdict[judged & shown] = "measurable"
    verdict[judged & likely] = "likely-audible"
    verdict[judged & shown & condition] = "confounded"
    return verdict, np.where(likely, passed, farthest)


def _decided(
    verdict: str, quantity: Quantity, threshold: HearingThreshold | None, passed: float
) -> str:
    source = "quiet stretches" if quantity.quiet else "plucks"
    if threshold is None:
        return f"Shown by the {source}; how small a difference of this kind is heard is not known."
    limit = threshold_words(threshold)
    likely = verdict == "likely-audible"
    words = wording(passed, outside_repeatability=likely, likely_at=threshold.likely_at)
    if verdict == "no-change":
        return f"The whole interval lies within the hearing threshold of {limit}: {words}."
    if likely:
        repeats = "the quiet stretches explain" if quantity.quiet else "re-plucking explains"
        times = "beyond" if threshold.likely_at == 1.0 else "more than twice"
        return f"Outside what {repeats} and {times} the hearing threshold of {limit}: {words}."
    if passed < 1.0:
        return f"Shown by the {source}, but within the hearing threshold of {limit}: {words}."
    return f"Shown by the {source}; with a hearing threshold of {limit} it {words}."


def _undecided(
    block: Block,
    row: int,
    quantity: Quantity,
    interval: tuple[float, float],
    needed: Needed,
    *,
    alone: bool,
) -> str:
    opening = f"The takes allow anything from {_span(quantity, interval)}"
    if interval[0] > 0.0 or interval[1] < 0.0:
        opening = (
            f"Taken alone a difference of {_span(quantity, interval)}, but among all differences "
            "of this report chance can make one like it"
        )
    plucks, notes = needed.plucks[row], needed.notes[row]
    if alone:
        return (
            f"This note differs by {_span(quantity, interval)}, but the notes together do not show "
            "it, and one note alone can be the picking place."
        )
    if quantity.quiet:
        if np.isfinite(plucks) and plucks <= MOST_PLUCKS:
            more = _count(plucks, "more quiet stretch", "es")
            return f"{opening}; about {more} in each stage would settle it."
        return f"{opening}; more quiet stretches of this kind would hardly settle it."
    if np.isfinite(plucks) and plucks <= MOST_PLUCKS:
        more = _count(plucks, "more pluck")
        return f"{opening}; about {more} of each note in each stage would settle it."
    if block.note[row] != ALL_NOTES:
        return f"{opening}; more than {MOST_PLUCKS} more plucks of this note would be needed."
    if np.isfinite(notes) and notes <= MOST_NOTES:
        return (
            f"{opening}; the notes differ too much for more plucks to settle it, about "
            f"{_count(notes, 'more note')} would."
        )
    return f"{opening}; no sensible number of further plucks or notes would settle it."


def _count(number: float, word: str, plural: str = "s") -> str:
    whole = int(number)
    return f"{whole} {word}{'' if whole == 1 else plural}"


def _span(quantity: Quantity, interval: tuple[float, float]) -> str:
    low, high = (float(quantity.from_scale(end)) for end in interval)
    unit = quantity.units[0]
    return f"{signed(low)} to {signed(high)} {unit}"


def signed(value: float) -> str:
    """Write a number with its sign and two significant digits, no less than a hundredth."""
    size = abs(value)
    digits = 0 if size >= 10.0 else 1 if size >= 0.95 else 2 if size >= 0.095 else 3
    text = f"{value:+.{digits}f}".replace("-", "−")
    return text[1:] if float(f"{value:.{digits}f}") == 0.0 else text


def threshold_words(threshold: HearingThreshold) -> str:
    """Write a threshold with its unit: ``1 dB`` or ``−25 to +40 %``."""
    if threshold.below == threshold.above:
        return f"{threshold.above:g} {threshold.unit}"
    return f"−{threshold.below:g} to +{threshold.above:g} {threshold.unit}"
