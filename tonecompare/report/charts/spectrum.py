"""Averaged spectrum before and after, the spread from pluck to pluck, and the difference below."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.compare.curves.mean_curves import Averaged
from tonecompare.compare.curves.mean_spectra import average_spectra
from tonecompare.language import tr, tr_later
from tonecompare.report.charts.canvas.axes import (
    frequency_axis,
    last_finite,
    name_lines,
    name_sides,
    value_axis,
)
from tonecompare.report.charts.canvas.banded_line import banded_line
from tonecompare.report.charts.canvas.reading import readable, series
from tonecompare.report.charts.canvas.sheet import say_empty
from tonecompare.report.charts.canvas.style import (
    AFTER,
    BEFORE,
    BLACK,
    DIFFERENCE,
    EM_PT,
    INK,
    LINE_PT,
    MUTED,
    chart,
)
from tonecompare.report.charts.pair import NO_SHARED_NOTE, ChartPair

_LOW_HZ, _HIGH_HZ = 60.0, 16000.0
#: Decibels shown below the highest point.
_DEPTH_DB = 70.0
_MARK_EVERY = 16
#: What the lower line is called.
_MINUS = tr_later("change")


@chart
def spectrum_chart(pair: ChartPair) -> Figure:
    """Draw the averaged spectrum of one voice at two stages.

    Lines are the averages of ``mean_spectra`` in 1/3 octave over the notes both
    stages share; bands are one standard deviation from pluck to pluck. The lower panel shows after
    minus before with its 95 % interval over notes.
    """
    sheet = pair.sheet("spectrum", tr("Averaged spectrum"))
    upper, lower = sheet.axes(
        share=(1.7, 1.0),
        left_em=4.6,
        right_em=sheet.room_for([*pair.names, tr(_MINUS)]),
        gap_em=0.9,
    )
    both = average_spectra(pair.before, pair.after)
    if both is None or not np.any(np.isfinite(both.before)):
        for axes in (upper, lower):
            say_empty(axes, tr(NO_SHARED_NOTE))
        return sheet.finished()
    _draw_levels(upper, both, pair.names)
    readable(upper, "Hz", "dB")
    _draw_difference(lower, both)
    readable(lower, "Hz", "dB")
    return sheet.finished()


def _ends_hz(both: Averaged) -> tuple[float, float]:
    """Return the ends of what is shown: where either side stands above the depth of the chart."""
    shown = (both.axis >= _LOW_HZ) & (both.axis <= _HIGH_HZ)
    level = np.where(shown, np.fmax(both.before, both.after), np.nan)
    there = both.axis[level >= np.nanmax(level) - _DEPTH_DB]
    return max(float(there[0]) / 1.02, _LOW_HZ), min(float(there[-1]) * 1.02, _HIGH_HZ)


def _draw_levels(axes: Axes, both: Averaged, words: tuple[str, str]) -> None:
    banded_line(
        axes, both.axis, both.before, both.spread_before, BEFORE, name=words[0], second=False,
        every=_MARK_EVERY,
    )  # fmt: skip
    banded_line(
        axes, both.axis, both.after, both.spread_after, AFTER, name=words[1], second=True,
        every=_MARK_EVERY,
    )  # fmt: skip
    shown = (both.axis >= _LOW_HZ) & (both.axis <= _HIGH_HZ)
    levels = np.concatenate([both.before[shown], both.after[shown]])
    high = float(np.nanmax(levels)) + 3.0
    low = max(float(np.nanmin(levels)) - 3.0, high - _DEPTH_DB)
    value_axis(axes, low, high, most=5)
    frequency_axis(axes, *_ends_hz(both), labelled=False)
    axes.set_ylabel(tr("dBFS in 1/3 octave"))
    name_sides(axes, both.before[shown], both.after[shown], words)


def _draw_difference(axes: Axes, both: Averaged) -> None:
    hz = both.axis
    axes.axhline(0.0, color=MUTED, linewidth=0.08 * EM_PT)
    band = axes.fill_between(hz, both.ci_low, both.ci_high, color=BLACK, alpha=0.15, linewidth=0)
    (line,) = axes.plot(hz, both.difference, color=INK, linewidth=LINE_PT)
    series("difference", line, band, name=tr(_MINUS))
    shown = (hz >= _LOW_HZ) & (hz <= _HIGH_HZ)
    size = float(np.nanmax(np.abs(both.difference[shown]), initial=0.0))
    band = np.abs(np.concatenate([both.ci_low[shown], both.ci_high[shown]]))
    band = band[np.isfinite(band)]
    wide = float(np.percentile(band, 90)) if band.size else 0.0
    reach = max(size, min(wide, 2.0 * size), 1.0) * 1.15
    value_axis(axes, -reach, reach, most=4)
    frequency_axis(axes, *_ends_hz(both))
    axes.set_ylabel("dB")
    name_lines(axes, [(last_finite(both.difference[shown]), tr(_MINUS), DIFFERENCE)])
