"""From tables and curves to what the charts of each comparison and voice are drawn from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.curves.mean_curves import plucks_of
from tonecompare.compare.curves.quiet_spectrum import middle
from tonecompare.measure.model import Measurements, QuietCurves
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.difference_views import Difference, rows_of
from tonecompare.report.words.finding_words.chart_titles import chart_findings
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.reason_words import told_differences
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
        return self.labels if self.between_voices or self.sisters else ("before", "after")

    def of(self, voice: VoiceOutput) -> tuple[Difference, ...]:
        """Return the rows of one voice and output."""
        return tuple(row for row in self.rows if (row.voice, row.output) == voice)


def compared(session: Session, comparisons: Comparisons) -> tuple[Compared, ...]:
    """Return every comparison, the session's order first, those without rows included."""
    groups: dict[str, list[Difference]] = {}
    stages: dict[str, tuple[str, str]] = {}
    for spec in session.comparisons:
        groups[spec.name], stages[spec.name] = [], (spec.before, spec.after)
    for row in rows_of(told_differences(comparisons)):
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


def pair_of(
    measurements: Measurements, comparison: Compared, voice: VoiceOutput, title: str
) -> ChartPair:
    """Gather the curves of one voice and output at both stages."""
    name, output = voice
    before, after = (
        plucks_of(measurements.plucks, measurements.curves, stage=stage, voice=name, output=output)
        for stage in (comparison.before, comparison.after)
    )
    quiet_before, quiet_after = (
        quiet_of(measurements, stage=stage, voice=name, output=output)
        for stage in (comparison.before, comparison.after)
    )
    return ChartPair(
        title,
        *comparison.labels,
        before,
        after,
        tuple(quiet_before[0]),
        tuple(quiet_after[0]),
        quiet_before[1],
        quiet_after[1],
        chart_findings(comparison.of(voice), title),
    )


def quiet_of(
    measurements: Measurements, *, stage: str, voice: str, output: str
) -> tuple[list[QuietCurves], float | None]:
    """Return the quiet curves of one stage, voice and output, and the mains frequency in them."""
    table = measurements.quiet
    if not len(table):
        return [], None
    rows = table[
        (table["stage"] == stage) & (table["voice"] == voice) & (table["output"] == output)
    ]
    return list(_quiet_curves(rows, measurements.quiet_curves)), middle(rows["mains_hz"])


def _quiet_curves(
    rows: pd.DataFrame, curves: Mapping[tuple[str, int, int], QuietCurves]
) -> Iterable[QuietCurves]:
    channels = {
        (str(file), int(channel))
        for file, channel in zip(rows["file"], rows["channel"], strict=True)
    }
    for (file, channel, _number), curve in curves.items():
        if (file, channel) in channels:
            yield curve
