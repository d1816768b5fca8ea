"""The rows of differences: the numbers behind ``differences.csv``, as arrays.

Everything stands on the analysis scale of its quantity (decibels, natural logarithms, shares,
cents) from the first difference to the last verdict; ``difference_table`` turns it into the columns
people read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.statistics import CONFIDENCE, Estimate
from tonecompare.compare.reasons import NO_VARIATION, NOT_BOTH
from tonecompare.quantities.compared import QUANTITIES, Quantity
from tonecompare.quantities.octave_bands import BAND_SHAPES

TextArray = NDArray[np.object_]

#: ``note`` of a row over all notes.
ALL_NOTES = "all"

_INDEX = {quantity.column: index for index, quantity in enumerate(QUANTITIES)}
#: Rows of these families are read side by side, so many of each voice.
_TOGETHER = {"shape": len(BAND_SHAPES)}
#: Columns of words and other objects; the others are numbers.
_OBJECTS = {
    "comparison", "voice", "output", "note", "unjudged", "before", "after", "verdict", "reason",
    "adjusted_for",
}  # fmt: skip


@dataclass(frozen=True)
class DifferenceRows:
    """Rows of differences, one array element a row.

    ``difference``, ``se`` and ``df`` are what is judged (the control taken out where there is
    one), ``raw_*`` the same before that. ``repeat_variance`` is the part of ``se²`` that more
    plucks would shrink. ``control_difference`` is NaN without a control. ``unjudged`` holds the
    code why a row may claim nothing (:mod:`tonecompare.compare.reasons`), "" otherwise.

    Judging adds ``p_adjusted``, ``verdict``, ``reason``, the ends of the unheard band
    (``threshold_…``) and ``more_plucks``; looking for other causes adds the difference with them
    taken out (``adjusted…``) and their kinds (``adjusted_for``). Until then these are NaN or empty.
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
    #: Standard error and degrees of freedom of the test; they may borrow, the interval does not.
    test_se: FloatArray
    test_df: FloatArray
    repeat_variance: FloatArray
    raw_difference: FloatArray
    raw_se: FloatArray
    raw_df: FloatArray
    control_difference: FloatArray
    unjudged: TextArray
    #: The two stages.
    before: TextArray
    after: TextArray
    p_adjusted: FloatArray
    verdict: TextArray
    #: A :class:`tonecompare.compare.reasons.Reason` each.
    reason: NDArray[np.object_]
    threshold_low: FloatArray
    threshold_high: FloatArray
    more_plucks: FloatArray
    adjusted: FloatArray
    adjusted_low: FloatArray
    adjusted_high: FloatArray
    #: Kinds of what was taken out, a tuple each.
    adjusted_for: NDArray[np.object_]

    def __len__(self) -> int:
        return int(self.quantity.size)

    @property
    def estimate(self) -> Estimate:
        """What is judged."""
        return Estimate(self.difference, self.se, self.df)

    @property
    def test(self) -> Estimate:
        """The same difference with what its p-value is worked out from."""
        return Estimate(self.difference, self.test_se, self.test_df)

    @cached_property
    def column(self) -> TextArray:
        """Name of each row's quantity."""
        names = np.array([quantity.column for quantity in QUANTITIES], dtype=np.object_)
        return names[self.quantity]

    @cached_property
    def ends(self) -> tuple[FloatArray, FloatArray]:
        """Ends of the intervals of what is judged."""
        return self.interval_of(self.estimate)

    def interval_of(self, estimate: Estimate) -> tuple[FloatArray, FloatArray]:
        """Return the ends of 95 % intervals, those of the bands' shape valid for all together.

        Eight bands of one voice are read side by side, so each has ``1 - 0.05/8`` (Bonferroni).
        """
        together = np.array([_TOGETHER.get(quantity.family, 1) for quantity in QUANTITIES])
        return estimate.interval(confidence=1.0 - (1.0 - CONFIDENCE) / together[self.quantity])

    @cached_property
    def p_value(self) -> FloatArray:
        """P-values of the test, one row alone."""
        return self.test.p_value

    @property
    def raw(self) -> Estimate:
        """The difference before the control was taken out."""
        return Estimate(self.raw_difference, self.raw_se, self.raw_df)

    def rows(self, keep: NDArray[np.bool_]) -> DifferenceRows:
        """Return the rows where ``keep`` is True."""
        return DifferenceRows(*(getattr(self, field.name)[keep] for field in fields(self)))


def same(value: object, count: int) -> NDArray[np.object_]:
    """Return an object array of one object repeated."""
    array = np.empty(count, dtype=np.object_)
    array.fill(value)
    return array


def text(value: str, count: int) -> TextArray:
    """Return an object array of one word repeated."""
    return same(value, count)


def no_rows() -> DifferenceRows:
    """Return a table without rows."""
    words, numbers = np.empty(0, dtype=np.object_), np.empty(0)
    columns: dict[str, Any] = {
        field.name: words if field.name in _OBJECTS else numbers for field in fields(DifferenceRows)
    }
    return DifferenceRows(**(columns | {"quantity": np.empty(0, dtype=np.intp)}))


def join_rows(blocks: Sequence[DifferenceRows]) -> DifferenceRows:
    """Put tables one after the other."""
    columns = [field.name for field in fields(DifferenceRows)]
    return DifferenceRows(
        *(np.concatenate([getattr(block, name) for block in blocks]) for name in columns)
    )


def make_rows(
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
) -> DifferenceRows:
    """Return the rows of one voice, output and note, an element a quantity.

    Rows that may claim nothing get their code here: unmeasured on a side, or repeats that do
    not vary. A quantity that neither side ever measured is no row at all.

    Parameters
    ----------
    comparison, voice, output, notes, quantities
        What the rows are about.
    means
        Before and after, on the analysis scale.
    counts
        Plucks (or stretches) before and after, and notes.
    estimate
        The difference.
    repeat_variance
        The part of its variance that more plucks would shrink.
    unjudged
        Codes of rows that may claim nothing, "" for the others.
    """
    count = notes.size
    unmeasured, unknown = ~np.isfinite(estimate.difference), np.full(count, np.nan)
    unjudged = np.where(unmeasured, NOT_BOTH, unjudged).astype(np.object_)
    still = estimate.still & (estimate.difference != 0.0)
    unjudged[still & (unjudged == "")] = NO_VARIATION
    block = DifferenceRows(
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
        test_se=estimate.se,
        test_df=estimate.df,
        repeat_variance=repeat_variance,
        raw_difference=estimate.difference,
        raw_se=estimate.se,
        raw_df=estimate.df,
        control_difference=unknown,
        unjudged=unjudged,
        before=text("", count),
        after=text("", count),
        p_adjusted=unknown,
        verdict=text("", count),
        reason=same(None, count),
        threshold_low=unknown,
        threshold_high=unknown,
        more_plucks=unknown,
        adjusted=unknown,
        adjusted_low=unknown,
        adjusted_high=unknown,
        adjusted_for=same((), count),
    )
    return block.rows(np.isfinite(means[0]) | np.isfinite(means[1]) | ~unmeasured)
