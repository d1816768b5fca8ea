"""From tables and curves to what the charts of each comparison and voice are drawn from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from tonecompare.compare.curves.mean_curves import plucks_of
from tonecompare.compare.curves.quiet_spectrum import middle
from tonecompare.measure.model import Measurements, PhraseCurve, QuietCurves
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.finding_words.chart_titles import chart_findings
from tonecompare.report.words.finding_words.compared_sides import (
    Compared,
    VoiceOutput,
    compared,
    titles_of,
)

#: What is compared is told here for all who draw it.
__all__ = ["Compared", "VoiceOutput", "compared", "pair_of", "quiet_of", "titles_of"]


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
        *_phrases(measurements, comparison, voice),
        chart_findings(comparison.of(voice), title),
    )


def _phrases(
    measurements: Measurements, comparison: Compared, voice: VoiceOutput
) -> tuple[Sequence[PhraseCurve], Sequence[PhraseCurve]]:
    """Return the repeats of the riff that both stages have most of, if one is shared."""
    if not measurements.phrases:
        return (), ()
    before, after = (
        plucks_of(
            measurements.plucks, measurements.phrases, stage=stage, voice=voice[0], output=voice[1]
        )
        for stage in (comparison.before, comparison.after)
    )
    shared = [note for note in before if note in after]
    if not shared:
        return (), ()
    best = max(shared, key=lambda note: min(len(before[note]), len(after[note])))
    return before[best], after[best]


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
