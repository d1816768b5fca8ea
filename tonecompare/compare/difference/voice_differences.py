"""Differences of what all plucks of an output show together: resonance, place of the pickup, coils.

Each side has one number with a standard error of its own, which holds for the whole recording, so
the difference is judged by both: ``se² = se_b² + se_a²`` on the analysis scale, normal. Resonances
read together (:mod:`tonecompare.measure.place.shared_release`) share what the pick's release leaves
open, which drops out of their difference: that is known where neither of the two is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import (
    ALL_NOTES,
    DifferenceRows,
    join_rows,
    make_rows,
    no_rows,
    text,
)
from tonecompare.compare.difference.stage_pairs import Key, scale_matrix, se_matrix
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.compare.reasons import NOT_BOTH, NOT_DETERMINED, Reason
from tonecompare.measure.model import Measurements
from tonecompare.measure.place.resonance import resonance_moved
from tonecompare.quantities.compared import voice_quantities

#: The place as a share is left to guitars whose scale length is not known.
_SHARE, _IN_MM = "pickup_point", "pickup_distance_mm"
#: What is known to have moved even where it is not known itself.
_OF_THE_COIL = ("resonance_hz", "resonance_q")


def voice_block(
    comparison: str, before: str, after: str, measurements: Measurements
) -> DifferenceRows:
    """Return the rows of every voice and output that both stages have.

    A number that a side lacks makes a row that claims nothing; one that both lack makes none, nor
    does a place that was given for both. A place given for one side counts as exact.
    """
    quantities = voice_quantities()
    columns = [quantity.column for quantity in quantities]
    coil = np.array([columns.index(name) for name in _OF_THE_COIL])
    first, second = (_sides(measurements.voices, stage) for stage in (before, after))
    blocks = [no_rows()]
    for key in first:
        if key not in second:
            continue
        one, other = first[key], second[key]
        difference, se = other.values - one.values, np.hypot(one.se, other.se)
        moved, sd = resonance_moved(measurements.releases, (before, *key), (after, *key))
        known = np.isfinite(moved)
        difference[coil[known]], se[coil[known]] = moved[known], sd[known]
        estimate = Estimate(difference, se, np.full(len(quantities), np.inf))
        plucks = [
            np.where(np.isfinite(side.values) | np.isfinite(difference), side.plucks, 0.0)
            for side in (one, other)
        ]
        rows = make_rows(
            comparison,
            key[0],
            key[1],
            text(ALL_NOTES, len(quantities)),
            quantities,
            means=(one.values, other.values),
            counts=(plucks[0], plucks[1], np.fmin(one.notes, other.notes)),
            estimate=estimate,
            repeat_variance=np.zeros(len(quantities)),
            unjudged=text("", len(quantities)),
        )
        rows = rows.rows(~(rows.se == 0.0))  # given on both sides, not measured
        unjudged = np.where(rows.unjudged == NOT_BOTH, NOT_DETERMINED, rows.unjudged)
        blocks.append(replace(rows, unjudged=unjudged.astype(np.object_)))
    return join_rows(blocks)


def with_reasons(rows: DifferenceRows, measurements: Measurements) -> DifferenceRows:
    """Return judged rows whose undetermined sides say why, as measuring found it."""
    lacking = np.flatnonzero(rows.unjudged == NOT_DETERMINED)
    if lacking.size == 0:
        return rows
    why = {
        (each.subject.stage, each.subject.voice, each.subject.output, name): measured.reason
        for each in measurements.table.subjects
        if each.subject.kind == "voices"
        for name, measured in each.quantities.items()
        if measured.value is None
    }
    reason = rows.reason.copy()
    for row in lacking:
        of = (rows.voice[row], rows.output[row], rows.column[row])
        sides = tuple(
            "" if np.isfinite(mean[row]) else why.get((stage[row], *of), "")
            for mean, stage in ((rows.mean_before, rows.before), (rows.mean_after, rows.after))
        )
        reason[row] = Reason(NOT_DETERMINED, of[2], sides)
    return replace(rows, reason=reason)


@dataclass(frozen=True)
class _Side:
    """One output of a voice at one stage: numbers on the analysis scale, over the quantities."""

    values: FloatArray
    se: FloatArray
    plucks: FloatArray
    notes: FloatArray


def _sides(voices: pd.DataFrame, stage: str) -> dict[Key, _Side]:
    """Return the outputs of a stage by voice and output."""
    if voices.empty:
        return {}
    frame = voices[voices["stage"] == stage]
    quantities = voice_quantities()
    columns = [quantity.column for quantity in quantities]
    values, se = scale_matrix(frame, quantities), se_matrix(frame, quantities)
    in_mm = np.isfinite(values[:, columns.index(_IN_MM)])
    values[in_mm, columns.index(_SHARE)] = np.nan
    se = np.where(np.isfinite(values), np.nan_to_num(se), np.nan)
    return {
        (str(voice), str(output)): _Side(
            values[row],
            se[row],
            np.full(len(columns), float(plucks)),
            np.full(len(columns), float(notes)),
        )
        for row, (voice, output, plucks, notes) in enumerate(
            zip(frame["voice"], frame["output"], frame["n_plucks"], frame["n_notes"], strict=True)
        )
    }
