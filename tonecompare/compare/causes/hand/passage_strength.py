"""How hard each passage was picked, taken out of its loudness: the hand as a covariate.

A passage's glide (:mod:`tonecompare.measure.played.passage_glides`) tells its strength whatever the
pickup does: ``s = (10 / GROWTH) lg (g - BEATS)``, in dB of the level that the hand makes (within a
stage to first order about its mean, since one glide is noisier than their mean). What is left of
its level, ``v - s``, scatters far less from repeat to repeat than the level does, and a hand that
played all of one stage harder is gone from it. The slope is known from the string and not fitted to
the passages, so that no work can be taken for a hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.causes.cause_findings import Adjustment
from tonecompare.compare.causes.hand.glide_strength import GROWTH, GROWTH_SHARE, GlideStrength
from tonecompare.compare.causes.hand.hand_effects import LEVELS
from tonecompare.compare.causes.rows_to_explain import VoiceRows
from tonecompare.compare.comb_correction import numbers
from tonecompare.compare.difference.difference_rows import ALL_NOTES
from tonecompare.compare.difference.stage_differences import KNOWN_DF, usual_scatter
from tonecompare.compare.difference.statistics import Estimate, pooled, t_quantile
from tonecompare.compare.glide_covariate import GLIDE
from tonecompare.quantities.octave_bands import BAND_LEVELS
from tonecompare.takes.plucks.passages import is_passage

#: What two polarisations' beats add to the fall of pitch in a quarter of a second, cents, and its
#: standard uncertainty: 0.04 to 0.15 in riffs of strings that do not stretch.
BEATS_CENTS, BEATS_SD_CENTS = 0.1, 0.1
#: Glides tell from this mean of a stage on, where one passage's strength is known to so many dB:
#: bends, slides and vibrato move pitches by more than any pick.
LEAST_RIFF_CENTS, MOST_SE_DB = 0.3, 0.8
_PER_NEPER = 10.0 / (GROWTH * np.log(10.0))
#: What a strength moves by its own decibels.
_LEVELS = (*LEVELS, *BAND_LEVELS)
_HALF_95 = 1.96


@dataclass(frozen=True)
class RiffStrengths:
    """The repeats of one riff on both sides, and how much harder it was played after.

    ``before``, ``after`` have shape (3, repeats): strength in dB re an arbitrary one, its standard
    error, and the level.
    """

    note: str
    before: FloatArray
    after: FloatArray
    strength: GlideStrength


def only_passages(plucks: pd.DataFrame, *, before: str, after: str) -> bool:
    """Whether all that was played on both sides is passages.

    What only one side has (the notes of a repeat that broke off) is compared with nothing.
    """
    stage, note = (plucks[name].astype(str) for name in ("stage", "note"))
    names = (set(note[stage == before]) & set(note[stage == after])) - {""}
    return bool(names) and all(is_passage(name) for name in names)


def riff_strengths(plucks: pd.DataFrame, *, before: str, after: str) -> tuple[RiffStrengths, ...]:
    """Return how hard each riff was played; () unless every repeat of every riff tells.

    They do not with fewer than two repeats on a side, where glides are below
    :data:`LEAST_RIFF_CENTS` on both, and where they scatter beyond :data:`MOST_SE_DB`.

    Parameters
    ----------
    plucks
        Passages of one voice and output, both stages.
    before, after
        Names of the stages.
    """
    found = []
    stage, note = (plucks[name].astype(str).to_numpy() for name in ("stage", "note"))
    values = numbers(plucks, [GLIDE, f"{GLIDE}_se", "level_dbfs"])
    on_both = set(note[stage == before]) & set(note[stage == after])
    for name in dict.fromkeys(note):
        if name not in on_both:
            continue
        sides = [values[(stage == side) & (note == name)] for side in (before, after)]
        if not all(len(side) >= 2 and np.isfinite(side).all() for side in sides):
            return ()
        means = [float(side[:, 0].mean()) for side in sides]
        if max(means) < LEAST_RIFF_CENTS or min(means) <= 2.0 * BEATS_CENTS:
            return ()
        strengths = [_strengths(side) for side in sides]
        if np.concatenate([side[1] for side in strengths]).mean() > MOST_SE_DB:
            return ()
        found.append(RiffStrengths(name, strengths[0], strengths[1], _moved(strengths, means)))
    return tuple(found)


def _strengths(side: FloatArray) -> FloatArray:
    """Turn glides, their errors and levels into strengths, their errors and levels."""
    glide, se, level = side.T
    own = float(glide.mean()) - BEATS_CENTS
    strength = np.log(own) + (glide - glide.mean()) / own
    return np.array([_PER_NEPER * strength, _PER_NEPER * se / own, level])


def _moved(strengths: list[FloatArray], means: list[float]) -> GlideStrength:
    """Return how much harder the second side was played, the hand's own scatter in it."""
    moved = float(strengths[1][0].mean() - strengths[0][0].mean())
    variance = sum(float(np.square(side[1]).sum()) / side.shape[1] ** 2 for side in strengths)
    p_value = Estimate(np.array(moved), np.sqrt(np.array(variance)), np.array(np.inf)).p_value
    half = _HALF_95 * float(np.hypot(np.sqrt(variance), _not_known_db(moved, means)))
    return GlideStrength(moved, moved - half, moved + half, float(p_value), 1, *means)


