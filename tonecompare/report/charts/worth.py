"""What each step of work cost and how far it moved the voices it shares with the one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.compare.worth.work_steps import Distance
from tonecompare.language import tr, tr_later
from tonecompare.report.charts.canvas.axes import across_row
from tonecompare.report.charts.canvas.lettering import width_pt
from tonecompare.report.charts.canvas.sheet import Sheet, say_empty
from tonecompare.report.charts.canvas.style import (
    BACKGROUND,
    BLACK,
    EM_PT,
    INK,
    LINE_PT,
    MUTED,
    chart,
)
from tonecompare.report.words.numbers import NOT_MEASURED, number

_NAMES = {
    "level": tr_later("Level"),
    "shape": tr_later("Spectrum"),
    "decay": tr_later("Decay"),
    "hum": tr_later("Hum"),
}
_ROW_EM = 1.45
#: Rows left free before each further step.
_BETWEEN = 0.6
#: Letter heights that title, axis and margins take.
_AROUND_EM = 9.4


@dataclass(frozen=True)
class WorthRow:
    """One step: its stage, what it cost and added, and how far it moved the shared voices."""

    stage: str
    spent: str
    distances: tuple[Distance, ...]

    def titles(self) -> tuple[str, ...]:
        """Return every text that is drawn, so that a font is found for its letters."""
        return self.stage, self.spent


@chart
def worth_chart(rows: Sequence[WorthRow], *, title: str) -> Figure:
    """Draw each step's distances in hearing thresholds, named where they stand.

    Parameters
    ----------
    rows
        The steps of one line of work, in order.
    title
        What there is to see; two lines at most.
    """
    lines = sum(2 + len(row.distances) for row in rows) + _BETWEEN * (len(rows) - 1)
    height_in = (lines * _ROW_EM + _AROUND_EM) * EM_PT / 72.0
    sheet = Sheet(tr("What each step cost and moved"), says=title, height_in=max(2.2, height_in))
    widest = max(width_pt(tr(name)) for name in _NAMES.values())
    (axes,) = sheet.axes(left_em=widest / EM_PT + 1.3, right_em=3.0, bottom_em=3.6)
    if not any(each.value is not None for row in rows for each in row.distances):
        say_empty(axes, tr("No voice was measured both before a step and after it."))
        return sheet.finished()
    top = max(
        1.5, *(each.ci_high for row in rows for each in row.distances if each.ci_high is not None)
    )
    axes.set_xlim(0.0, 1.05 * top)
    axes.set_ylim(lines - 0.4, -0.8)
    axes.axvspan(0.0, 1.0, color=BLACK, alpha=0.09, linewidth=0)
    place, ticks, names = 0.0, list[float](), list[str]()
    for row in rows:
        across_row(axes, row.stage, place, weight="bold")
        across_row(axes, row.spent, place + 1)
        place += 2
        for each in row.distances:
            _distance(axes, each, place)
            ticks.append(place)
            names.append(tr(_NAMES[each.family]))
            place += 1
        place += _BETWEEN
    axes.set_yticks(ticks, names)
    axes.grid(False, axis="y")
    axes.set_xlabel(tr("hearing thresholds moved"), labelpad=0.2 * EM_PT)
    return sheet.finished()


def _distance(axes: Axes, each: Distance, place: float) -> None:
    if each.value is None or each.ci_low is None or each.ci_high is None:
        axes.text(0.02 * axes.get_xlim()[1], place, tr(NOT_MEASURED), va="center", color=MUTED)
        return
    axes.plot([each.ci_low, each.ci_high], [place, place], color=INK, linewidth=LINE_PT)
    axes.plot(
        [each.value], [place], linestyle="none", marker="o", color=INK,
        markersize=0.62 * EM_PT, markeredgewidth=0.15 * EM_PT,
        markerfacecolor=INK if each.ci_low > 1.0 else BACKGROUND,
    )  # fmt: skip
    axes.annotate(
        number(each.value, 1),
        (1.0, place),
        xycoords=("axes fraction", "data"),
        xytext=(0.4 * EM_PT, 0.0),
        textcoords="offset points",
        ha="left",
        va="center",
        annotation_clip=False,
    )
