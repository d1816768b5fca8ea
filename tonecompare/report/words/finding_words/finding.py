"""One sentence of a report and what it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tonecompare.report.difference_views import Difference


@dataclass(frozen=True)
class Finding:
    """One sentence and what it rests on.

    ``kind`` is one of taken-out, change, no-change, confounded, undecided, more, note, nothing.
    ``score`` is in hearing thresholds.
    """

    kind: str
    comparison: str
    voice: str
    text: str
    score: float = 0.0
    #: The differences the sentence rests on.
    rows: tuple[Difference, ...] = ()
    #: The voice as people read it, "" where the sentence is about no single one.
    title: str = ""

    @property
    def quantities(self) -> tuple[str, ...]:
        """The quantities the sentence rests on, once each."""
        return tuple(dict.fromkeys(row.quantity for row in self.rows))


def by_voice(rows: Iterable[Difference]) -> dict[tuple[str, str, str], list[Difference]]:
    """Group rows by comparison, voice and output."""
    groups: dict[tuple[str, str, str], list[Difference]] = {}
    for row in rows:
        groups.setdefault((row.comparison, row.voice, row.output), []).append(row)
    return groups
