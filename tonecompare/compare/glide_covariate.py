"""How hard each pluck was, as far as its glide tells: a covariate of the level.

Plucks of one note scatter in level by how hard and at which angle they were made, and how far the
pitch glides goes with both (``glide_cents``), whatever the pickup. Where the plucks of a session
show that level goes with glide *within* notes and stages, each pluck is brought to its note's
common glide before the stages are compared (analysis of covariance, Fisher 1932):

    L'_ij = L_ij - β (x_ij - x_i),   x = glide / its own scatter within the note,

β the slope within notes and stages, all notes of a voice together, x_i the mean of both stages'
means. Deviations within a stage say nothing about the stages' means, so choosing by them whether to
adjust, and by how much, leaves the error of the comparison what it was.

It is done where glides are too small to tell the hand's strength by themselves
(:data:`LEAST_CENTS`); where they are larger the cause "pick-strength" takes the strength out, once,
as it does of passages.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import special

from tonecompare.arrays import FloatArray
from tonecompare.measure.table import float_column
from tonecompare.takes.plucks.passages import is_passage

LEVEL, GLIDE = "level_dbfs", "glide_cents"
#: What the column ``adjusted_for`` calls it.
KIND = "glide"
#: Mean glide from which on it tells the strength by itself.
LEAST_CENTS = 0.5
#: Chance alone would show so close a relation this rarely.
SHOWN_P = 0.01
#: Fewer spare plucks than this show no relation.
LEAST_DF = 15


def levels_at_one_glide(plucks: pd.DataFrame, before: str, after: str) -> FloatArray | None:
    """Return the level of every pluck at its note's common glide.

    Parameters
    ----------
    plucks
        Plucks of one voice and output: ``stage``, ``note``, ``level_dbfs`` and ``glide_cents``.
    before, after
        Names of the two stages.

    Returns
    -------
    FloatArray or None
        (plucks,) levels in dB; None where the plucks show no such relation.
    """
    level, glide = float_column(plucks, LEVEL), float_column(plucks, GLIDE)
    x, within, level_within = np.full((3, level.size), np.nan)
    spare, means = -1, []  # one for the slope
    for sides in _notes(plucks, np.isfinite(level) & np.isfinite(glide), (before, after)):
        both = sides[0] | sides[1]
        mean = np.array([glide[side].mean() for side in sides])
        for side, own in zip(sides, mean, strict=True):
            within[side] = glide[side] - own
            level_within[side] = level[side] - level[side].mean()
        df = int(np.count_nonzero(both)) - 2
        scatter = float(np.sqrt(np.sum(within[both] ** 2) / df))
        if scatter > 0.0:
            x[both] = (glide[both] - mean.mean()) / scatter
            within[both] /= scatter
            spare += df
            means.append(mean)
    if spare < LEAST_DF or np.mean(means, axis=0).max() >= LEAST_CENTS:
        return None
    used = np.isfinite(x)
    slope = _slope(within[used], level_within[used], spare)
    return np.where(used, level - slope * x, level) if slope else None


def _notes(
    plucks: pd.DataFrame, known: NDArray[np.bool_], stages: tuple[str, str]
) -> Iterator[list[NDArray[np.bool_]]]:
    """Yield the plucks of both stages of every note that has two in each."""
    stage, note = (plucks[name].astype(str).to_numpy() for name in ("stage", "note"))
    for name in dict.fromkeys(note[known & (note != "")]):
        if is_passage(name):
            continue
        sides = [known & (note == name) & (stage == one) for one in stages]
        if min(np.count_nonzero(side) for side in sides) >= 2:
            yield sides


def _slope(x: FloatArray, y: FloatArray, df: int) -> float:
    """Slope of y on x, both about their means; 0 where chance alone might have made it."""
    squares = float(x @ x)
    slope = float(x @ y) / squares
    left = float(np.sum((y - slope * x) ** 2)) / df
    t = abs(slope) * np.sqrt(squares / max(left, 1e-30))
    return slope if 2.0 * float(special.stdtr(df, -t)) < SHOWN_P else 0.0
