"""From two stages to blocks of differences: over the notes, per note, and per quiet stretch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tonecompare.compare.block import ALL_NOTES, Block, empty_block, join_blocks, text
from tonecompare.compare.pairs import Cell, Key, Pair, note_cells, pair_notes, quiet_cells
from tonecompare.compare.quantities import (
    QUANTITIES,
    Quantity,
    pluck_quantities,
    quiet_quantities,
)
from tonecompare.compare.statistics import Estimate, combine, moments, over_notes, welch
from tonecompare.measure.model import Measurements

FloatArray = NDArray[np.float64]

_INDEX = {quantity.column: index for index, quantity in enumerate(QUANTITIES)}

ONE_NOTE = (
    "Only one note was recorded in both stages; its plucks are repeats of one hand position, so "
    "the work cannot be told from the picking. Record at least 3 notes."
)
ONE_PLUCK = (
    "This note has fewer than two usable plucks on one side, so there is no telling how far "
    "re-plucking alone moves it. Record at least 3 plucks of it in each stage."
)
ONE_STRETCH = (
    "Only one quiet stretch and no uncertainty of its own on one side: leave two or more quiet "
    "stretches of 2 s in each recording."
)
NO_VARIATION = (
    "The repeats do not vary at all: they look like copies of one pluck, not repeats. Check the "
    "files."
)
NOT_BOTH = "Could not be measured on both sides; the flags of measurements.csv say why."


def stage_block(comparison: str, before: str, after: str, measurements: Measurements) -> Block:
    """Return every row of one stage against another, before any correction or control.

    Voices are matched by name and output, notes by name; what only one stage has is left out.
    """
    plucked, quiet = pluck_quantities(), quiet_quantities()
    blocks = [empty_block()]
    first = note_cells(measurements.plucks, before, plucked)
    second = note_cells(measurements.plucks, after, plucked)
    for key in first:
        if key in second and set(first[key]) & set(second[key]):
            pair = pair_notes(key, first[key], second[key])
            blocks.append(pluck_block(comparison, pair, plucked))
    silent = quiet_cells(measurements.quiet, before, quiet)
    later = quiet_cells(measurements.quiet, after, quiet)
    blocks.extend(
        quiet_block(comparison, key, silent[key], later[key], quiet)
        for key in silent
        if key in later
    )
    return join_blocks(blocks)


def pluck_block(comparison: str, pair: Pair, quantities: Sequence[Quantity]) -> Block:
    """Return the rows of one voice and output: over all notes first, then note by note."""
    return join_blocks(
        [_all_block(comparison, pair, quantities), _note_block(comparison, pair, quantities)]
    )


def _all_block(comparison: str, pair: Pair, quantities: Sequence[Quantity]) -> Block:
    differences = pair.note_differences
    there = np.isfinite(differences)
    notes = there.sum(axis=0).astype(np.float64)
    estimate = over_notes(differences)
    single = welch(
        pair.mean_before,
        pair.variance_before,
        pair.n_before,
        pair.mean_after,
        pair.variance_after,
        pair.n_after,
    )
    alone = notes == 1
    only = _only_note(single, alone)
    estimate = Estimate(
        estimate.difference,
        np.where(alone, only.se, estimate.se),
        np.where(alone, only.df, estimate.df),
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        repeats = np.nansum(np.where(there, single.se**2, np.nan), axis=0) / notes**2
    unjudged = text("", notes.size)
    unjudged[alone] = ONE_NOTE
    return _block(
        comparison,
        pair.voice,
        pair.output,
        text(ALL_NOTES, notes.size),
        quantities,
        means=(
            moments(np.where(there | (notes == 0), pair.mean_before, np.nan))[0],
            moments(np.where(there | (notes == 0), pair.mean_after, np.nan))[0],
        ),
        counts=(
            np.where(there | (notes == 0), pair.n_before, 0.0).sum(axis=0),
            np.where(there | (notes == 0), pair.n_after, 0.0).sum(axis=0),
            notes,
        ),
        estimate=estimate,
        repeat_variance=repeats,
        unjudged=unjudged,
    )


def _only_note(single: Estimate, alone: NDArray[np.bool_]) -> Estimate:
    """Welch's interval of the only note there is, for showing (it may claim nothing)."""
    se = np.where(alone, np.nanmax(np.where(np.isnan(single.se), -1.0, single.se), axis=0), np.nan)
    df = np.where(alone, np.nanmax(np.where(np.isnan(single.df), -1.0, single.df), axis=0), np.nan)
    return Estimate(se, np.where(se < 0, np.nan, se), np.where(df < 0, np.nan, df))


