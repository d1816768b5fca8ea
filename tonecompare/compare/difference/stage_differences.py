"""From two stages to blocks of differences: over notes, per note, voice and quiet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import (
    ALL_NOTES,
    DifferenceRows,
    join_rows,
    make_rows,
    no_rows,
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
from tonecompare.compare.reasons import ONE_NOTE, ONE_PLUCK
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES, Quantity, pluck_quantities, spread_of
from tonecompare.quantities.moved_by import OF_THE_SPECTRUM
from tonecompare.takes.plucks.passages import is_passage

#: No riff is played again by any hand with less of a single pluck's spread than this.
STEADIEST = 0.3


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
            blocks.append(pluck_block(comparison, pair, plucked))
    plucks = join_rows(blocks)
    if one_scatter:
        plucks = sharpen(plucks)
    quiets = quiet_block(comparison, before, after, measurements)
    voices = voice_block(comparison, before, after, measurements)
    rows = join_rows([plucks, voices, add_signal(quiets, plucks)])
    count = len(rows)
    return replace(rows, before=text(before, count), after=text(after, count))


def sharpen(block: DifferenceRows) -> DifferenceRows:
    """Return the block with the tests over the notes moderated (:mod:`…difference.moderation`).

    Quantities that scatter from note to note for reasons of their own (tuning, attack, picking
    place) neither lend nor borrow.
    """
    family = np.array([quantity.family for quantity in QUANTITIES], dtype=np.object_)
    rows = np.flatnonzero(
        (block.note == ALL_NOTES)
        & (block.n_notes >= 2)
        & np.isin(family[block.quantity], (*OF_THE_SPECTRUM, "decay"))
    )
    variance, df = moderate(
        block.se[rows] ** 2,
        block.df[rows],
        block.repeat_variance[rows],
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
    only = _only_note(single, alone)
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
    both sides (Student's t), and never by less than :data:`STEADIEST` of what plucks do; plucks of
    a note are not (Welch's).
    """
    sides = (
        pair.mean_before, pair.variance_before, pair.n_before,
        pair.mean_after, pair.variance_after, pair.n_after,
    )  # fmt: skip
    alike, unlike = pooled(*sides), welch(*sides)
    riff = np.array([is_passage(note) for note in pair.notes])[:, np.newaxis]
    least = STEADIEST * np.array([spread_of(quantity.column) for quantity in quantities])
    with np.errstate(divide="ignore"):
        steadiest = least * np.sqrt(1.0 / pair.n_before + 1.0 / pair.n_after)
    return Estimate(
        alike.difference,
        np.where(riff, np.maximum(alike.se, steadiest), unlike.se),
        np.where(riff, alike.df, unlike.df),
    )


def _only_note(single: Estimate, alone: NDArray[np.bool_]) -> Estimate:
    """Welch's interval of the only note there is, for showing (it may claim nothing)."""
    se = np.where(alone, np.nanmax(np.where(np.isnan(single.se), -1.0, single.se), axis=0), np.nan)
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
