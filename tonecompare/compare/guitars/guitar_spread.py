"""Spread between guitars of one model, and between sessions in which nothing was done.

Two guitars of one model differ before anyone touches them. Where several unmodified ones were
recorded, their spread says how much; a modified one lies outside it when its distance from their
mean exceeds ``t s sqrt(1 + 1/G)`` (the 95 % prediction interval for one more guitar of the kind,
``t`` with ``G - 1`` degrees of freedom). In the same way a stage recorded twice with no work in
between says what another session brings: sessions, not plucks, are the unit of a claim about the
work.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import ALL_NOTES
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.difference.stage_pairs import Key, note_cells
from tonecompare.compare.difference.statistics import moments, t_quantile
from tonecompare.compare.planned import planned_comparisons
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES, Quantity, pluck_quantities
from tonecompare.session.model import Session, Stage

GUITARS = (
    "stage", "voice", "output", "quantity", "unit", "n_guitars", "n_notes", "guitars_sd",
    "difference", "expected_low", "expected_high", "outside",
)  # fmt: skip
SESSIONS = ("voice", "output", "quantity", "unit", "n_pairs", "drift", "drift_sd")

#: Guitars below which a spread says next to nothing.
FEWEST_GUITARS = 3


def stock_stages(session: Session, model: str) -> tuple[Stage, ...]:
    """Return one stage per unmodified guitar of a model: no work done, first of its instrument.

    Guitars whose model nobody gave ("") have no kind to be a spread of.
    """
    found: dict[str, Stage] = {}
    for stage in session.stages.values():
        of_model = bool(model) and session.instrument_of(stage.name).model == model
        if of_model and not stage.work and stage.from_stage is None:
            found.setdefault(stage.instrument, stage)
    return tuple(found.values())


def repeat_pairs(session: Session) -> tuple[tuple[str, str], ...]:
    """Return (earlier, later) stages of one instrument without any work in between.

    A pair that is compared is no repeat, even where session.toml lists no work for it.
    """
    compared = {(spec.before, spec.after) for spec in planned_comparisons(session)}
    return tuple(
        (stage.from_stage, stage.name)
        for stage in session.stages.values()
        if stage.from_stage in session.stages
        and stage.from_stage is not None
        and not stage.work
        and (stage.from_stage, stage.name) not in compared
        and session.stages[stage.from_stage].instrument == stage.instrument
    )


def guitars_table(session: Session, measurements: Measurements) -> pd.DataFrame:
    """Return how every stage of a worked-on guitar stands to the unmodified ones of its model.

    A row per stage with work behind it, voice, output and quantity: ``difference`` from the mean
    of the unmodified guitars, the interval within which one more unmodified guitar is expected,
    and whether the stage lies ``outside``. Empty with fewer than three unmodified guitars of the
    model.
    """
    quantities = pluck_quantities()
    rows: list[pd.DataFrame] = []
    worked: dict[str, list[str]] = {}
    for stage in session.stages.values():
        if stage.work or stage.from_stage is not None:
            worked.setdefault(session.instrument_of(stage.name).model, []).append(stage.name)
    for model, stages in worked.items():
        stock = [stage.name for stage in stock_stages(session, model)]
        if len(stock) >= FEWEST_GUITARS:
            means = {name: note_means(measurements, name) for name in (*stock, *stages)}
            for name in stages:
                rows.extend(_against_stock(name, stock, means, quantities))
    return pd.concat(rows, ignore_index=True) if rows else pd.DataFrame(columns=list(GUITARS))


def note_means(measurements: Measurements, stage: str) -> dict[Key, dict[str, FloatArray]]:
    """Return the Hodges–Lehmann location of every note by (voice, output), (quantities,) each."""
    cells = note_cells(measurements.plucks, stage, pluck_quantities())
    return {
        key: {note: cell.centre for note, cell in notes.items()} for key, notes in cells.items()
    }


def _against_stock(
    stage: str,
    stock: Sequence[str],
    means: dict[str, dict[Key, dict[str, FloatArray]]],
    quantities: Sequence[Quantity],
) -> list[pd.DataFrame]:
    rows = []
    for key, own in means[stage].items():
        others = [means[name][key] for name in stock if key in means[name]]
        notes = [note for note in own if all(note in other for other in others)]
        if len(others) < FEWEST_GUITARS or not notes:
            continue
        stack = np.stack([np.stack([other[note] for note in notes]) for other in others])
        mine = np.stack([own[note] for note in notes])
        usable = np.isfinite(stack).all(axis=0) & np.isfinite(mine)
        guitars = moments(np.where(usable, stack, np.nan), axis=1)[0]
        mean, variance, count = moments(guitars)
        difference = moments(np.where(usable, mine, np.nan))[0] - mean
        with np.errstate(invalid="ignore", divide="ignore"):
            half = t_quantile(0.975, count - 1.0) * np.sqrt(variance * (1.0 + 1.0 / count))
        rows.append(
            _frame(
                quantities,
                np.isfinite(difference) & np.isfinite(half),
                (difference, -half, half, np.sqrt(variance)),
                stage=stage,
                voice=key[0],
                output=key[1],
                n_guitars=len(others),
                n_notes=usable.sum(axis=0),
            )
        )
    return rows


def _frame(
    quantities: Sequence[Quantity],
    keep: NDArray[np.bool_],
    numbers: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    *,
    stage: str,
    voice: str,
    output: str,
    n_guitars: int,
    n_notes: NDArray[np.int_],
) -> pd.DataFrame:
    difference, low, high, sd = numbers
    rows = [
        (
            stage, voice, output, quantity.column, quantity.units[0], n_guitars, int(n_notes[i]),
            *(float(quantity.from_scale(x[i])) for x in (sd, difference, low, high)),
            bool(abs(difference[i]) > high[i]),
        )
        for i, quantity in enumerate(quantities)
        if keep[i]
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(GUITARS))


def sessions_table(session: Session, measurements: Measurements) -> pd.DataFrame:
    """Return what changed between sessions in which nothing was done.

    A row per voice, output and quantity over all such pairs: their mean ``drift`` and its
    standard deviation about zero, in the quantity's unit. Empty without a repeated stage.
    """
    found: dict[tuple[str, str, int], list[float]] = {}
    for before, after in repeat_pairs(session):
        block = stage_block("", before, after, measurements)
        for row in np.flatnonzero((block.note == ALL_NOTES) & np.isfinite(block.difference)):
            key = (str(block.voice[row]), str(block.output[row]), int(block.quantity[row]))
            found.setdefault(key, []).append(float(block.difference[row]))
    rows = []
    for (voice, output, index), drifts in found.items():
        quantity, values = QUANTITIES[index], np.array(drifts)
        mean, size = float(values.mean()), float(np.sqrt((values**2).mean()))
        rows.append(
            (
                voice, output, quantity.column, quantity.units[0], len(drifts),
                float(quantity.from_scale(mean)), float(quantity.from_scale(size)),
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=list(SESSIONS))
