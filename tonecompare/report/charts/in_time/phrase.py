"""A phrase before and after, laid over each other in time: level above, brightness below."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.compare.curves.mean_phrases import mean_phrase
from tonecompare.language import tr
from tonecompare.measure.model import PhraseCurve
from tonecompare.report.charts.canvas.axes import last_finite, name_lines, time_axis, value_axis
from tonecompare.report.charts.canvas.banded_line import banded_line
from tonecompare.report.charts.canvas.reading import readable
from tonecompare.report.charts.canvas.style import AFTER, BEFORE, EM_PT, GRID, chart
from tonecompare.report.charts.pair import ChartPair

#: Decibels shown below the highest level.
_DEPTH_DB = 40.0


@chart
def phrase_chart(pair: ChartPair) -> Figure:
    """Draw how level and brightness run through a phrase, in the time of the first one recorded.

    Lines are means over the repeats, bands one standard deviation from repeat to repeat; upright
    lines are the beginnings of notes and chords.
    """
    sheet = pair.sheet("phrase", tr("The phrase, laid over each other"))
    upper, lower = sheet.axes(
        share=(1.2, 1.0), left_em=4.6, right_em=sheet.room_for(pair.names), gap_em=0.9
    )
    sides = [side for side in (pair.phrase_before, pair.phrase_after) if side]
    ends_s = max(float(one.time_s[-1]) for side in sides for one in side)
    level = _panel(upper, pair, [_levels(side) for side in _both(pair)])
    high = float(np.nanmax(level))
    value_axis(upper, max(float(np.nanmin(level)) - 2.0, high - _DEPTH_DB), high + 2.0, most=4)
    upper.set_ylabel("dBFS")
    bright = _panel(lower, pair, [_brightness(side) for side in _both(pair)])
    reach = float(np.nanmax(bright))
    value_axis(lower, 0.0, 1.08 * reach, most=4)
    lower.set_ylabel(tr("Brightness, kHz"))
    for axes, unit in ((upper, "dBFS"), (lower, "kHz")):
        time_axis(axes, ends_s)
        for begin_s in sides[0][0].events_s:
            axes.axvline(begin_s, color=GRID, linewidth=0.12 * EM_PT, zorder=0)
        axes.grid(visible=False, axis="x")
        readable(axes, "s", unit)
    upper.set_xlabel("")
    upper.set_xticklabels([])
    lower.set_xlabel(tr("Seconds, in the time of the first one recorded"))
    return sheet.finished()


def _both(pair: ChartPair) -> tuple[Sequence[PhraseCurve], Sequence[PhraseCurve]]:
    return pair.phrase_before, pair.phrase_after


def _levels(side: Sequence[PhraseCurve]) -> tuple[FloatArray, FloatArray, FloatArray]:
    return mean_phrase(side, [one.level_dbfs for one in side])


def _brightness(side: Sequence[PhraseCurve]) -> tuple[FloatArray, FloatArray, FloatArray]:
    return mean_phrase(side, [one.centroid_hz / 1000.0 for one in side])


def _panel(
    axes: Axes,
    pair: ChartPair,
    sides: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
) -> FloatArray:
    """Draw both sides and name them; return every value drawn."""
    ends = []
    looks = (BEFORE, AFTER)
    for place, ((time_s, mean, spread), look, name) in enumerate(
        zip(sides, looks, pair.names, strict=True)
    ):
        banded_line(axes, time_s, mean, spread, look, name=name, second=place == 1)
        ends.append((last_finite(mean), name, look))
    every = np.concatenate([mean for _, mean, _ in sides])
    axes.set_ylim(float(np.nanmin(every)), float(np.nanmax(every)))
    name_lines(axes, ends)
    return every
