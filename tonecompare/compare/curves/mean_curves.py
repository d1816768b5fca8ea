"""Curves of many plucks brought together for charts: plucks within a note, then notes equally.

All averages are of decibels. Only notes that both stages share are used, so that a note recorded
on one side only does not look like a change.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import pandas as pd
from scipy import stats

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import PluckCurves

_Curve = TypeVar("_Curve")
#: Curves of one stage by note, one row per pluck.
ByNote = Mapping[str, FloatArray]


@dataclass(frozen=True)
class Side:
    """One stage of a comparison for one voice and output: curves by note on a shared axis."""

    label: str
    by_note: ByNote


@dataclass(frozen=True)
class Averaged:
    """Two sides averaged over the notes they share, in dB; NaN where too few notes have a value.

    ``spread_*`` is the standard deviation from pluck to pluck of one note (NaN with one pluck per
    note), ``difference`` after minus before over notes with its 95 % interval (t over notes; NaN
    with fewer than two notes).
    """

    axis: FloatArray
    before: FloatArray
    after: FloatArray
    spread_before: FloatArray
    spread_after: FloatArray
    difference: FloatArray
    ci_low: FloatArray
    ci_high: FloatArray
    notes: tuple[str, ...]


def plucks_of(
    plucks: pd.DataFrame,
    curves: Mapping[tuple[str, int, int], _Curve],
    *,
    stage: str,
    voice: str,
    output: str,
) -> dict[str, list[_Curve]]:
    """Return the curves of one stage, voice and output by note; plucks without a note are left."""
    found: dict[str, list[_Curve]] = {}
    if not len(plucks):
        return found
    rows = plucks[
        (plucks["stage"] == stage) & (plucks["voice"] == voice) & (plucks["output"] == output)
    ]
    for file, channel, pluck, note in zip(
        rows["file"], rows["channel"], rows["pluck"], rows["note"], strict=True
    ):
        curve = curves.get((str(file), int(channel), int(pluck)))
        if curve is not None and isinstance(note, str) and note:
            found.setdefault(note, []).append(curve)
    return found


def _note_means(side: ByNote, notes: Sequence[str]) -> FloatArray:
    return np.stack([_nanmean(side[note]) for note in notes])


def _nanmean(rows: FloatArray) -> FloatArray:
    """Mean over rows without NaN; NaN where a column has none."""
    count = np.sum(np.isfinite(rows), axis=0)
    total = np.nansum(np.where(np.isfinite(rows), rows, np.nan), axis=0)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _repeat_spread(side: ByNote, notes: Sequence[str]) -> FloatArray:
    """Return the standard deviation from pluck to pluck, pooled over notes."""
    squares, freedom = 0.0, 0.0
    for note in notes:
        residual = side[note] - _nanmean(side[note])
        finite = np.isfinite(residual)
        squares = squares + np.nansum(np.where(finite, residual**2, 0.0), axis=0)
        freedom = freedom + np.maximum(np.sum(finite, axis=0) - 1.0, 0.0)
    freedom_array = np.asarray(freedom)
    pooled = np.sqrt(np.asarray(squares) / np.maximum(freedom_array, 1.0))
    return np.asarray(np.where(freedom_array > 0, pooled, np.nan))


def average(axis: FloatArray, before: Side, after: Side) -> Averaged | None:
    """Average two sides over the notes they share; None when they share none.

    A point needs a value on both sides in at least half of the shared notes.
    """
    notes = tuple(note for note in before.by_note if note in after.by_note)
    if not notes:
        return None
    mean_before = _note_means(before.by_note, notes)
    mean_after = _note_means(after.by_note, notes)
    paired = np.isfinite(mean_before) & np.isfinite(mean_after)
    enough = np.sum(paired, axis=0) >= len(notes) / 2
    mean_before = np.where(paired & enough, mean_before, np.nan)
    mean_after = np.where(paired & enough, mean_after, np.nan)
    differences = mean_after - mean_before
    n = np.sum(np.isfinite(differences), axis=0)
    middle = _nanmean(differences)
    deviation = np.where(np.isfinite(differences), differences - middle, 0.0)
    variance = np.sum(deviation**2, axis=0) / np.maximum(n - 1, 1)
    half = np.where(
        n > 1,
        stats.t.ppf(0.975, np.maximum(n - 1, 1)) * np.sqrt(variance / np.maximum(n, 1)),
        np.nan,
    )
    return Averaged(
        axis=axis,
        before=_nanmean(mean_before),
        after=_nanmean(mean_after),
        spread_before=_repeat_spread(before.by_note, notes),
        spread_after=_repeat_spread(after.by_note, notes),
        difference=middle,
        ci_low=middle - half,
        ci_high=middle + half,
        notes=notes,
    )


def partial_levels(curves: Mapping[str, Sequence[PluckCurves]]) -> dict[str, FloatArray]:
    """Partial levels by note in dB re the power sum of the pluck's partials, a row per pluck."""
    return {
        note: np.stack([_relative(one.partial_dbfs) for one in many])
        for note, many in curves.items()
    }


def _relative(levels: FloatArray) -> FloatArray:
    if not np.any(np.isfinite(levels)):
        return levels
    total = 10.0 * np.log10(np.nansum(10.0 ** (levels / 10.0)))
    return np.asarray(levels - total)


def decays(
    curves: Mapping[str, Sequence[PluckCurves]], times_s: FloatArray
) -> dict[str, FloatArray]:
    """Decay curves by note on a shared time axis, NaN after each curve's own end."""
    return {
        note: np.stack([_resampled(one, times_s) for one in many]) for note, many in curves.items()
    }


def _resampled(curve: PluckCurves, times_s: FloatArray) -> FloatArray:
    finite = np.isfinite(curve.decay_db)
    if np.count_nonzero(finite) < 2:
        return np.full_like(times_s, np.nan)
    times, level = curve.decay_time_s[finite], curve.decay_db[finite]
    inside = (times_s >= times[0]) & (times_s <= times[-1])
    return np.where(inside, np.interp(times_s, times, level), np.nan)
