"""Rows of the differences table as the tests for confounds need them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from tonecompare.compare.difference.difference_rows import ALL_NOTES
from tonecompare.quantities.compared import QUANTITIES, quantity_of

#: A row of the differences table by column name.
Row = dict[str, Any]
#: A confound is found when chance alone would show it this rarely (each test, each voice).
FOUND_P = 0.01
CLAIMS = ("likely-audible", "measurable")
_COLUMNS = frozenset(quantity.column for quantity in QUANTITIES)


@dataclass(frozen=True)
class VoiceRows:
    """The rows over the notes of one voice and output in one comparison, main unit only."""

    comparison: str
    before: str
    after: str
    voice: str
    output: str
    rows: Mapping[str, Row]
    #: Whether this voice has further outputs in the comparison.
    several: bool = False

    @property
    def said(self) -> str:
        """The voice for a sentence, its output added where it has several."""
        return f"{self.voice} ({self.output})" if self.several and self.output else self.voice

    def difference(self, quantity: str) -> float:
        """Difference in its unit, NaN when the row is absent."""
        return self.number(quantity, "difference")

    def number(self, quantity: str, column: str) -> float:
        """Any number of a row, NaN when the row is absent."""
        row = self.rows.get(quantity)
        return float("nan") if row is None else float(row[column])

    def shown(self, quantity: str, *, p: float = FOUND_P) -> bool:
        """Whether chance alone would show this difference less often than ``p``."""
        value = self.number(quantity, "p_value")
        return bool(np.isfinite(value) and value < p)

    def claimed(self) -> tuple[str, ...]:
        """Quantities that some verdict over the notes claims to have changed."""
        return tuple(name for name, row in self.rows.items() if row["verdict"] in CLAIMS)


def voices_of(differences: pd.DataFrame) -> Iterator[VoiceRows]:
    """Yield every comparison, voice and output with its rows over the notes."""
    if differences.empty:
        return
    rows = differences[differences["note"] == ALL_NOTES]
    keys = ["comparison", "before", "after", "voice", "output"]
    found: dict[tuple[str, ...], dict[str, Row]] = {}
    for row in records(rows):
        key = tuple(str(row[name]) for name in keys)
        # The first row of a quantity has its main unit.
        found.setdefault(key, {}).setdefault(str(row["quantity"]), row)
    for (comparison, before, after, voice, output), of_voice in found.items():
        outputs = {key[4] for key in found if (key[0], key[3]) == (comparison, voice)}
        several = len(outputs) > 1
        yield VoiceRows(comparison, before, after, voice, output, of_voice, several)


def records(rows: pd.DataFrame) -> list[Row]:
    """Return the rows of a table as dictionaries (many times faster than ``iterrows``)."""
    return [{str(name): value for name, value in row.items()} for row in rows.to_dict("records")]


def rows_of(differences: pd.DataFrame, voice: VoiceRows) -> pd.DataFrame:
    """Return all rows of one voice, notes and units included."""
    return differences[
        (differences["comparison"] == voice.comparison)
        & (differences["voice"] == voice.voice)
        & (differences["output"] == voice.output)
    ]


def by_comparison(differences: pd.DataFrame) -> dict[str, list[VoiceRows]]:
    """Return the voices of every comparison."""
    found: dict[str, list[VoiceRows]] = {}
    for voice in voices_of(differences):
        found.setdefault(voice.comparison, []).append(voice)
    return found


def on_scale(value: float, quantity: str, unit: str) -> float:
    """Put a difference of the table back on the analysis scale of its quantity."""
    if quantity not in _COLUMNS or not quantity_of(quantity).ratio:
        return value
    if unit == "cents":
        return value * float(np.log(2.0)) / 1200.0
    return float(np.log1p(max(value, -99.999) / 100.0))


def sign_words(value: float, digits: int = 1) -> str:
    """Write a number with its sign and a true minus."""
    return f"{value:+.{digits}f}".replace("-", "−")


def joined(names: list[str]) -> str:
    """Write names as ``a``, ``a and b`` or ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
