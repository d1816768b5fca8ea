"""Two stages side by side: means, variances and counts per voice, output, note and quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.statistics import hodges_lehmann, moments
from tonecompare.measure.table import float_column
from tonecompare.quantities.compared import Quantity

if TYPE_CHECKING:
    import pandas as pd

Key = tuple[str, str]


@dataclass(frozen=True)
class NotePair:
    """One voice and output of two stages, over the notes both share.

    Arrays have shape (notes, quantities) and are on the analysis scale of each quantity.
    ``centre_…`` is the Hodges–Lehmann location of a note's plucks.
    """

    voice: str
    output: str
    notes: tuple[str, ...]
    centre_before: FloatArray
    mean_before: FloatArray
    variance_before: FloatArray
    n_before: FloatArray
    centre_after: FloatArray
    mean_after: FloatArray
    variance_after: FloatArray
    n_after: FloatArray

    @property
    def note_differences(self) -> FloatArray:
        """After minus before by centres, (notes, quantities), NaN where a side has no value."""
        return self.centre_after - self.centre_before


@dataclass(frozen=True)
class NoteCell:
    """Plucks of one note (or stretches of one voice) at one stage, over the quantities."""

    centre: FloatArray
    mean: FloatArray
    variance: FloatArray
    count: FloatArray
    #: Root mean square of the measurements' own standard uncertainties, NaN where none is given.
    own_se: FloatArray


def scale_matrix(frame: pd.DataFrame, quantities: Sequence[Quantity]) -> FloatArray:
    """Return (rows, quantities) on the analysis scale; a column that is absent is all NaN."""
    matrix = np.full((len(frame), len(quantities)), np.nan)
    for index, quantity in enumerate(quantities):
        if quantity.column in frame.columns:
            matrix[:, index] = quantity.to_scale(float_column(frame, quantity.column))
    matrix[~np.isfinite(matrix)] = np.nan
    return matrix


def se_matrix(frame: pd.DataFrame, quantities: Sequence[Quantity]) -> FloatArray:
    """Return the standard uncertainties on the analysis scale, NaN where none is given."""
    matrix = np.full((len(frame), len(quantities)), np.nan)
    for index, quantity in enumerate(quantities):
        column = f"{quantity.column}_se"
        if column not in frame.columns:
            continue
        uncertainty = float_column(frame, column)
        if quantity.ratio and quantity.column in frame.columns:
            with np.errstate(divide="ignore", invalid="ignore"):
                uncertainty = uncertainty / np.abs(float_column(frame, quantity.column))
        matrix[:, index] = uncertainty
    matrix[~np.isfinite(matrix)] = np.nan
    return matrix


def note_cells(
    plucks: pd.DataFrame, stage: str, quantities: Sequence[Quantity]
) -> dict[Key, dict[str, NoteCell]]:
    """Gather the plucks of a stage by (voice, output), then note. Unnamed notes are left out."""
    frame = plucks[plucks["stage"] == stage]
    frame = frame[frame["note"].notna() & (frame["note"] != "")]
    cells: dict[Key, dict[str, NoteCell]] = {}
    for (voice, output, note), cell in _cells(frame, ["voice", "output", "note"], quantities):
        cells.setdefault((voice, output), {})[note] = cell
    return cells


def quiet_cells(
    quiet: pd.DataFrame, stage: str, quantities: Sequence[Quantity]
) -> dict[Key, NoteCell]:
    """Gather the quiet stretches of a stage by (voice, output)."""
    frame = quiet[quiet["stage"] == stage]
    return {
        (voice, output): cell
        for (voice, output), cell in _cells(frame, ["voice", "output"], quantities)
    }


def pair_notes(
    key: Key,
    before: dict[str, NoteCell],
    after: dict[str, NoteCell],
    *,
    notes: Sequence[str] | None = None,
) -> NotePair:
    """Put the notes that both stages share side by side, in the order of ``before``."""
    shared = [note for note in before if note in after] if notes is None else list(notes)
    return NotePair(
        key[0],
        key[1],
        tuple(shared),
        *_stack([before[note] for note in shared]),
        *_stack([after[note] for note in shared]),
    )


def _stack(cells: Sequence[NoteCell]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    return (
        np.stack([cell.centre for cell in cells]),
        np.stack([cell.mean for cell in cells]),
        np.stack([cell.variance for cell in cells]),
        np.stack([cell.count for cell in cells]),
    )


def _cells(
    frame: pd.DataFrame, keys: list[str], quantities: Sequence[Quantity]
) -> list[tuple[tuple[str, ...], NoteCell]]:
    if frame.empty:
        return []
    values, own = scale_matrix(frame, quantities), se_matrix(frame, quantities)
    columns = [frame[key].astype(str).to_numpy() for key in keys]
    groups: dict[tuple[str, ...], list[int]] = {}
    for row, group in enumerate(zip(*columns, strict=True)):
        groups.setdefault(group, []).append(row)
    repeats = _repeats(frame)
    found: list[tuple[tuple[str, ...], NoteCell]] = []
    for group, rows in groups.items():
        one = _one_per_repeat(values[rows], repeats[rows])
        squares, _, _ = moments(own[rows] ** 2)
        found.append((group, NoteCell(hodges_lehmann(one), *moments(one), np.sqrt(squares))))
    return found


def _repeats(frame: pd.DataFrame) -> NDArray[np.int64]:
    """Return the number of each row's repeat: two channels of one output carry the same pluck."""
    by = [name for name in ("file", "pluck", "start_s") if name in frame.columns]
    if "channel" not in frame.columns or frame["channel"].nunique() < 2 or len(by) < 2:
        return np.arange(len(frame), dtype=np.int64)
    groups = frame.groupby(by, sort=False, dropna=False).ngroup()
    return np.asarray(groups, dtype=np.int64)


def _one_per_repeat(values: FloatArray, repeats: NDArray[np.int64]) -> FloatArray:
    numbers, where = np.unique(repeats, return_inverse=True)
    if numbers.size == repeats.size:
        return values
    return np.stack([moments(values[where == index])[0] for index in range(numbers.size)])
