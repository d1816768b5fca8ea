"""Spectrum of the quiet before and after, with the mains lines marked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.compare.curves.quiet_spectrum import bandwidth_hz, highest_bins, mains_peaks
from tonecompare.measure.model import QuietCurves
from tonecompare.report.charts.canvas.axes import (
    frequency_axis,
    last_finite,
    name_lines,
    value_axis,
)
from tonecompare.report.charts.canvas.sheet import Sheet, say_empty
from tonecompare.report.charts.canvas.style import (
    AFTER,
    BEFORE,
    INK,
    MUTED,
    PAGE,
    Frame,
    LineLook,
    chart,
    line_style,
)
from tonecompare.report.charts.pair import ChartPair

_LOW_HZ, _HIGH_HZ = 30.0, 5000.0
_PER_OCTAVE = 36
_MARKED_LINES = 20
_NO_QUIET = (
    "No quiet stretch was found in these recordings: record a few seconds with the strings damped."
)


@chart
def hum_chart(pair: ChartPair, *, frame: Frame = PAGE) -> Figure:
    """Draw the spectrum of the quiet stretches of one voice at two stages.

    Each point is the highest bin within 1/36 octave, so that narrow mains lines keep their level;
    several quiet stretches are averaged in dB. Markers stand on mains lines that rise above what
    is beside them; ticks along the top mark multiples of the mains frequency.
    """
    sheet = Sheet(
        f"{pair.title}: hum and hiss in the quiet",
        frame=frame,
        key=((BEFORE, pair.before_label), (AFTER, pair.after_label)),
    )
    (axes,) = sheet.axes(left_em=5.0, right_em=3.9)
    grid = _grid()
    before, after = (
        highest_bins(quiets, grid, per_octave=_PER_OCTAVE)
        for quiets in (pair.quiet_before, pair.quiet_after)
    )
    if not (np.any(np.isfinite(before)) or np.any(np.isfinite(after))):
        say_empty(axes, _NO_QUIET)
        return sheet.finished()
    _draw(axes, grid, before, after, frame, pair.words)
    _mark_peaks(axes, pair.quiet_before, pair.mains_hz_before, BEFORE, frame)
    _mark_peaks(axes, pair.quiet_after, pair.mains_hz_after, AFTER, frame)
    _mark_lines(axes, pair, frame)
    width_hz = bandwidth_hz((*pair.quiet_before, *pair.quiet_after))
    axes.set_ylabel(f"dBFS in {width_hz:.2g} Hz" if width_hz is not None else "dBFS per bin")
    return sheet.finished()


def _grid() -> FloatArray:
    steps = int(np.floor(np.log2(_HIGH_HZ / _LOW_HZ) * _PER_OCTAVE))
    return np.asarray(_LOW_HZ * 2.0 ** (np.arange(steps + 1) / _PER_OCTAVE))


def _draw(
    axes: Axes,
    grid: FloatArray,
    before: FloatArray,
    after: FloatArray,
    frame: Frame,
    words: tuple[str, str],
) -> None:
    for level, look in ((before, BEFORE), (after, AFTER)):
        style = {**line_style(look, frame), "marker": "", "linewidth": 0.6 * frame.line_pt}
        axes.plot(grid, level, **style)
    levels = np.concatenate([before, after])
    low, high = float(np.nanmin(levels)), float(np.nanmax(levels))
    value_axis(axes, low - 3.0, high + 0.16 * (high - low) + 6.0)
    frequency_axis(axes, _LOW_HZ, _HIGH_HZ)
    name_lines(
        axes,
        [
            (last_finite(before), words[0], BEFORE.colour),
            (last_finite(after), words[1], AFTER.colour),
        ],
        frame=frame,
    )


def _mark_peaks(
    axes: Axes, quiets: Sequence[QuietCurves], mains_hz: float | None, look: LineLook, frame: Frame
) -> None:
    """Set a marker on each mains line that stands above what is beside it."""
    if not quiets or not mains_hz:
        return
    lines_hz = mains_hz * np.arange(1.0, _MARKED_LINES + 1.0)
    style = {**line_style(look, frame), "linestyle": "none", "markersize": 0.42 * frame.font_pt}
    axes.plot(lines_hz, mains_peaks(quiets, lines_hz), **style)


def _mark_lines(axes: Axes, pair: ChartPair, frame: Frame) -> None:
    mains = pair.mains_hz_after or pair.mains_hz_before
    if not mains:
        return
    lines = mains * np.arange(1, _MARKED_LINES + 1)
    axes.vlines(
        lines, 0.955, 0.99, transform=axes.get_xaxis_transform(), color=MUTED,
        linewidth=0.1 * frame.font_pt,
    )  # fmt: skip
    axes.text(
        0.99, 0.93, f"ticks: multiples of {mains:.2f} Hz", transform=axes.transAxes,
        ha="right", va="top", fontsize=0.85 * frame.font_pt, color=INK,
    )  # fmt: skip
