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
