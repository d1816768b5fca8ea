"""One finding: a sentence and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.report.difference_views import Difference


@dataclass(frozen=True)
class Finding:
    """One sentence and what it rests on.

    ``kind`` is one of voices, taken-out, change, no-change, confounded, undecided, more, note,
    nothing.
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
    #: Whether it speaks of a voice that the work names: these come first.
    named: bool = False
    #: What a reader is told it is about where a report has several comparisons.
    where: str = ""

    @property
    def quantities(self) -> tuple[str, ...]:
        """The quantities the sentence rests on, once each."""
        return tuple(dict.fromkeys(row.quantity for row in self.rows))

    def speaks_of(self, comparison: str, voice: str, *, own: bool) -> bool:
        """Whether it is a voice's own sentence, or (not ``own``) one that the voice shares."""
        if own or self.comparison != comparison:
            return (self.comparison, self.voice) == (comparison, voice)
        shared = self.kind in ("change", "no-change") and not self.voice
        return shared and any(row.voice == voice for row in self.rows)
