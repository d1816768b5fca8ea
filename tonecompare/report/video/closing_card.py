"""The last picture of a video: the three strongest differences and how sure each is."""

from __future__ import annotations

from collections.abc import Sequence

from tonecompare.language import tr
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, IN_QUIET, PARTIALS
from tonecompare.report.blind.results import Scored
from tonecompare.report.charts.chart_data import Compared, titles_of
from tonecompare.report.difference_views import Difference
from tonecompare.report.video import plots
from tonecompare.report.video.statement import Statement, kind_of
from tonecompare.report.words.listening_words.blind_words import heard_short
from tonecompare.report.words.listening_words.chart_words import (
    CLOSING,
    NOT_NONE,
    NOTHING,
    how_sure,
    size_of,
    voice_says,
)

_SHOWN = 3


def closing(every: Sequence[Compared], heard: Sequence[Scored] = ()) -> Statement:
    """Return the card: one difference of each kind and comparison, then further voices.

    Where there are several comparisons each line names the side after.
    """
    rows = [
        (row, titles_of(one.voices).get((row.voice, row.output), row.voice))
        for one in every
        for row in one.rows
        if row.claimed
        and row.difference is not None
        and row.quantity in (*HEADLINE, *BAND_SHAPES, *PARTIALS)
        and row.matters
    ]
    # A single partial comes last: moving the pick moves it more than most work does.
    rows.sort(key=lambda pair: (pair[0].quantity not in PARTIALS, pair[0].telling), reverse=True)
    kept: list[tuple[Difference, str]] = []
    for by_voice in (False, True):
        for row, title in rows:
            about = {_about(one, by_voice=by_voice) for one, _ in kept}
            if _about(row, by_voice=by_voice) not in about:
                kept.append((row, title))
    said = {(one.comparison, one.voice): heard_short(one.pooled) for one in heard}
    several = len(every) > 1
    lines = [
        (
            f"{row.after}, {voice_says(title, row.quantity)}"
            if several
            else voice_says(title, row.quantity),
            size_of(row),
            how_sure(row, said.get((row.comparison, row.voice), "") if _played(row) else ""),
        )
        for row, title in kept[:_SHOWN]
    ]
    return Statement(
        "closing", "closing",
        *((tr(CLOSING), "", "") if lines else (tr(NOTHING), "", tr(NOT_NONE))), "", "",
        lambda slide: plots.sentences(slide, lines),
    )  # fmt: skip


def _about(row: Difference, *, by_voice: bool) -> tuple[str, str, str]:
    return row.comparison, kind_of(row), row.voice if by_voice else ""


def _played(row: Difference) -> bool:
    """Whether a blind test plays it: plucks, all equally loud, and nothing of the quiet."""
    return row.quantity not in (*IN_QUIET, "level_dbfs") and kind_of(row) != "hum"
