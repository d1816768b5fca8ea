"""One correction for the many quantities and voices of a report: hierarchical weighted Holm.

*First step.* Every row over all notes of a report, whatever its comparison, voice and quantity, is
in one weighted Holm family (Holm 1979): the chance of any false claim in a report in which nothing
changed is at most 5 %, whatever the dependence between the quantities. Weights, fixed before any
data: every voice gets the same; of it level and brightness get two parts each, decay time, hum and
the partials together one each, all the rest one more, and each part is shared equally between its
rows. So 24 partials cost the level no more than one row would.

*Second step.* A row of a single note may claim something only where its quantity is shown over
the notes, with Holm's correction over the notes of that quantity (a gatekeeper: in a report in
which nothing changed the first step alone decides).

What the player sets (tuning, picking place) is no claim about the work: those rows have a Holm
family of their own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.difference.statistics import holm
from tonecompare.quantities.compared import QUANTITIES

#: What a report speaks of first, quantities or families, and how many times as much of a voice's
#: share each gets as all the rest together. Level and brightness scatter most from pluck to pluck
#: against what is heard, so they get twice as much as decay time and hum.
HEADLINES = {
    "level_dbfs": 2.0,
    "centroid_hz": 2.0,
    "decay_s": 1.0,
    "hum_dbfs": 1.0,
    "partials": 1.0,
}

_CONDITION = np.array([quantity.condition for quantity in QUANTITIES])


def adjusted_p(block: DifferenceRows) -> tuple[FloatArray, FloatArray]:
    """Return the adjusted p-value of every row and the share of the 5 % it could count on.

    Returns
    -------
    p_adjusted
        (rows,), NaN for rows that may claim nothing.
    share
        (rows,) weight of the row over the sum of the weights of its step (1/rows for equal ones).
    """
    p = np.where(block.unjudged == "", block.test.p_value, np.nan)
    adjusted, share = np.full(len(block), np.nan), np.full(len(block), np.nan)
    over_all = block.note == ALL_NOTES
    weights = _weights(block, over_all & np.isfinite(p))
    for condition in (False, True):
        rows = np.flatnonzero(over_all & np.isfinite(p) & (_CONDITION[block.quantity] == condition))
        adjusted[rows] = holm(p[rows], weights=weights[rows])
        share[rows] = weights[rows] / weights[rows].sum() if rows.size else np.nan
    _adjust_notes(block, p, adjusted, share, over_all)
    return adjusted, share


def _weights(block: DifferenceRows, rows: NDArray[np.bool_]) -> FloatArray:
    """Share a voice's permitted error: a part each for the headlines, one for all the rest."""
    weights = np.full(len(block), np.nan)
    voices: dict[tuple[str, str, str], dict[str, list[int]]] = {}
    for row in np.flatnonzero(rows).tolist():
        quantity = QUANTITIES[block.quantity[row]]
        key = (block.comparison[row], block.voice[row], block.output[row])
        lead = quantity.column in HEADLINES
        name = quantity.column if lead else quantity.family if quantity.family in HEADLINES else ""
        voices.setdefault(key, {}).setdefault(name, []).append(row)
    for groups in voices.values():
        for name, members in groups.items():
            weights[np.array(members)] = HEADLINES.get(name, 1.0) / len(members)
    return weights


def _adjust_notes(
    block: DifferenceRows,
    p: FloatArray,
    adjusted: FloatArray,
    share: FloatArray,
    over_all: NDArray[np.bool_],
) -> None:
    parents: dict[tuple[str, str, str, int], float] = {}
    children: dict[tuple[str, str, str, int], list[int]] = {}
    keys = zip(block.comparison, block.voice, block.output, block.quantity, strict=True)
    for row, key in enumerate(keys):
        if over_all[row]:
            parents[key] = adjusted[row]
        elif np.isfinite(p[row]):
            children.setdefault(key, []).append(row)
    for key, members in children.items():
        index = np.array(members)
        parent = parents.get(key, np.nan)
        if np.isfinite(parent):
            adjusted[index] = np.maximum(holm(p[index]), parent)
        share[index] = 1.0 / index.size
