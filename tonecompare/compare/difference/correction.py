"""One correction for the many quantities and voices of a report: hierarchical weighted Holm.

*First step: what a report speaks of first.* Every row over all notes of a report, whatever its
comparison, voice and quantity, is in one weighted Holm family (Holm 1979): the chance of any false
claim in a report in which nothing changed is at most 5 %, whatever the dependence between the
quantities. Weights, fixed before any data: every voice gets the same; of it the quantities of
:data:`LEADS` get their parts, all details together :data:`DETAILS`, and each part is shared equally
between its rows. So 180 details cost the level next to nothing.

*Second step: details behind a gate.* Where a lead quantity of a voice is shown, the details it
speaks for (:data:`SPEAKS_FOR`) may claim something with Holm's correction over the voice's details
(serial gatekeeping, Westfall & Krishen 2001, from memory: in a report in which nothing changed the
first step alone decides). A row of a single note may claim something only where its quantity is
shown over the notes, with Holm's correction over the notes of that quantity.

What the player sets (tuning, picking place) is no claim about the work: those rows have a Holm
family of their own.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.difference.statistics import holm
from tonecompare.quantities.compared import QUANTITIES, Quantity

#: What a report speaks of first, quantities or families, and their parts of a voice's share. Level
#: and the spectrum scatter most from pluck to pluck against what is heard, so they get most.
LEADS = {
    "level_dbfs": 3.5,
    "shape": 1.5,
    "centroid_hz": 0.75,
    "resonance_hz": 0.5,
    "decay_s": 1.0,
    "hum_dbfs": 1.0,
    "signal_to_hum_db": 0.5,
}
#: The part of all other rows of a voice together.
DETAILS = 0.5
#: The details (families) each lead opens the gate to, once it is shown.
SPEAKS_FOR = {
    "level_dbfs": ("level", "bands", "spectrum", "partials"),
    "shape": ("bands", "spectrum", "partials"),
    "centroid_hz": ("spectrum", "partials"),
    "resonance_hz": ("pickup", "bands", "spectrum", "partials"),
    "decay_s": ("decay",),
    "hum_dbfs": ("noise",),
    "signal_to_hum_db": ("noise",),
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
    _open_gates(block, p, adjusted, over_all)
    _adjust_notes(block, p, adjusted, share, over_all)
    return adjusted, share


def _weights(block: DifferenceRows, rows: NDArray[np.bool_]) -> FloatArray:
    """Share a voice's permitted error: a part each for the leads, one for all the rest."""
    weights = np.full(len(block), np.nan)
    voices: dict[tuple[str, str, str], dict[str, list[int]]] = {}
    for row in np.flatnonzero(rows).tolist():
        quantity = QUANTITIES[block.quantity[row]]
        key = (block.comparison[row], block.voice[row], block.output[row])
        voices.setdefault(key, {}).setdefault(_lead(quantity), []).append(row)
    for groups in voices.values():
        for name, members in groups.items():
            weights[np.array(members)] = LEADS.get(name, DETAILS) / len(members)
    return weights


def _lead(quantity: Quantity) -> str:
    """Return the lead a quantity is, or belongs to, "" for a detail."""
    if quantity.column in LEADS:
        return quantity.column
    return quantity.family if quantity.family in LEADS else ""


def _open_gates(
    block: DifferenceRows, p: FloatArray, adjusted: FloatArray, over_all: NDArray[np.bool_]
) -> None:
    """Lower the adjusted p-values of details whose lead is shown."""
    leads: dict[tuple[str, str, str], dict[str, float]] = {}
    details: dict[tuple[str, str, str], list[int]] = {}
    for row in np.flatnonzero(over_all & np.isfinite(p)).tolist():
        quantity = QUANTITIES[block.quantity[row]]
        voice = (block.comparison[row], block.voice[row], block.output[row])
        lead = _lead(quantity)
        if lead:
            of = leads.setdefault(voice, {})
            of[lead] = min(of.get(lead, 1.0), float(adjusted[row]))
        elif not quantity.condition:
            details.setdefault(voice, []).append(row)
    for voice, members in details.items():
        gates = np.array([_gate(leads.get(voice, {}), block, row) for row in members])
        behind = np.array(members)[np.isfinite(gates)]
        adjusted[behind] = np.minimum(
            adjusted[behind], np.maximum(holm(p[behind]), gates[np.isfinite(gates)])
        )


def _gate(leads: Mapping[str, float], block: DifferenceRows, row: int) -> float:
    """Return the smallest adjusted p-value of the leads that speak for a detail, NaN without."""
    family = QUANTITIES[block.quantity[row]].family
    return min(
        (shown for lead, shown in leads.items() if family in SPEAKS_FOR[lead]),
        default=float("nan"),
    )


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
