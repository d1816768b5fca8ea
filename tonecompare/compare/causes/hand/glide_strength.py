"""How much harder it was picked, by how far the notes glide: the one sign no pickup can make.

A pluck's glide (``tonecompare/measure/partials/pitch_glide.py``) grows with the string's swing,
and the string's swing with the hand, whatever pickup, gain or circuit follows. So the ratio of the
glides of a note before and after tells the strength: ``g_after = g_before 10^(GROWTH s / 10)``, s
in dB of the level that the hand makes.

The likelihood of every strength within what hands do (:data:`HANDS_DB`) is taken over the notes:
``d = g_after - 10^(GROWTH s/10) g_before`` is zero in the mean, with the variance of both means
(pluck to pluck, never finer than :data:`FLOOR_CENTS`), of a part of the glide that is not the
hand's (beats: :data:`NOT_THE_HANDS_CENTS`, the same in both stages) and of what a note differs from
the others in (:data:`NOTES_DIFFER_DB`). Tails are Student's, so that one odd note decides nothing.
With what hands do (:data:`HANDS_SD_DB`) it gives mean and interval. Where glides are small every
strength is as likely and the interval says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_correction import numbers
from tonecompare.compare.glide_covariate import GLIDE, LEAST_CENTS
from tonecompare.takes.plucks.passages import is_passage

#: Decibels (10 lg) of glide per decibel of level: 1.0 by the square of the swing, 1.6 and 1.45
#: from mezzo-forte to forte on two real guitars. And its relative standard uncertainty.
GROWTH = 1.25
GROWTH_SHARE = 0.2
#: No hand is taken to have played more than this harder or softer, and how far hands differ from
#: one stage to the next where nobody tries to play alike (standard deviation).
HANDS_DB, HANDS_SD_DB = 10.0, 5.0
FLOOR_CENTS = 0.15
NOT_THE_HANDS_CENTS = 0.25
NOTES_DIFFER_DB = 1.0
#: Glides tell a hand from this strength and significance on: of 2418 halves of equal plucks none.
SMALLEST_STRENGTH_DB = 1.0
FOUND_BY_GLIDE_P = 0.03
#: How far the glides of equal plucks scatter, and how many plucks' worth this is held.
SCATTER_SHARE = 0.25
_HELD_PLUCKS = 4.0
_TAILS = 4.0
#: Half a 95 % interval over its standard deviation.
_HALF_95 = 1.96
_STRENGTHS_DB = np.linspace(-HANDS_DB, HANDS_DB, 201)
_DB = np.log(10.0) / 10.0


@dataclass(frozen=True)
class GlideStrength:
    """How much harder it was picked after, dB.

    ``low_db``, ``high_db`` are a 95 % interval, at most what hands do; ``p_value`` is that of
    equal strength; ``before_cents``, ``after_cents`` the mean glides of the notes of both.
    """

    strength_db: float
    low_db: float
    high_db: float
    p_value: float
    n_notes: int
    before_cents: float
    after_cents: float

    def allows(self, level_db: float) -> bool:
        """Whether the hand alone can have moved the level by half of this."""
        needed = 0.5 * level_db
        return self.high_db >= needed if needed >= 0.0 else self.low_db <= needed


def glide_strength(plucks: pd.DataFrame, *, before: str, after: str) -> GlideStrength | None:
    """Return how much harder it was picked after; None where glides do not tell.

    They do not without two of a note in both stages, and below :data:`LEAST_CENTS` in both.

    Parameters
    ----------
    plucks
        Plucks of one voice and output, both stages: ``stage``, ``note``, ``glide_cents`` and its
        standard error.
    before, after
        Names of the stages.
    """
    notes = list(_means(plucks, (before, after)))
    if not notes:
        return None
    lost = np.sum([_lost(*note) for note in notes], axis=0)
    lost = lost - lost.min()
    weight = np.exp(-0.5 * (lost + np.square(_STRENGTHS_DB / HANDS_SD_DB)))
    middle = float(np.average(_STRENGTHS_DB, weights=weight))
    variance = float(np.average(np.square(_STRENGTHS_DB - middle), weights=weight))
    half = _HALF_95 * float(np.sqrt(variance + (GROWTH_SHARE * middle) ** 2))
    low, high = max(middle - half, -HANDS_DB), min(middle + half, HANDS_DB)
    same = float(np.interp(0.0, _STRENGTHS_DB, lost))
    glides = np.array([(note[0][0], note[1][0]) for note in notes])
    if glides.mean(axis=0).max() < LEAST_CENTS:
        return None
    return GlideStrength(
        middle, low, high, float(special.chdtrc(1.0, same)),
        len(notes), *(float(mean) for mean in glides.mean(axis=0)),
    )  # fmt: skip


def shows_a_hand(glide: GlideStrength) -> bool:
    """Whether the glides alone say that it was picked harder or softer."""
    far = abs(glide.strength_db) >= SMALLEST_STRENGTH_DB
    return far and glide.p_value < FOUND_BY_GLIDE_P


Mean = tuple[float, float]


def _means(plucks: pd.DataFrame, stages: tuple[str, str]) -> Iterator[tuple[Mean, Mean]]:
    """Yield mean glide and its variance on both sides of every note.

    Passages have glides of their own (:mod:`…hand.passage_strength`); where notes were plucked
    besides, the notes tell, as they do to :mod:`tonecompare.compare.glide_covariate`.
    """
    values = numbers(plucks, [GLIDE, f"{GLIDE}_se"])
    stage = plucks["stage"].astype(str).to_numpy()
    note = plucks["note"].astype(str).to_numpy()
    known = np.isfinite(values[:, 0]) & (note != "")
    for name in dict.fromkeys(note[known]):
        if is_passage(name):
            continue
        sides = [values[known & (stage == s) & (note == name)] for s in stages]
        if min(len(side) for side in sides) >= 2:
            before, after = (_mean(*side.T) for side in sides)
            yield before, after


def _mean(cents: FloatArray, se: FloatArray) -> Mean:
    mean = float(cents.mean())
    own = float(np.mean(np.square(np.nan_to_num(se)))) + (SCATTER_SHARE * max(mean, 0.0)) ** 2
    seen = float(np.sum(np.square(cents - mean)))
    variance = (_HELD_PLUCKS * own + seen) / (_HELD_PLUCKS + cents.size - 1.0)
    return mean, variance / cents.size + FLOOR_CENTS**2


def _lost(before: Mean, after: Mean) -> FloatArray:
    """Minus twice the log likelihood of every strength, from one note."""
    ratio = 10.0 ** (GROWTH * _STRENGTHS_DB / 10.0)
    apart = after[0] - ratio * before[0]
    differs = _DB * GROWTH * NOTES_DIFFER_DB
    variance = (
        after[1]
        + ratio**2 * before[1]
        + ((1.0 - ratio) * NOT_THE_HANDS_CENTS) ** 2
        + differs**2 * ratio * max(before[0], 0.0) * max(after[0], 0.0)
    )
    lost: FloatArray = (_TAILS + 1.0) * np.log1p(apart**2 / variance / _TAILS)
    return lost
