"""What is compared: one row per quantity, with its words, its family and how it is compared.

A quantity is compared on its *analysis scale*: a level as it stands (differences of dB), a ratio
as its natural logarithm (so that twice and half are equally far), a share or a tuning in cents as
it stands. Intervals are made on that scale and carried back with :meth:`Quantity.from_scale`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tonecompare.quantities.entry import Entry, numbered
from tonecompare.quantities.registry import ENTRIES

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tonecompare.arrays import FloatArray

#: Families in the order a report shows them.
FAMILIES = (
    "level", "shape", "pickup", "spectrum", "bands", "partials", "decay", "noise", "tuning",
    "attack", "picking",
)  # fmt: skip


@dataclass(frozen=True)
class Quantity:
    """One compared quantity.

    Parameters
    ----------
    column
        Column of ``measurements.csv``, ``quiet.csv`` or ``voices.csv``.
    label
        Plain words for the reader.
    family
        One of :data:`FAMILIES`.
    units
        Units of the difference, one row of the table each; the first is the main one.
    ratio
        True: compared as a ratio (logarithms); False: as a difference.
    threshold
        Name in :mod:`tonecompare.compare.thresholds`, "" when none is known.
    lead
        True for the quantity that speaks for its family.
    quiet
        True when the column stands in ``quiet.csv``.
    voice
        True when it stands in ``voices.csv``: one number for all plucks of an output.
    """

    column: str
    label: str
    family: str
    units: tuple[str, ...]
    ratio: bool = False
    threshold: str = ""
    lead: bool = False
    quiet: bool = False
    voice: bool = False

    @property
    def condition(self) -> bool:
        """True for what the player sets (picking place, tuning): never a change of the work."""
        return self.column in ("pluck_point", "cents")

    def to_scale(self, values: ArrayLike) -> FloatArray:
        """Put column values on the analysis scale; a ratio of something not positive is NaN."""
        import numpy as np

        array = np.asarray(values, dtype=np.float64)
        if not self.ratio:
            return array
        return np.log(np.where(array > 0.0, array, np.nan))

    def from_scale(self, difference: ArrayLike, *, unit: str = "") -> FloatArray:
        """Turn a difference on the analysis scale into ``unit`` (the main unit when empty)."""
        import numpy as np

        array = np.asarray(difference, dtype=np.float64)
        if not self.ratio:
            return array
        if (unit or self.units[0]) == "cents":
            return np.asarray(array * (1200.0 / np.log(2.0)), dtype=np.float64)
        return np.asarray(100.0 * np.expm1(array), dtype=np.float64)

    def value(self, mean: ArrayLike) -> FloatArray:
        """Turn a mean on the analysis scale back into the quantity's own unit."""
        import numpy as np

        array = np.asarray(mean, dtype=np.float64)
        return np.asarray(np.exp(array), dtype=np.float64) if self.ratio else array


def _of(entry: Entry) -> Iterator[Quantity]:
    how = entry.compared
    if how is None:
        return
    for n, column in enumerate(entry.columns, start=1):
        yield Quantity(
            column,
            numbered(how.label, n),
            how.family,
            how.units,
            ratio=how.ratio,
            threshold=how.threshold if isinstance(how.threshold, str) else how.threshold(n),
            lead=how.lead,
            quiet="quiet" in entry.tables,
            voice="voices" in entry.tables,
        )


#: Families in the order in which their rows stand in a table of differences.
_ROWS_OF = (
    "level", "shape", "spectrum", "bands", "partials", "decay", "attack", "tuning", "picking",
    "pickup", "noise",
)  # fmt: skip

#: Everything compared, in the order of the table.
QUANTITIES: tuple[Quantity, ...] = tuple(
    sorted(
        (quantity for entry in ENTRIES for quantity in _of(entry)),
        key=lambda quantity: _ROWS_OF.index(quantity.family),
    )
)

_BY_COLUMN = {quantity.column: quantity for quantity in QUANTITIES}


def quantity_of(column: str) -> Quantity:
    """Return the compared quantity of a column.

    Raises
    ------
    KeyError
        When the column is not compared.
    """
    return _BY_COLUMN[column]


def pluck_quantities() -> tuple[Quantity, ...]:
    """Return the quantities measured on plucks, in table order."""
    return tuple(q for q in QUANTITIES if not q.quiet and not q.voice)


def quiet_quantities() -> tuple[Quantity, ...]:
    """Return the quantities measured on quiet stretches, in table order."""
    return tuple(quantity for quantity in QUANTITIES if quantity.quiet)


def voice_quantities() -> tuple[Quantity, ...]:
    """Return the quantities that all plucks of an output show together, in table order."""
    return tuple(quantity for quantity in QUANTITIES if quantity.voice)


def spread_of(column: str) -> float:
    """Return the spread from pluck to pluck that simulations assume, on the analysis scale.

    Raises
    ------
    KeyError
        When none is assumed for the column.
    """
    for entry in ENTRIES:
        if column in entry.columns and entry.spread is not None:
            if callable(entry.spread):
                return entry.spread(entry.columns.index(column) + 1)
            return entry.spread
    raise KeyError(column)
