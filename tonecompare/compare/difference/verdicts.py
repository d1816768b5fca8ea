"""What the numbers allow one to say: a verdict for every row, and why.

- ``likely-audible``: shown (adjusted p < 0.05 and the interval leaves 0 out), the difference at
  least two hearing thresholds (one for decay, whose published tolerance is wide already) and the
  whole interval outside one;
- ``measurable``: shown, but not shown to be beyond what is heard, or of a noise too far under the
  notes to be heard;
- ``no-change``: not shown, and the whole 95 % interval lies inside the hearing threshold;
- ``undecided``: everything else, with how many more plucks would settle it;
- none (""): not shown, and no hearing threshold is known that could be undecided about;
- ``confounded``: set by ``find_causes``, and here for what the player sets.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.difference.plucks_needed import Needed, plucks_needed
from tonecompare.compare.difference.quiet_differences import faint_noise
from tonecompare.compare.difference.statistics import ALPHA
from tonecompare.compare.reasons import (
    ALONE,
    FAINT,
    LIKELY,
    MORE_NOTES,
    MORE_PLUCKS,
    MORE_STRETCHES,
    NO_PLUCKS,
    NO_STRETCHES,
    NO_THRESHOLD,
    NOT_SHOWN,
    NOTHING,
    SET_BY_PLAYER,
    SHOWN,
    UNCHANGED,
    UNKNOWN_LIMIT,
    Reason,
    limit,
)
from tonecompare.compare.thresholds import HearingThreshold, band_on_scale, threshold_of
from tonecompare.quantities.compared import QUANTITIES

#: Beyond this many, a number of plucks is no advice any more.
MOST_PLUCKS = 50
MOST_NOTES = 60
#: What stays this far below the whole sound is easily masked (a partial by its neighbours) or next
#: to nothing (a band): its change is never called likely audible (assumed).
WEAK_DB = {"partials": -25.0, "shape": -50.0}

_DECIDED = {"no-change": UNCHANGED, "measurable": SHOWN, "likely-audible": LIKELY}


def judge(
    block: DifferenceRows,
    p_adjusted: FloatArray,
    share: FloatArray,
    *,
    overrides: Mapping[str, float] | None = None,
) -> DifferenceRows:
    """Judge every row.

    Parameters
    ----------
    block
        Differences on the analysis scale.
    p_adjusted, share
        From :func:`tonecompare.compare.difference.correction.adjusted_p`.
    overrides
        Hearing thresholds set in session.toml.

    Returns
    -------
    DifferenceRows
        The same with verdicts, reasons, thresholds and the plucks still needed.
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
    under_db = np.where(verdict == "likely-audible", faint_noise(block), np.nan)
    verdict[under_db > 0.0] = "measurable"
    undecided = verdict == "undecided"
    needed = plucks_needed(block, share, low, high)
    reason = np.empty(len(block), dtype=np.object_)
    p = block.p_value
    for row in range(len(block)):
        if block.unjudged[row]:
            reason[row] = Reason(block.unjudged[row], QUANTITIES[block.quantity[row]].column)
        elif undecided[row]:
            alone = bool(block.note[row] != ALL_NOTES and p[row] < ALPHA * share[row])
            reason[row] = _undecided(block, row, needed, alone=alone)
        elif not verdict[row]:
            reason[row] = _not_shown(block, row)
        elif under_db[row] > 0.0:
            reason[row] = Reason(FAINT, block.column[row], (float(under_db[row]),))
        else:
            threshold = thresholds[block.quantity[row]]
            reason[row] = _reason(block, row, verdict[row], threshold, float(passed[row]))
    waiting = undecided & (block.unjudged == "") & (needed.plucks <= MOST_PLUCKS)
    more = np.where(waiting, needed.plucks, np.nan)
    return replace(
        block,
        p_adjusted=p_adjusted,
        verdict=verdict,
        reason=reason,
        threshold_low=low,
        threshold_high=high,
        more_plucks=more,
    )


