"""A phrase averaged over its repeats: moment by moment, and note by note."""

from __future__ import annotations

import warnings
from collections.abc import Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import PhraseCurve


def mean_phrase(
    side: Sequence[PhraseCurve], values: Sequence[FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return time, mean and standard deviation over the repeats, where half have a value."""
    stacked = np.stack(values)
    enough = np.isfinite(stacked).mean(axis=0) >= 0.5
    stacked = np.where(enough, stacked, np.nan)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # frames that no repeat has
        mean = np.nanmean(stacked, axis=0)
        spread = np.nanstd(stacked, axis=0, ddof=1) if len(side) > 1 else np.zeros_like(mean)
    return side[0].time_s, np.asarray(mean), np.nan_to_num(spread)


def note_levels(side: Sequence[PhraseCurve]) -> tuple[FloatArray, FloatArray]:
    """Return when each note or chord of a phrase begins, and its mean level over the repeats."""
    time_s, events_s = side[0].time_s, np.array(side[0].events_s)
    of_note = np.searchsorted(events_s, time_s + 1e-9, side="right") - 1
    power = np.stack([10.0 ** (one.level_dbfs / 10.0) for one in side])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # notes that no repeat has
        means = [np.nanmean(power[:, of_note == n]) for n in range(events_s.size)]
    return events_s, np.asarray(10.0 * np.log10(means))
