"""What one measured column is, all in one place: unit, meaning, words, how it is compared."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from tonecompare.quantities.octave_bands import BANDS


@dataclass(frozen=True)
class Said:
    """How a quantity is named, and how its rise and fall are said.

    ``up`` and ``down`` take the size in ``{}`` (empty: "noun up by {}"); ``{n}`` in any of them is
    the number of a column within its family, ``{band}`` the words of an octave band.
    ``above`` and ``below`` say it of two guitars before "than its sister" where ``up`` and ``down``
    are no comparatives. ``headline``: stands in the table of verdicts and in the findings.
    """

    label: str
    noun: str
    up: str = ""
    down: str = ""
    above: str = ""
    below: str = ""
    headline: bool = False


@dataclass(frozen=True)
class HowCompared:
    """How a quantity is compared.

    ``units`` are those of the difference, the main one first; ``ratio``: on a logarithmic scale;
    ``threshold`` names a hearing threshold ("" when none is known) or gives it for the n-th column
    of a family; ``lead``: speaks for its family.
    """

    label: str
    family: str
    units: tuple[str, ...]
    ratio: bool = False
    threshold: str | Callable[[int], str] = ""
    lead: bool = False


@dataclass(frozen=True)
class Entry:
    """One measured column, or one family of columns that mean the same (``h01_db`` … ``h24_db``).

    Parameters
    ----------
    columns
        Names of the columns.
    tables
        The CSV files they stand in.
    unit
        Unit of the values, "" for a plain number or text.
    text
        What it means, in plain words.
    no_error
        Why a measured number has no standard error, "" where it has one or is no measured number.
    said, compared
        Words and comparison, None where no difference of it is taken or said.
    moved_by
        Causes other than the work that can move it, and from which column of the family on.
    spread
        Standard deviation from pluck to pluck that simulations assume, on the analysis scale.
    extra
        True for a column that is written but promised to nobody.
    """

    columns: tuple[str, ...]
    tables: tuple[str, ...]
    unit: str
    text: str
    no_error: str = ""
    said: Said | None = None
    compared: HowCompared | None = None
    moved_by: Mapping[str, int] = field(default_factory=dict)
    spread: float | Callable[[int], float] | None = None
    extra: bool = False


def numbered(text: str, n: int) -> str:
    """Put the number of a column within its family for ``{n}``, its band's words for ``{band}``.

    ``text`` is in the language that is spoken, and so are the band's words.
    """
    if "{band}" in text:
        text = text.replace("{band}", BANDS[n - 1].words)
    return text.replace("{n}", str(n))


def cents_as_ratio(cents: float) -> float:
    """Return an interval in cents as a natural logarithm: ``cents ln 2 / 1200``."""
    return cents / 1200.0 * math.log(2.0)