def _verdicts(
    block: DifferenceRows,
    p_adjusted: FloatArray,
    low: FloatArray,
    high: FloatArray,
    thresholds: list[HearingThreshold | None],
) -> tuple[NDArray[np.object_], FloatArray]:
    likely_at = np.array([t.likely_at if t else np.inf for t in thresholds])[block.quantity]
    condition = np.array([quantity.condition for quantity in QUANTITIES])[block.quantity]
    with np.errstate(invalid="ignore", divide="ignore"):
        ends = block.ends
        side = np.where(block.difference < 0.0, low, high)
        passed = block.difference / side
        farthest = np.fmax(ends[0] / low, ends[1] / high)
        shown = (p_adjusted < ALPHA) & ((ends[0] > 0.0) | (ends[1] < 0.0))
        beyond = (ends[0] > high) | (ends[1] < low)
        inside = (ends[0] > low) & (ends[1] < high)
        weakest = np.array([WEAK_DB.get(quantity.family, -np.inf) for quantity in QUANTITIES])
        masked = np.fmax(block.mean_before, block.mean_after) < weakest[block.quantity]
        likely = shown & beyond & (passed >= likely_at) & ~masked
    # What stays below one threshold must do so up to the far end of its interval.
    verdict = np.full(len(block), "undecided", dtype=np.object_)
    verdict[np.isnan(low)] = ""
    judged = block.unjudged == ""
    verdict[judged & inside & ~shown] = "no-change"
    verdict[judged & shown] = "measurable"
    verdict[judged & likely] = "likely-audible"
    verdict[judged & shown & condition] = "confounded"
    return verdict, np.where(likely, passed, farthest)


def _reason(
    block: DifferenceRows,
    row: int,
    verdict: str,
    threshold: HearingThreshold | None,
    passed: float,
) -> Reason:
    """Return why a row that may claim something is decided."""
    column = QUANTITIES[block.quantity[row]].column
    if verdict == "confounded":
        return Reason(SET_BY_PLAYER, column)
    if threshold is None:
        return Reason(NO_THRESHOLD, column)
    return Reason(_DECIDED[verdict], column, (*limit(threshold), passed))


def _not_shown(block: DifferenceRows, row: int) -> Reason:
    return Reason(NOT_SHOWN, QUANTITIES[block.quantity[row]].column, _span(block, row))


def _span(block: DifferenceRows, row: int) -> tuple[float, float, str]:
    """Return the ends of a row's interval in its main unit, and that unit."""
    quantity = QUANTITIES[block.quantity[row]]
    unit = quantity.units[0]
    low, high = (float(quantity.from_scale(float(end[row]), unit=unit)) for end in block.ends)
    return low, high, unit


def _undecided(block: DifferenceRows, row: int, needed: Needed, *, alone: bool) -> Reason:
    quantity = QUANTITIES[block.quantity[row]]
    span = _span(block, row)
    plucks, notes = float(needed.plucks[row]), float(needed.notes[row])
    if quantity.voice:
        return Reason(NOTHING if quantity.threshold else UNKNOWN_LIMIT, quantity.column, span)
    few = bool(np.isfinite(plucks) and plucks <= MOST_PLUCKS)
    if alone:
        return Reason(ALONE, quantity.column, span)
    if few:
        code = MORE_STRETCHES if quantity.quiet else MORE_PLUCKS
        return Reason(code, quantity.column, (*span, int(plucks)))
    if quantity.quiet:
        return Reason(NO_STRETCHES, quantity.column, span)
    if block.note[row] != ALL_NOTES:
        return Reason(NO_PLUCKS, quantity.column, (*span, MOST_PLUCKS))
    if np.isfinite(notes) and notes <= MOST_NOTES:
        return Reason(MORE_NOTES, quantity.column, (*span, int(notes)))
    return Reason(NOTHING, quantity.column, span)