def _not_known_db(moved_db: float, means: list[float]) -> float:
    """Return what is not known of a strength: how glide grows with it, and what beats add."""
    one, other = (1.0 / (glide - BEATS_CENTS) for glide in means)
    beats = BEATS_SD_CENTS * _PER_NEPER * (one - other)
    return float(np.hypot(GROWTH_SHARE * moved_db, beats))


def over_riffs(riffs: Sequence[RiffStrengths]) -> GlideStrength:
    """Return how much harder all riffs were played, each counting the same."""
    each = [riff.strength for riff in riffs]
    middle = float(np.mean([one.strength_db for one in each]))
    half = float(np.mean([one.high_db - one.strength_db for one in each]))
    glides = np.mean([(one.before_cents, one.after_cents) for one in each], axis=0)
    p_value = min(1.0, len(each) * min(one.p_value for one in each))
    return GlideStrength(middle, middle - half, middle + half, p_value, len(each), *glides.tolist())


def without_strength(
    voice: VoiceRows, riffs: Sequence[RiffStrengths], kind: str
) -> Iterator[Adjustment]:
    """Yield the levels with every repeat's strength taken out of its own.

    The variance of a row changes by as much as that of the level's mean does when each level is
    less its strength (Student's t, :func:`…difference.statistics.pooled`), and grows by what is
    not known of how glide goes with strength.
    """
    table = voice.table
    for row in voice.places.tolist():
        of = [riff for riff in riffs if table.note[row] in (ALL_NOTES, riff.note)]
        if table.column[row] not in _LEVELS or not of or not np.isfinite(table.se[row]):
            continue
        moved = float(np.mean([riff.strength.strength_db for riff in of]))
        as_is, less = (sum(each) / len(of) ** 2 for each in zip(*map(_variances, of), strict=True))
        unknown = np.mean(
            [
                _not_known_db(s.strength_db, [s.before_cents, s.after_cents])
                for s in (riff.strength for riff in of)
            ]
        )
        variance = max(float(table.se[row]) ** 2 - as_is + less, less) + float(unknown) ** 2
        half = float(t_quantile(0.975, table.df[row])) * float(np.sqrt(variance))
        difference = float(table.difference[row]) - moved
        yield Adjustment(row, difference, difference - half, difference + half, kind)


def _variances(riff: RiffStrengths) -> tuple[float, float]:
    """Return squared standard errors of the level's difference as it is, and less the strengths.

    Both with what is known beforehand of how a riff's repeats scatter.
    """
    levels = [side[2] for side in (riff.before, riff.after)]
    left = [side[2] - side[0] for side in (riff.before, riff.after)]
    as_is, less = (
        pooled(*((of.mean(), of.var(ddof=1), of.size) for of in sides)) for sides in (levels, left)
    )
    counted = sum(1.0 / side.size for side in levels)
    known = KNOWN_DF * usual_scatter("level_dbfs") ** 2 * counted
    own = float(as_is.df)
    before, after = ((own * float(one.se) ** 2 + known) / (own + KNOWN_DF) for one in (as_is, less))
    return before, after
