"""What is compared: the sides of each comparison, how they are called, and the voices it holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tonecompare.compare.comparisons import Comparisons
from tonecompare.language import tr
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.reason_words import told_rows
from tonecompare.session.model import ComparedSide, Session

#: One voice and what its channel carries.
VoiceOutput = tuple[str, str]


@dataclass(frozen=True)
class Compared:
    """One comparison: its stages, its rows over all notes and the voices it holds, in order."""

    name: str
    before: str
    after: str
    rows: tuple[Difference, ...]
    voices: tuple[VoiceOutput, ...]
    #: Whether two guitars of one model are compared.
    sisters: bool = False

    @property
    def labels(self) -> tuple[str, str]:
        """How the two sides are called: stages by their names, two voices by their titles."""
        one, other = ComparedSide.named(self.before), ComparedSide.named(self.after)
        if one.voice is None or other.voice is None or one.voice == other.voice:
            return self.before, self.after
        if one.stage == other.stage:
            return voice_title(one.voice), voice_title(other.voice)
        first, second = (f"{voice_title(x.voice or '')} ({x.stage})" for x in (one, other))
        return first, second

    @property
    def between_voices(self) -> bool:
        """Whether two different voices are compared."""
        return self.labels != (self.before, self.after)

    @property
    def words(self) -> tuple[str, str]:
        """What a mark in a chart or a clip says: "before" and "after", or voices or guitars."""
        if self.between_voices or self.sisters:
            return self.labels
        return tr("before"), tr("after")

    def of(self, voice: VoiceOutput) -> tuple[Difference, ...]:
        """Return the rows of one voice and output."""
        return tuple(row for row in self.rows if (row.voice, row.output) == voice)


def compared(session: Session, comparisons: Comparisons) -> tuple[Compared, ...]:
    """Return every comparison, the session's order first, those without rows included."""
    groups: dict[str, list[Difference]] = {}
    stages: dict[str, tuple[str, str]] = {}
    for spec in session.comparisons:
        groups[spec.name], stages[spec.name] = [], (spec.before, spec.after)
    for row in told_rows(comparisons):
        groups.setdefault(row.comparison, []).append(row)
        stages.setdefault(row.comparison, (row.before, row.after))
    return tuple(
        Compared(
            name,
            *stages[name],
            tuple(rows),
            tuple(dict.fromkeys((row.voice, row.output) for row in rows)),
            any(row.sisters for row in rows),
        )
        for name, rows in groups.items()
    )


def titles_of(voices: Iterable[VoiceOutput]) -> dict[VoiceOutput, str]:
    """Return a title per voice and output; the output is named where a voice has several."""
    pairs = list(voices)
    outputs: dict[str, set[str]] = {}
    for voice, output in pairs:
        outputs.setdefault(voice, set()).add(output)
    return {
        (voice, output): voice_title(voice, output=output, several_outputs=len(outputs[voice]) > 1)
        for voice, output in pairs
    }
