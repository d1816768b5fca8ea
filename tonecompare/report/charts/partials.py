"""Levels of the partials before and after, averaged over the notes both stages share."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.compare.curves.mean_curves import Averaged, Side, average, partial_levels
from tonecompare.language import tr
from tonecompare.quantities.registry import N_PARTIALS
from tonecompare.report.charts.canvas.axes import name_sides, value_axis
from tonecompare.report.charts.canvas.reading import readable, series
from tonecompare.report.charts.canvas.sheet import say_empty
from tonecompare.report.charts.canvas.style import (
    AFTER,
    BEFORE,
    EM_PT,
    LINE_PT,
    LineLook,
    chart,
    line_style,
)
from tonecompare.report.charts.pair import NO_SHARED_NOTE, ChartPair

_DEPTH_DB = 70.0


@chart
def partials_chart(pair: ChartPair) -> Figure:
    """Draw the level of each partial in dB re the power sum of partials 1–24.

    Markers are means over the shared notes (plucks within a note first); bars are one standard
    deviation from pluck to pluck, drawn beside each other so that neither hides the other.
    """
    sheet = pair.sheet("partials", tr("Partials"))
    (axes,) = sheet.axes(right_em=sheet.room_for(pair.names))
    both = averaged_partials(pair)
    if both is None or not np.any(np.isfinite(both.before)):
        say_empty(axes, tr(NO_SHARED_NOTE))
        return sheet.finished()
    _draw(axes, both, pair.names)
    readable(axes, "partial", "dB")
    return sheet.finished()


def averaged_partials(pair: ChartPair) -> Averaged | None:
    """Return both sides' partial levels, None when no note is shared."""
    return average(
        np.arange(1.0, N_PARTIALS + 1.0),
        Side(pair.before_label, partial_levels(pair.before)),
        Side(pair.after_label, partial_levels(pair.after)),
    )


def _draw(axes: Axes, both: Averaged, words: tuple[str, str]) -> None:
    _side(axes, both.axis - 0.16, both.before, both.spread_before, BEFORE, words[0])
    _side(axes, both.axis + 0.16, both.after, both.spread_after, AFTER, words[1])
    levels = np.concatenate([both.before, both.after])
    high = min(float(np.nanmax(levels)) + 3.0, 3.0)
    value_axis(axes, max(float(np.nanmin(levels)) - 4.0, high - _DEPTH_DB), high)
    last = int(np.flatnonzero(np.isfinite(both.before) | np.isfinite(both.after))[-1]) + 1
    axes.set_xlim(0.4, last + 0.6)
    ticks = [1, *range(4, last + 1, 4)] if last > 10 else list(range(1, last + 1))
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.set_xlabel(tr("Partial (1 is the fundamental)"), labelpad=0.2 * EM_PT)
    axes.set_ylabel(tr("dB re all partials"))
    name_sides(axes, both.before, both.after, words)


def _side(
    axes: Axes, x: FloatArray, level: FloatArray, spread: FloatArray, look: LineLook,
    name: str,
) -> None:  # fmt: skip
    style = line_style(look)
    style["markersize"] = 0.38 * EM_PT
    (line,) = axes.plot(x, level, **{**style, "linewidth": 0.5 * LINE_PT})
    bars = np.where(np.isfinite(spread), spread, 0.0)
    upright = axes.vlines(x, level - bars, level + bars, color=look.colour, linewidth=0.7 * LINE_PT)
    series(look.key, line, upright, name=name)
