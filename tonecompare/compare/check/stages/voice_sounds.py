"""How each recording sounds: median level and partials by note, and how far apart two are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.compare.check.check_results import Checked
from tonecompare.quantities.registry import PARTIAL_LEVELS

#: Partials compared: where level and pickup comb both show and noise does not.
_PARTIALS = PARTIAL_LEVELS[:10]
#: Fewer partials in common do not tell two sounds apart.
_LEAST = 8

Key = tuple[str, str, str]


@dataclass(frozen=True)
class Sounds:
    """Medians over the plucks of a note: ``level_db`` (S, N).

    ``keys`` are (stage, voice, output), NaN where a recording lacks a note. ``apart_db`` (S, S) is
    the RMS difference of partial levels over shared notes and partials, NaN with too few.
    """

    keys: tuple[Key, ...]
    level_db: FloatArray
    apart_db: FloatArray

    def level_change_db(self, one: int, other: int) -> float:
        """Return the median over shared notes of other minus one, NaN without any."""
        change = self.level_db[other] - self.level_db[one]
        change = change[np.isfinite(change)]
        return float(np.median(change)) if change.size else float("nan")

    def notes_shared(self, one: int, other: int) -> int:
        """Return how many notes both have a level of."""
        return int(np.isfinite(self.level_db[one] - self.level_db[other]).sum())


def sounds_of(checked: Checked) -> Sounds:
    """Return the sounds of every stage, voice and output."""
    table = checked.plucks[checked.plucks["note"] != ""]
    columns = ["level_dbfs", *_PARTIALS]
    medians = table.groupby(["stage", "voice", "output", "note"], sort=False)[columns].median()
    index = [tuple(str(part) for part in names) for names in medians.index]
    keys = tuple(dict.fromkeys((s, v, o) for s, v, o, _ in index))
    notes = tuple(dict.fromkeys(note for *_, note in index))
    values = np.full((len(keys), len(notes), len(columns)), np.nan)
    row_of = {key: row for row, key in enumerate(keys)}
    column_of = {note: column for column, note in enumerate(notes)}
    for (stage, voice, output, note), row in zip(index, medians.to_numpy(float), strict=True):
        values[row_of[stage, voice, output], column_of[note]] = row
    return Sounds(keys, values[:, :, 0], _apart_db(values[:, :, 1:]))


def _apart_db(partials: FloatArray) -> FloatArray:
    """RMS over shared notes and partials, each weighing the same."""
    flat = partials.reshape(len(partials), math.prod(partials.shape[1:]))
    apart = np.full((len(flat), len(flat)), np.nan)
    for row, one in enumerate(flat):
        square = (flat - one) ** 2
        shared = np.isfinite(square)
        count = shared.sum(axis=1)
        total = np.where(shared, square, 0.0).sum(axis=1)
        enough = count >= _LEAST
        apart[row, enough] = np.sqrt(total[enough] / count[enough])
    return apart
