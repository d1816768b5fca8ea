r"""Averaged spectra of plucked notes: what is drawn as "averaged spectrum" and its difference.

A plucked note is a line spectrum: between its partials a band holds next to nothing, so a plain
mean of decibels over notes of different pitch would measure how many partials fell into a band.
Therefore

1. each pluck's 1/24-octave powers are summed over 1/3 octave around every band (Hann-weighted);
2. plucks of one note are averaged in dB;
3. notes are averaged in power after each is brought to the same total (before and after of a note
   by the same gain), so that every note weighs the same;
4. the difference is the ratio of the two averages in dB. Its interval comes from leaving out one
   note at a time (jackknife): ``se² = (n-1)/n Σ (d_(-i) - mean d)²`` with ``t`` on n-1 degrees of
   freedom (Tukey 1958; Efron & Tibshirani, *An Introduction to the Bootstrap*, 1993, ch. 11;
   from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy import stats

from tonecompare.arrays import FloatArray
from tonecompare.compare.curves.mean_curves import Averaged
from tonecompare.measure.model import PluckCurves

Curves = Mapping[str, Sequence[PluckCurves]]

#: Weights of the 1/24-octave bands around each band: a Hann window as wide as 8 bands (1/3 octave).
_KERNEL = np.hanning(17)
#: Fewer notes give no interval.
_FEWEST_NOTES = 3


def average_spectra(before: Curves, after: Curves) -> Averaged | None:
    """Average the spectra of two sides over the notes they share.

    Parameters
    ----------
    before, after
        Curves of the plucks by note; all on one 1/24-octave grid.

    Returns
    -------
    Averaged or None
        Levels in dBFS per 1/3 octave at the mean level of the notes, NaN where nothing stands
        above the quiet on both sides; None when no note is shared.
    """
    notes = tuple(note for note in before if note in after and before[note] and after[note])
    if not notes:
        return None
    axis = before[notes[0]][0].band_hz
    sides = [[_third_octaves(side[note]) for note in notes] for side in (before, after)]
    powers = [np.stack([_mean_power(rows) for rows in side]) for side in sides]
    weights = 1.0 / np.maximum(np.sum(powers[0] + powers[1], axis=1, keepdims=True), 1e-30)
    weights = weights / np.mean(weights)
    first, second = (power * weights for power in powers)
    both = (first > 0) & (second > 0)
    first, second = np.where(both, first, 0.0), np.where(both, second, 0.0)
    difference = _ratio_db(first, second)
    half = _jackknife_half_width(first, second)
    return Averaged(
        axis=axis,
        before=_db(np.mean(first, axis=0)),
        after=_db(np.mean(second, axis=0)),
        spread_before=_spread(sides[0], first),
        spread_after=_spread(sides[1], second),
        difference=difference,
        ci_low=difference - half,
        ci_high=difference + half,
        notes=notes,
    )


def _third_octaves(plucks: Sequence[PluckCurves]) -> FloatArray:
    """Powers of each pluck summed over 1/3 octave, shape (plucks, bands); 0 = not above quiet."""
    powers = np.stack([10.0 ** (np.asarray(one.band_dbfs) / 10.0) for one in plucks])
    powers = np.where(np.isfinite(powers), powers, 0.0)
    return np.stack([np.convolve(row, _KERNEL, mode="same") for row in powers])


def _mean_power(rows: FloatArray) -> FloatArray:
    """Mean of dB over plucks, as power; 0 where no pluck stands above the quiet."""
    present = rows > 0
    count = np.sum(present, axis=0)
    logs = np.where(present, np.log10(np.where(present, rows, 1.0)), 0.0)
    return np.where(count > 0, 10.0 ** (np.sum(logs, axis=0) / np.maximum(count, 1)), 0.0)


def _db(power: FloatArray) -> FloatArray:
    return np.where(power > 0, 10.0 * np.log10(np.where(power > 0, power, 1.0)), np.nan)


def _ratio_db(first: FloatArray, second: FloatArray) -> FloatArray:
    return _db(np.sum(second, axis=0)) - _db(np.sum(first, axis=0))


def _jackknife_half_width(first: FloatArray, second: FloatArray) -> FloatArray:
    """Half the 95 % interval of the difference; NaN where fewer than three notes have energy."""
    n = len(first)
    present = np.sum(first > 0, axis=0)
    if n < _FEWEST_NOTES:
        return np.full(first.shape[1], np.nan)
    left = np.stack(
        [_ratio_db(np.delete(first, i, axis=0), np.delete(second, i, axis=0)) for i in range(n)]
    )
    used = first > 0
    left = np.where(used, left, np.nan)
    counted = np.where(np.isfinite(left), left, 0.0)
    middle = np.sum(counted, axis=0) / np.maximum(present, 1)
    squares = np.sum(np.where(np.isfinite(left), (left - middle) ** 2, 0.0), axis=0)
    enough = present >= _FEWEST_NOTES
    safe = np.maximum(present, _FEWEST_NOTES)
    half = stats.t.ppf(0.975, safe - 1) * np.sqrt((safe - 1) / safe * squares)
    return np.asarray(np.where(enough, half, np.nan))


def _spread(side: Sequence[FloatArray], weighted: FloatArray) -> FloatArray:
    """Return the standard deviation in dB from pluck to pluck, notes weighted by their power."""
    variance = np.full(weighted.shape, np.nan)
    for place, rows in enumerate(side):
        if len(rows) > 1 and np.any(rows > 0):
            logs = np.where(rows > 0, 10.0 * np.log10(np.where(rows > 0, rows, 1.0)), np.nan)
            full = np.all(np.isfinite(logs), axis=0)
            safe = np.where(np.isfinite(logs), logs, 0.0)
            variance[place] = np.where(full, np.var(safe, axis=0, ddof=1), np.nan)
    known = np.isfinite(variance)
    share = np.where(known, weighted, 0.0)
    total = np.sum(share, axis=0)
    mean = np.sum(np.where(known, variance, 0.0) * share, axis=0) / np.where(total > 0, total, 1.0)
    return np.asarray(np.where(total > 0, np.sqrt(mean), np.nan))
