"""How many more plucks would settle an undecided row.

The variance of a difference is a part that more plucks shrink, ``R`` (divided by the factor ``f``
by which the plucks grow), and a part that they do not, ``V - R`` (how much the notes themselves
disagree). A row is settled when its half-width ``t sqrt(V - R + R/f)`` falls below ``h``: the room
left to the edge of the hearing threshold (then it is no change), or the size of the difference
(then it is shown). So ``f = R / (h²/t² - (V - R))``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import ALPHA, t_quantile


@dataclass(frozen=True)
class Needed:
    """Further plucks of each note in each stage, and further notes; inf where none would do."""

    plucks: FloatArray
    notes: FloatArray


def plucks_needed(
    block: DifferenceRows, share: FloatArray, threshold_low: FloatArray, threshold_high: FloatArray
) -> Needed:
    """Estimate, row by row, what would settle the row if its difference stays as it is.

    Parameters
    ----------
    block
        Differences on the analysis scale.
    share
        Share of the permitted error each row can count on.
    threshold_low, threshold_high
        Unheard band on the analysis scale, NaN where none is known.
    """
    with np.errstate(invalid="ignore"):
        room = np.minimum(threshold_high - block.difference, block.difference - threshold_low)
    room = np.where(room > 0.0, room, np.nan)
    equivalent = _to_reach(block, room, np.full(len(block), ALPHA / 2.0))
    shown = _to_reach(block, np.abs(block.difference), ALPHA * share / 2.0)
    return Needed(np.fmin(equivalent.plucks, shown.plucks), np.fmin(equivalent.notes, shown.notes))


def _to_reach(block: DifferenceRows, half_width: FloatArray, tail: FloatArray) -> Needed:
    variance = block.se**2
    repeats = np.fmin(block.repeat_variance, variance)
    fixed = variance - repeats
    many = block.n_notes > 1
    notes = np.maximum(block.n_notes, 1.0)
    now = (block.n_before + block.n_after) / (2.0 * notes)
    factor = np.ones(len(block))
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(6):
            t = t_quantile(1.0 - tail, np.where(many, block.df, block.df * factor))
            left = (half_width / t) ** 2 - fixed
            factor = np.where(left > 0.0, repeats / left, np.inf)
            factor = np.clip(factor, 0.0, 1e6)
        plucks = np.maximum(np.ceil(now * (factor - 1.0)), 1.0)
        in_all = notes
        for _ in range(12):
            t = t_quantile(1.0 - tail, in_all - 1.0)
            in_all = np.clip(variance * notes * (t / half_width) ** 2, 2.0, 1e6)
        more_notes = np.maximum(np.ceil(in_all - notes), 1.0)
    return Needed(np.where(factor >= 1e6, np.inf, plucks), np.where(many, more_notes, np.inf))