def _note_block(comparison: str, pair: Pair, quantities: Sequence[Quantity]) -> Block:
    estimate = welch(
        pair.mean_before,
        pair.variance_before,
        pair.n_before,
        pair.mean_after,
        pair.variance_after,
        pair.n_after,
    )
    blocks = []
    for index, note in enumerate(pair.notes):
        one = Estimate(estimate.difference[index], estimate.se[index], estimate.df[index])
        few = np.isfinite(one.difference) & ~np.isfinite(one.se)
        unjudged = text("", few.size)
        unjudged[few] = ONE_PLUCK
        blocks.append(
            _block(
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
    return join_blocks(blocks)


def quiet_block(
    comparison: str, key: Key, before: Cell, after: Cell, quantities: Sequence[Quantity]
) -> Block:
    """Return the rows of the quiet stretches of one voice and output.

    A side with two or more stretches is judged by their scatter; a side with one stretch by the
    measurement's own standard uncertainty, and not at all without one.
    """
    estimate = combine(
        after.mean - before.mean,
        np.stack([_mean_variance(before), _mean_variance(after)]),
        np.stack([_mean_df(before), _mean_df(after)]),
    )
    unjudged = text("", before.mean.size)
    unjudged[np.isfinite(estimate.difference) & ~np.isfinite(estimate.se)] = ONE_STRETCH
    return _block(
        comparison,
        key[0],
        key[1],
        text(ALL_NOTES, before.mean.size),
        quantities,
        means=(before.mean, after.mean),
        counts=(before.count, after.count, np.zeros(before.mean.size)),
        estimate=estimate,
        repeat_variance=estimate.se**2,
        unjudged=unjudged,
    )


def _mean_variance(cell: Cell) -> FloatArray:
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(cell.count >= 2, cell.variance / cell.count, cell.own_se**2)


def _mean_df(cell: Cell) -> FloatArray:
    return np.where(cell.count >= 2, cell.count - 1.0, np.inf)


def _block(
    comparison: str,
    voice: str,
    output: str,
    notes: NDArray[np.object_],
    quantities: Sequence[Quantity],
    *,
    means: tuple[FloatArray, FloatArray],
    counts: tuple[FloatArray, FloatArray, FloatArray],
    estimate: Estimate,
    repeat_variance: FloatArray,
    unjudged: NDArray[np.object_],
) -> Block:
    count = notes.size
    unmeasured = ~np.isfinite(estimate.difference)
    unjudged[unmeasured] = NOT_BOTH
    still = (estimate.se == 0.0) & (estimate.difference != 0.0)
    unjudged[still & (unjudged == "")] = NO_VARIATION
    block = Block(
        comparison=text(comparison, count),
        voice=text(voice, count),
        output=text(output, count),
        note=notes,
        quantity=np.array([_INDEX[quantity.column] for quantity in quantities], dtype=np.intp),
        mean_before=means[0],
        mean_after=means[1],
        n_before=counts[0],
        n_after=counts[1],
        n_notes=counts[2],
        difference=estimate.difference,
        se=estimate.se,
        df=estimate.df,
        repeat_variance=repeat_variance,
        raw_difference=estimate.difference,
        raw_se=estimate.se,
        raw_df=estimate.df,
        control_difference=np.full(count, np.nan),
        unjudged=unjudged,
    )
    # A quantity that neither side ever measured is no row at all.
    return block.rows(np.isfinite(means[0]) | np.isfinite(means[1]))
