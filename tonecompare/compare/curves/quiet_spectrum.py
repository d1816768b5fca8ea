"""The spectrum of one or several quiet stretches, and the mains lines that stand out of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import QuietCurves

#: A mains line is named when it stands this far above the bins beside it (median).
STANDS_OUT_DB = 8.0
#: How far from a line the bins beside it reach.
_BESIDE_HZ = 20.0
#: Bins as wide as these, over each other, are called even.
_EVEN = 1.2


def highest_bins(
    quiets: Sequence[QuietCurves], grid_hz: FloatArray, *, per_octave: int
) -> FloatArray:
    """Return the level of the quiet on a grid that keeps narrow lines as high as they are.

    Parameters
    ----------
    quiets
        The stretches of one voice.
    grid_hz
        Frequencies, ``per_octave`` in an octave, shape (n,).
    per_octave
        Steps of the grid.

    Returns
    -------
    numpy.ndarray
        dBFS, shape (n,): the highest bin within each step, averaged in dB over the stretches; NaN
        without a stretch.
    """
    if not quiets:
        return np.full(grid_hz.size, np.nan)
    rows = np.stack([_highest_of_one(quiet, grid_hz, per_octave) for quiet in quiets])
    finite = np.isfinite(rows)
    count = np.sum(finite, axis=0)
    total = np.sum(np.where(finite, rows, 0.0), axis=0)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _highest_of_one(quiet: QuietCurves, grid_hz: FloatArray, per_octave: int) -> FloatArray:
    edges = grid_hz[0] * 2.0 ** ((np.arange(grid_hz.size + 1) - 0.5) / per_octave)
    step = np.digitize(quiet.frequency_hz, edges) - 1
    held = np.full(grid_hz.size, -np.inf)
    usable = (step >= 0) & (step < grid_hz.size) & np.isfinite(quiet.level_dbfs)
    np.maximum.at(held, step[usable], quiet.level_dbfs[usable])
    between = np.interp(grid_hz, quiet.frequency_hz, quiet.level_dbfs)
    return np.where(np.isfinite(held), held, between)


def mains_peaks(quiets: Sequence[QuietCurves], lines_hz: FloatArray) -> FloatArray:
    """Return the level of each mains line that stands out of the quiet in every stretch.

    Parameters
    ----------
    quiets
        The stretches of one voice, one at least.
    lines_hz
        Multiples of the mains frequency, shape (n,).

    Returns
    -------
    numpy.ndarray
        dBFS, mean over the stretches, shape (n,); NaN where a line does not stand out.
    """
    peaks = np.stack([_peaks_of_one(quiet, lines_hz) for quiet in quiets])
    return np.where(np.all(np.isfinite(peaks), axis=0), np.mean(peaks, axis=0), np.nan)


def _peaks_of_one(quiet: QuietCurves, lines_hz: FloatArray) -> FloatArray:
    peaks = np.full(lines_hz.size, np.nan)
    for place, hz in enumerate(lines_hz):
        near = np.abs(quiet.frequency_hz - hz) <= max(0.004 * hz, 1.5 * quiet.bandwidth_hz)
        beside = np.abs(quiet.frequency_hz - hz) <= _BESIDE_HZ
        if not np.any(near):
            continue
        level = float(np.max(quiet.level_dbfs[near]))
        if level > float(np.median(quiet.level_dbfs[beside])) + STANDS_OUT_DB:
            peaks[place] = level
    return peaks


def bandwidth_hz(quiets: Sequence[QuietCurves]) -> float | None:
    """Return the width of a bin of all stretches (median), None when they are not even."""
    widths = [quiet.bandwidth_hz for quiet in quiets]
    return float(np.median(widths)) if max(widths) <= _EVEN * min(widths) else None


def middle(values: pd.Series) -> float | None:
    """Return the median of what was measured over quiet stretches, None when nothing was."""
    known = pd.to_numeric(values, errors="coerce").dropna()
    return float(known.median()) if len(known) else None
