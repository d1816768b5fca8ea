"""Guitars side by side: each voice of each against the first, in hearing thresholds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.language import tr
from tonecompare.report.charts.canvas.axes import across_row
from tonecompare.report.charts.canvas.lettering import fitted, width_pt
from tonecompare.report.charts.canvas.sheet import Sheet
from tonecompare.report.charts.canvas.style import (
    BLACK,
    EM_PT,
    INK,
    LINE_PT,
    MUTED,
    WIDTH_PT,
    chart,
)
from tonecompare.report.charts.overview import LOOKS, verdict_legend, verdict_mark
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.numbers import MINUS

#: Half the width of a column, where columns stand one apart.
_HALF = 0.38
_EVEN_TO = 2.0
_FARTHEST = 30.0
_ROW_EM = 1.6
#: Rows left free before each further voice.
_BETWEEN = 0.5
_AROUND_EM = 13.2


@dataclass(frozen=True)
class BesideRow:
    """One stage's differences in one voice, by the column they are drawn in."""

    voice: str
    stage: str
    differences: Mapping[str, Difference | None]

    def titles(self) -> tuple[str, ...]:
        """Return every text that is drawn, so that a font is found for its letters."""
        return self.voice, self.stage


@chart
def guitars_chart(rows: Sequence[BesideRow], *, title: str) -> Figure:
    """Draw a line per voice and stage, a column per kind of difference.

    All columns have one scale, squeezed (inverse hyperbolic sine) beyond two thresholds.

    Parameters
    ----------
    rows
        Voice by voice, the stages of one voice one after the other.
    title
        What there is to see; two lines at most.
    """
    voices = list(dict.fromkeys(row.voice for row in rows))
    lines = len(voices) + len(rows) + _BETWEEN * (len(voices) - 1)
    height_in = (lines * _ROW_EM + _AROUND_EM) * EM_PT / 72.0
    sheet = Sheet(tr("Side by side, voice by voice"), says=title, height_in=max(2.2, height_in))
    columns = list(dict.fromkeys(name for row in rows for name in row.differences))
    drawn = [each for row in rows for each in row.differences.values() if each is not None]
    verdict_legend(sheet, {each.verdict for each in drawn})
    sheet.top_pt += 2.0 * EM_PT
    room = 0.36 * WIDTH_PT
    names = {row.stage: fitted(row.stage, room) for row in rows}
    left = max(width_pt(name) for name in names.values()) / EM_PT + 1.2
    (axes,) = sheet.axes(left_em=left, bottom_em=3.6)
    reach = _reach(drawn)
    _columns(axes, columns, reach, lines)
    place, ticks, labels = 0.0, list[float](), list[str]()
    for voice in voices:
        across_row(axes, voice, place, weight="bold")
        place += 1
        for row in (row for row in rows if row.voice == voice):
            for column, name in enumerate(columns):
                _one(axes, row.differences.get(name), column, place, reach)
            ticks.append(place)
            labels.append(names[row.stage])
            place += 1
        place += _BETWEEN
    axes.set_yticks(ticks, labels)
    axes.set_xlabel(tr("Difference in hearing thresholds"), labelpad=0.2 * EM_PT)
    return sheet.figure


def _reach(drawn: Sequence[Difference]) -> float:
    ends = [abs(end) for row in drawn for end in row.interval_in_thresholds or ()]
    return float(np.clip(1.1 * max(ends, default=3.0), 3.0, _FARTHEST))


def _across(thresholds: float, column: int, reach: float) -> float:
    """Return where a difference stands in its column."""
    squeezed = np.arcsinh(np.clip(thresholds, -reach, reach) / _EVEN_TO)
    return column + _HALF * float(squeezed / np.arcsinh(reach / _EVEN_TO))


def _columns(axes: Axes, columns: Sequence[str], reach: float, lines: float) -> None:
    axes.set_xlim(-0.5, len(columns) - 0.5)
    axes.set_ylim(lines - 0.4, -0.6)
    axes.grid(False)
    far = max(size for size in (1, 3, 10) if size == 1 or size <= 0.7 * reach)
    ticks, labels = [], []
    headings = [tr(name) for name in columns]
    room = 0.95 * axes.get_position().width * WIDTH_PT / len(columns)
    widest = max(width_pt(heading, "bold") for heading in headings)
    for column, heading in enumerate(headings):
        ends = [_across(end, column, reach) for end in (-1.0, 1.0)]
        axes.axvspan(*ends, color=BLACK, alpha=0.09, linewidth=0)
        axes.axvline(column, color=MUTED, linewidth=0.08 * EM_PT)
        axes.text(
            column, 1.0 + 0.5 / lines, heading, ha="center", va="bottom",
            fontsize=EM_PT * min(1.0, room / widest),
            weight="bold", transform=axes.get_xaxis_transform(), color=INK,
        )  # fmt: skip
        for tick in (-far, far):
            ticks.append(_across(tick, column, reach))
            labels.append(f"{MINUS if tick < 0 else ''}{abs(tick)}")
    axes.set_xticks(ticks, labels)


def _one(axes: Axes, row: Difference | None, column: int, place: float, reach: float) -> None:
    if row is None or row.in_thresholds is None:
        axes.text(column, place, "–", ha="center", va="center", color=MUTED)
        return
    _, _, colour = LOOKS.get(row.verdict, ("o", "full", INK))
    if row.interval_in_thresholds is not None:
        ends = [_across(end, column, reach) for end in row.interval_in_thresholds]
        axes.plot(ends, [place, place], color=colour, linewidth=LINE_PT)
    x = _across(row.in_thresholds, column, reach)
    verdict_mark(axes, x, place, row.verdict)
