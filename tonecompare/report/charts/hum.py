"""Spectrum of the quiet before and after, with the mains lines marked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
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
#: A mains line gets a marker when it stands this far above the bins beside it.
_STANDS_OUT_DB = 8.0
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
    before, after = _held(pair.quiet_before, grid), _held(pair.quiet_after, grid)
    if not (np.any(np.isfinite(before)) or np.any(np.isfinite(after))):
        say_empty(axes, _NO_QUIET)
        return sheet.figure
    _draw(axes, grid, before, after, frame)
    _mark_peaks(axes, pair.quiet_before, pair.mains_hz_before, BEFORE, frame)
    _mark_peaks(axes, pair.quiet_after, pair.mains_hz_after, AFTER, frame)
    _mark_lines(axes, pair, frame)
    bins = [quiet.bandwidth_hz for quiet in (*pair.quiet_before, *pair.quiet_after)]
    even = max(bins) <= 1.2 * min(bins)
    axes.set_ylabel(f"dBFS in {np.median(bins):.2g} Hz" if even else "dBFS per bin")
    return sheet.figure


def _grid() -> FloatArray:
    steps = int(np.floor(np.log2(_HIGH_HZ / _LOW_HZ) * _PER_OCTAVE))
    return np.asarray(_LOW_HZ * 2.0 ** (np.arange(steps + 1) / _PER_OCTAVE))


def _held(quiets: Sequence[QuietCurves], grid: FloatArray) -> FloatArray:
    """Highest bin within each grid step, averaged in dB over the stretches; NaN without a bin."""
    if not quiets:
        return np.full(grid.size, np.nan)
    rows = np.stack([_held_one(quiet, grid) for quiet in quiets])
    finite = np.isfinite(rows)
    count = np.sum(finite, axis=0)
    total = np.sum(np.where(finite, rows, 0.0), axis=0)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _held_one(quiet: QuietCurves, grid: FloatArray) -> FloatArray:
    edges = grid[0] * 2.0 ** ((np.arange(grid.size + 1) - 0.5) / _PER_OCTAVE)
    step = np.digitize(quiet.frequency_hz, edges) - 1
    held = np.full(grid.size, -np.inf)
    usable = (step >= 0) & (step < grid.size) & np.isfinite(quiet.level_dbfs)
    np.maximum.at(held, step[usable], quiet.level_dbfs[usable])
    between = np.interp(grid, quiet.frequency_hz, quiet.level_dbfs)
    return np.where(np.isfinite(held), held, between)


def _draw(
    axes: Axes, grid: FloatArray, before: FloatArray, after: FloatArray, frame: Frame
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
            (last_finite(before), "before", BEFORE.colour),
            (last_finite(after), "after", AFTER.colour),
        ],
        frame=frame,
    )


def _mark_peaks(
    axes: Axes, quiets: Sequence[QuietCurves], mains_hz: float | None, look: LineLook, frame: Frame
) -> None:
    """Set a marker on each mains line that stands above what is beside it."""
    if not quiets or not mains_hz:
        return
    lines_hz = mains_hz * np.arange(1, _MARKED_LINES + 1)
    peaks = np.stack([_peaks(quiet, lines_hz) for quiet in quiets])
    level = np.where(np.all(np.isfinite(peaks), axis=0), np.mean(peaks, axis=0), np.nan)
    style = {**line_style(look, frame), "linestyle": "none", "markersize": 0.42 * frame.font_pt}
    axes.plot(lines_hz, level, **style)


def _peaks(quiet: QuietCurves, lines_hz: NDArray[np.floating]) -> FloatArray:
    peaks = np.full(lines_hz.size, np.nan)
    for place, hz in enumerate(lines_hz):
        near = np.abs(quiet.frequency_hz - hz) <= max(0.004 * hz, 1.5 * quiet.bandwidth_hz)
        beside = np.abs(quiet.frequency_hz - hz) <= 20.0
        if not np.any(near):
            continue
        level = float(np.max(quiet.level_dbfs[near]))
        if level > float(np.median(quiet.level_dbfs[beside])) + _STANDS_OUT_DB:
            peaks[place] = level
    return peaks


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
