"""Rows of the differences as the tests for other causes need them, on their analysis scales."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows

#: A confound is found when chance alone would show it this rarely (each test, each voice).
FOUND_P = 0.01
CLAIMS = ("likely-audible", "measurable")


@dataclass(frozen=True)
class VoiceRows:
    """The rows of one voice and output in one comparison.

    ``places`` are those of all its rows in ``table``; ``over_notes`` has the place of each
    quantity's row over the notes.
    """

    table: DifferenceRows
    comparison: str
    before: str
    after: str
    voice: str
    output: str
    places: NDArray[np.intp]
    over_notes: Mapping[str, int]
    #: Whether this voice has further outputs in the comparison.
    several: bool = False

    def difference(self, quantity: str) -> float:
        """Difference over the notes on the analysis scale, NaN when the row is absent."""
        place = self.over_notes.get(quantity)
        return float("nan") if place is None else float(self.table.difference[place])

    def interval(self, quantity: str) -> tuple[float, float]:
        """Return the ends of its interval, NaN when the row is absent."""
        place = self.over_notes.get(quantity)
        if place is None:
            return float("nan"), float("nan")
        low, high = self.table.ends
        return float(low[place]), float(high[place])

    def se(self, quantity: str) -> float:
        """Its standard error, NaN when the row is absent."""
        place = self.over_notes.get(quantity)
        return float("nan") if place is None else float(self.table.se[place])

    def p_value(self, quantity: str) -> float:
        """Its p-value, NaN when the row is absent."""
        place = self.over_notes.get(quantity)
        return float("nan") if place is None else float(self.table.p_value[place])

    def shown(self, quantity: str, *, p: float = FOUND_P) -> bool:
        """Whether chance alone would show this difference less often than ``p``."""
        return self.p_value(quantity) < p

    def claimed(self) -> tuple[str, ...]:
        """Quantities that some verdict over the notes claims to have changed."""
        verdict = self.table.verdict
        return tuple(name for name, place in self.over_notes.items() if verdict[place] in CLAIMS)

    def single_notes(self, *quantities: str) -> NDArray[np.intp]:
        """Places of the rows of single notes of some quantities."""
        there = self.table.note[self.places] != ALL_NOTES
        wanted = there & np.isin(self.table.column[self.places], quantities)
        return np.asarray(self.places[wanted], dtype=np.intp)


def voices_of(table: DifferenceRows) -> Iterator[VoiceRows]:
    """Yield every comparison, voice and output that has rows over the notes."""
    named = (table.comparison, table.before, table.after, table.voice, table.output)
    keys: list[tuple[str, ...]] = list(zip(*named, strict=True))
    places: dict[tuple[str, ...], list[int]] = {}
    over_notes: dict[tuple[str, ...], dict[str, int]] = {}
    for place, (key, note, column) in enumerate(zip(keys, table.note, table.column, strict=True)):
        places.setdefault(key, []).append(place)
        if note == ALL_NOTES:
            over_notes.setdefault(key, {})[column] = place
    for key, of_voice in over_notes.items():
        comparison, before, after, voice, output = key
        outputs = {other[4] for other in over_notes if (other[0], other[3]) == (comparison, voice)}
        yield VoiceRows(
            table, comparison, before, after, voice, output,
            np.array(places[key], dtype=np.intp), of_voice, len(outputs) > 1,
        )  # fmt: skip


def by_comparison(table: DifferenceRows) -> dict[str, list[VoiceRows]]:
    """Return the voices of every comparison."""
    found: dict[str, list[VoiceRows]] = {}
    for voice in voices_of(table):
        found.setdefault(voice.comparison, []).append(voice)
    return found
