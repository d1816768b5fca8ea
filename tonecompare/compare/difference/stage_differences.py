"""From two stages to blocks of differences: over notes, per note, voice and quiet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import (
    ALL_NOTES,
    DifferenceRows,
    join_rows,
    make_rows,
    no_rows,
    same,
    text,
)
from tonecompare.compare.difference.moderation import moderate
from tonecompare.compare.difference.quiet_differences import add_signal, quiet_block
from tonecompare.compare.difference.stage_pairs import NotePair, note_cells, pair_notes
from tonecompare.compare.difference.statistics import (
    Estimate,
    combine,
    moments,
    over_notes,
    pooled,
    welch,
)
from tonecompare.compare.difference.voice_differences import voice_block
from tonecompare.compare.glide_covariate import KIND, LEVEL, levels_at_one_glide
from tonecompare.compare.reasons import ONE_NOTE, ONE_PLUCK
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES, Quantity, pluck_quantities, spread_of
from tonecompare.quantities.moved_by import OF_THE_SPECTRUM
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.takes.plucks.passages import is_passage

#: How far a riff's repeats scatter is known beforehand with so many degrees of freedom: in loudness
#: and brightness as single plucks do at most, in the bands' shares as in riffs of two string models
#: (63 Hz to 8 kHz, dB; rounded up).
KNOWN_DF, LOUDNESS_DB = 4.0, 0.7
SHARES_DB = (0.6, 0.5, 0.3, 0.25, 0.2, 0.25, 0.8, 1.5)
#: How far strength is set elsewhere from note to note, as a share of its scatter from pluck to
#: pluck (assumed), and the families that it moves by as much as it moves.
HAND_SHARE = 0.3
OF_STRENGTH = ("level", "bands")


def stage_block(
    comparison: str,
    before: str,
    after: str,
    measurements: Measurements,
    *,
    one_scatter: bool = True,
) -> DifferenceRows:
    """Return every row of one stage against another, before any correction or control.

    Voices are matched by name and output, notes by name; what only one stage has is left out.
    ``one_scatter`` says that the quantities scatter alike over the notes, so that their tests may
    borrow from each other (:func:`sharpen`). Two voices, or two
    guitars, differ from note to note by their pickups' places: there nothing is borrowed.
    """
    plucked = pluck_quantities()
    blocks = [no_rows()]
    first = note_cells(measurements.plucks, before, plucked)
    second = note_cells(measurements.plucks, after, plucked)
    for key in first:
        if key in second and set(first[key]) & set(second[key]):
            pair = pair_notes(key, first[key], second[key])
            block = pluck_block(comparison, pair, plucked)
            if one_scatter:
                block = _level_at_one_glide(block, measurements.plucks, pair, before, after)
            blocks.append(block)
    plucks = join_rows(blocks)
    if one_scatter:
        plucks = sharpen(plucks)
    quiets = quiet_block(comparison, before, after, measurements)
    voices = voice_block(comparison, before, after, measurements)
    uneven = {key for key in first if set(first[key]) != set(second.get(key, ()))}
    rows = join_rows([plucks, voices, add_signal(quiets, plucks, uneven)])
    count = len(rows)
    return replace(rows, before=text(before, count), after=text(after, count))


def _level_at_one_glide(
    block: DifferenceRows, plucks: pd.DataFrame, pair: NotePair, before: str, after: str
) -> DifferenceRows:
    """Return the rows of a voice with its level judged at each note's common glide.

    Means and ``raw_…`` stay as recorded (:mod:`tonecompare.compare.glide_covariate`).
    """
    own = plucks[
        plucks["stage"].isin((before, after))
        & (plucks["voice"].astype(str) == pair.voice)
        & (plucks["output"].astype(str) == pair.output)
    ]
    level = levels_at_one_glide(own, before, after)
    if level is None:
        return block
    quantity = [one for one in pluck_quantities() if one.column == LEVEL]
    sides = (note_cells(own.assign(**{LEVEL: level}), stage, quantity) for stage in (before, after))
    key = (pair.voice, pair.output)
    steady = pluck_block("", pair_notes(key, *(side[key] for side in sides)), quantity)
    rows = np.flatnonzero(block.column == LEVEL)
    names = ("difference", "se", "df", "test_se", "test_df", "repeat_variance")
    changed = {name: getattr(block, name).copy() for name in names}
    for name, values in changed.items():
        values[rows] = getattr(steady, name)
    taken = block.adjusted_for.copy()
    taken[rows] = same((KIND,), rows.size)
    return replace(block, adjusted_for=taken, **changed)


def sharpen(block: DifferenceRows) -> DifferenceRows:
    """Return the block with the tests over the notes moderated (:mod:`…difference.moderation`).

    Quantities that scatter from note to note for reasons of their own (tuning, attack, picking
    place) neither lend nor borrow. A hand's strength is set anew for every note by a share of its
    scatter from pluck to pluck (:data:`HAND_SHARE`), which levels have beyond all else: with n
    plucks a note their notes scatter by 1 + n HAND_SHARE² times what the plucks say.
    """
    family = np.array([quantity.family for quantity in QUANTITIES], dtype=np.object_)
    rows = np.flatnonzero(
        (block.note == ALL_NOTES)
        & (block.n_notes >= 2)
        & np.isin(family[block.quantity], (*OF_THE_SPECTRUM, "decay"))
    )
    levels = np.isin(family[block.quantity[rows]], OF_STRENGTH)
    plucks = (block.n_before[rows] + block.n_after[rows]) / (2.0 * block.n_notes[rows])
    variance, df = moderate(
        block.se[rows] ** 2,
        block.df[rows],
        block.repeat_variance[rows] * np.where(levels, 1.0 + HAND_SHARE**2 * plucks, 1.0),
        block.n_before[rows] + block.n_after[rows] - 2.0 * block.n_notes[rows],
    )
    test_se, test_df = block.test_se.copy(), block.test_df.copy()
    test_se[rows], test_df[rows] = np.sqrt(variance), df
    return replace(block, test_se=test_se, test_df=test_df)


def pluck_block(comparison: str, pair: NotePair, quantities: Sequence[Quantity]) -> DifferenceRows:
    """Return the rows of one voice and output: over all notes first, then note by note."""
    return join_rows(
        [_all_block(comparison, pair, quantities), _note_block(comparison, pair, quantities)]
    )


@dataclass(frozen=True)
class OverNotes:
    """What the notes both sides share say together, over the quantities.

    Riffs are judged by their repeats alone: nothing is said of riffs that were not played.
    ``repeats`` is the part of ``se²`` that comes from re-plucking. Where one note alone tells
    (``notes == 1``), the estimate is Welch's of that note, for showing: it may claim nothing.
    """

    estimate: Estimate
    notes: FloatArray
    repeats: FloatArray
    there: NDArray[np.bool_]


def over_shared_notes(pair: NotePair, quantities: Sequence[Quantity]) -> OverNotes:
    """Return the mean of the notes' differences with what it is known by, quantity by quantity."""
    differences = pair.note_differences
    there = np.isfinite(differences)
    notes = there.sum(axis=0).astype(np.float64)
    estimate = over_notes(differences)
    single = _single_notes(pair, quantities)
    if all(is_passage(note) for note in pair.notes):
        with np.errstate(invalid="ignore", divide="ignore"):
            parts = np.where(there, single.se**2, 0.0) / notes**2
        mean = moments(np.where(there, single.difference, np.nan))[0]
        by_repeats = combine(mean, parts, np.where(there, single.df, 1.0))
        return OverNotes(by_repeats, notes, parts.sum(axis=0), there)
    alone = notes == 1
    only = _only_note(single, alone, _hand_set_anew(pair, there, quantities))
    estimate = Estimate(
        estimate.difference,
        np.where(alone, only.se, estimate.se),
        np.where(alone, only.df, estimate.df),
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        repeats = np.nansum(np.where(there, single.se**2, np.nan), axis=0) / notes**2
    return OverNotes(estimate, notes, repeats, there)


def _all_block(comparison: str, pair: NotePair, quantities: Sequence[Quantity]) -> DifferenceRows:
    over = over_shared_notes(pair, quantities)
    there, notes = over.there, over.notes
    unjudged = text("", notes.size)
    if not all(is_passage(note) for note in pair.notes):
        unjudged[notes == 1] = ONE_NOTE
    return make_rows(
        comparison,
        pair.voice,
        pair.output,
        text(ALL_NOTES, notes.size),
        quantities,
        means=(
            moments(np.where(there | (notes == 0), pair.centre_before, np.nan))[0],
            moments(np.where(there | (notes == 0), pair.centre_after, np.nan))[0],
        ),
        counts=(
            np.where(there | (notes == 0), pair.n_before, 0.0).sum(axis=0),
            np.where(there | (notes == 0), pair.n_after, 0.0).sum(axis=0),
            notes,
        ),
        estimate=over.estimate,
        repeat_variance=over.repeats,
        unjudged=unjudged,
    )


def _single_notes(pair: NotePair, quantities: Sequence[Quantity]) -> Estimate:
    """Judge each note by itself, (notes, quantities).

    Repeats of a riff are few and whole performances of one hand: they are taken to scatter alike on
    both sides (Student's t), and as hands do with the weight of :data:`KNOWN_DF` degrees of freedom
    (:func:`usual_scatter`); plucks of a note are not (Welch's).
    """
    sides = (
        (pair.mean_before, pair.variance_before, pair.n_before),
        (pair.mean_after, pair.variance_after, pair.n_after),
    )
    alike, unlike = pooled(*sides), welch(*sides)
    riff = np.array([is_passage(note) for note in pair.notes])[:, np.newaxis]
    usual = np.array([usual_scatter(quantity.column) for quantity in quantities])
    with np.errstate(divide="ignore", invalid="ignore"):
        known = usual**2 * (1.0 / pair.n_before + 1.0 / pair.n_after)
    known_df = np.where(usual > 0.0, KNOWN_DF, 0.0)
    df = alike.df + known_df
    variance = (alike.df * alike.se**2 + known_df * known) / df
    return Estimate(
        alike.difference,
        np.where(riff, np.sqrt(variance), unlike.se),
        np.where(riff, df, unlike.df),
    )


def usual_scatter(column: str) -> float:
    """Return the usual standard deviation from one repeat of a riff to the next.

    On the analysis scale; 0 where none is known beforehand.
    """
    if column in BAND_LEVELS:
        return max(spread_of(column), LOUDNESS_DB)
    if column in BAND_SHAPES:
        return SHARES_DB[BAND_SHAPES.index(column)]
    return {"level_dbfs": LOUDNESS_DB, "centroid_hz": spread_of("centroid_hz")}.get(column, 0.0)


def _hand_set_anew(
    pair: NotePair, there: NDArray[np.bool_], quantities: Sequence[Quantity]
) -> FloatArray:
    """Return how much further than its plucks say a note's mean scatters, a factor of variance.

    What a hand's strength moves is set anew for every note and stage (:data:`HAND_SHARE`): one note
    alone cannot show it.
    """
    moved = np.array([quantity.family in OF_STRENGTH for quantity in quantities])
    plucks = np.where(there, (pair.n_before + pair.n_after) / 2.0, 0.0).max(axis=0)
    return np.where(moved, 1.0 + HAND_SHARE**2 * plucks, 1.0)


def _only_note(single: Estimate, alone: NDArray[np.bool_], wider: FloatArray) -> Estimate:
    """Welch's interval of the only note there is, for showing (it may claim nothing)."""
    own = np.where(np.isnan(single.se), -1.0, single.se * np.sqrt(wider))
    se = np.where(alone, np.nanmax(own, axis=0), np.nan)
    df = np.where(alone, np.nanmax(np.where(np.isnan(single.df), -1.0, single.df), axis=0), np.nan)
    return Estimate(se, np.where(se < 0, np.nan, se), np.where(df < 0, np.nan, df))


def _note_block(comparison: str, pair: NotePair, quantities: Sequence[Quantity]) -> DifferenceRows:
    estimate = _single_notes(pair, quantities)
    blocks = []
    for index, note in enumerate(pair.notes):
        one = Estimate(estimate.difference[index], estimate.se[index], estimate.df[index])
        few = np.isfinite(one.difference) & ~np.isfinite(one.se)
        unjudged = text("", few.size)
        unjudged[few] = ONE_PLUCK
        blocks.append(
            make_rows(
                comparison,
                pair.voice,
                pair.output,
                text(note, few.size),
                quantities,
                means=(pair.mean_before[index], pair.mean_after[index]),
                counts=(
                    pair.n_before[index],
                    pair.n_after[index],
                    np.ones(few.size),
                ),
                estimate=one,
                repeat_variance=one.se**2,
                unjudged=unjudged,
            )
        )
    return join_rows(blocks)
