"""What is compared: one row per quantity, with its words, its family and how it is compared.

A quantity is compared on its *analysis scale*: a level as it stands (differences of dB), a ratio
as its natural logarithm (so that twice and half are equally far), a share or a tuning in cents as
it stands. Intervals are made on that scale and carried back with :meth:`Quantity.from_scale`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tonecompare.quantities.columns import HUM_LINES, PARTIAL_DECAYS, PARTIAL_LEVELS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from tonecompare.arrays import FloatArray

#: Partials up to this one are heard out singly under good conditions (from memory: five to eight).
LAST_LOW_PARTIAL = 8

#: Families in the order a report shows them.
FAMILIES = ("level", "spectrum", "partials", "decay", "noise", "tuning", "attack", "picking")


@dataclass(frozen=True)
class Quantity:
    """One compared quantity.

    Parameters
    ----------
    column
        Column of ``measurements.csv`` or ``quiet.csv``.
    label
        Plain words for the reader.
    family
        One of :data:`FAMILIES`.
    own_unit
        Unit of the column's values ("" for a plain number).
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
    """

    column: str
    label: str
    family: str
    own_unit: str
    units: tuple[str, ...]
    ratio: bool = False
    threshold: str = ""
    lead: bool = False
    quiet: bool = False

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


def _partials() -> tuple[Quantity, ...]:
    return tuple(
        Quantity(
            column,
            f"level of partial {n}",
            "partials",
            "dB",
            ("dB",),
            threshold="partial" if n <= LAST_LOW_PARTIAL else "high partial",
        )
        for n, column in enumerate(PARTIAL_LEVELS, start=1)
    )


def _partial_decays() -> tuple[Quantity, ...]:
    return tuple(
        Quantity(
            column,
            f"decay time of partial {n}",
            "decay",
            "s",
            ("%",),
            ratio=True,
            threshold="decay",
        )
        for n, column in enumerate(PARTIAL_DECAYS, start=1)
    )


def _noise(column: str, label: str, threshold: str, *, lead: bool = False) -> Quantity:
    own_unit = "dB" if column == "signal_to_hum_db" else "dBFS"
    return Quantity(
        column, label, "noise", own_unit, ("dB",), threshold=threshold, lead=lead, quiet=True
    )


#: Everything compared, in the order of the table.
QUANTITIES: tuple[Quantity, ...] = (
    Quantity("level_dbfs", "level", "level", "dBFS", ("dB",), threshold="level", lead=True),
    Quantity(
        "centroid_hz",
        "brightness (spectral centroid)",
        "spectrum",
        "Hz",
        ("%", "cents"),
        ratio=True,
        threshold="centroid",
        lead=True,
    ),
    Quantity("tilt_db_per_octave", "tilt of the spectrum", "spectrum", "dB/octave", ("dB/octave",)),
    Quantity("odd_even_db", "odd over even partials", "spectrum", "dB", ("dB",)),
    Quantity("tristimulus_1", "share of partial 1", "spectrum", "", ("share",)),
    Quantity("tristimulus_2", "share of partials 2 to 4", "spectrum", "", ("share",)),
    Quantity("tristimulus_3", "share of partials 5 and up", "spectrum", "", ("share",)),
    *_partials(),
    Quantity(
        "decay_s", "decay time", "decay", "s", ("%",), ratio=True, threshold="decay", lead=True
    ),
    Quantity("decay_early_s", "early decay time", "decay", "s", ("%",), True, "decay"),
    Quantity("decay_late_s", "late decay time", "decay", "s", ("%",), True, "decay"),
    *_partial_decays(),
    Quantity(
        "attack_ms",
        "attack time",
        "attack",
        "ms",
        ("%",),
        ratio=True,
        threshold="attack",
        lead=True,
    ),
    Quantity("cents", "tuning", "tuning", "cents", ("cents",), threshold="pitch", lead=True),
    Quantity("inharmonicity", "inharmonicity", "tuning", "", ("%",), ratio=True),
    Quantity("pluck_point", "picking place", "picking", "", ("share",), lead=True),
    _noise("hum_dbfs", "hum", "hum", lead=True),
    *(_noise(column, f"hum line {n}", "hum") for n, column in enumerate(HUM_LINES, start=1)),
    _noise("buzz_dbfs", "buzz", "hum"),
    _noise("hiss_dbfs", "hiss", "noise"),
    _noise("noise_a_dbfs", "noise, A-weighted", "noise"),
    _noise("signal_to_hum_db", "signal to hum", "hum"),
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
    return tuple(quantity for quantity in QUANTITIES if not quantity.quiet)


def quiet_quantities() -> tuple[Quantity, ...]:
    """Return the quantities measured on quiet stretches, in table order."""
    return tuple(quantity for quantity in QUANTITIES if quantity.quiet)
