"""A block of differences: the numbers behind the rows of ``differences.csv``, as arrays.

Everything stands on the analysis scale of its quantity (decibels, natural logarithms, shares,
cents); :mod:`tonecompare.compare.table` turns it into the columns people read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonecompare.compare.statistics import Estimate

FloatArray = NDArray[np.float64]
TextArray = NDArray[np.object_]

#: ``note`` of a row over all notes.
ALL_NOTES = "all"

_WORDS = {"comparison", "voice", "output", "note", "unjudged"}


@dataclass(frozen=True)
class Block:
    """Rows of differences, one array element a row.

    ``difference``, ``se`` and ``df`` are what is judged (the control taken out where there is
    one), ``raw_*`` the same before that. ``repeat_variance`` is the part of ``se²`` that more
    plucks would shrink. ``control_difference`` is NaN without a control. ``unjudged`` holds the
    sentence why a row may claim nothing, "" otherwise.
    """

    comparison: TextArray
    voice: TextArray
    output: TextArray
    note: TextArray
    quantity: NDArray[np.intp]
    mean_before: FloatArray
    mean_after: FloatArray
    n_before: FloatArray
    n_after: FloatArray
    n_notes: FloatArray
    difference: FloatArray
    se: FloatArray
    df: FloatArray
    repeat_variance: FloatArray
    raw_difference: FloatArray
    raw_se: FloatArray
    raw_df: FloatArray
    control_difference: FloatArray
    unjudged: TextArray

    def __len__(self) -> int:
        return int(self.quantity.size)

    @property
    def estimate(self) -> Estimate:
        """What is judged."""
        return Estimate(self.difference, self.se, self.df)

    @property
    def raw(self) -> Estimate:
        """The difference before the control was taken out."""
        return Estimate(self.raw_difference, self.raw_se, self.raw_df)

    def rows(self, keep: NDArray[np.bool_]) -> Block:
        """Return the rows where ``keep`` is True."""
        return Block(*(getattr(self, field.name)[keep] for field in fields(self)))


def text(value: str, count: int) -> TextArray:
    """Return an object array of one word repeated."""
    array = np.empty(count, dtype=np.object_)
    array[:] = value
    return array


def empty_block() -> Block:
    """Return a block without rows."""
    words, numbers = np.empty(0, dtype=np.object_), np.empty(0)
    columns: dict[str, Any] = {
        field.name: words if field.name in _WORDS else numbers for field in fields(Block)
    }
    return Block(**(columns | {"quantity": np.empty(0, dtype=np.intp)}))


def join_blocks(blocks: Sequence[Block]) -> Block:
    """Put blocks one after the other."""
    return Block(
        *(np.concatenate([getattr(block, f.name) for block in blocks]) for f in fields(Block))
    )
