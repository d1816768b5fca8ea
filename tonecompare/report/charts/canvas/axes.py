"""Axes: frequency, values, time, and the names of lines beside the right edge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from tonecompare.arrays import FloatArray
from tonecompare.language import tr
from tonecompare.report.charts.canvas.lettering import fitted
from tonecompare.report.charts.canvas.style import (
    AFTER,
    BACKGROUND,
    BEFORE,
    DPI,
    EM_PT,
    INK,
    WIDTH_PT,
    LineLook,
    line_style,
)
from tonecompare.report.words.numbers import frequency_tick, plain

#: Names beside lines are written in letters of this share of the chart's.
NAME_SHARE = 0.9
_HZ_TICKS = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)


def frequency_axis(axes: Axes, low_hz: float, high_hz: float, *, labelled: bool = True) -> None:
    """Give the horizontal axis a logarithmic frequency scale with plain labels."""
    axes.set_xscale("log")
    axes.set_xlim(low_hz, high_hz)
    ticks = [hz for hz in _HZ_TICKS if low_hz <= hz <= high_hz]
    axes.set_xticks(ticks, [frequency_tick(hz) for hz in ticks] if labelled else [""] * len(ticks))
    axes.set_xticks([], minor=True)
    if labelled:
        axes.set_xlabel(
            tr("Frequency in Hz"), labelpad=0.2 * float(axes.xaxis.label.get_fontsize())
        )


def value_axis(axes: Axes, low: float, high: float, *, most: int = 6) -> None:
    """Give the vertical axis round ticks (1, 2, 5, 10, …) with true minus signs."""
    ticks = _round_ticks(low, high, most)
    axes.set_ylim(low, high)
    axes.set_yticks(ticks, [_tick(value) for value in ticks])


def time_axis(axes: Axes, length_s: float) -> None:
    """Give the horizontal axis seconds from 0 with round ticks."""
    ticks = _round_ticks(0.0, length_s, 7)
    axes.set_xlim(0.0, length_s)
    axes.set_xticks(ticks, [_tick(value) for value in ticks])
    axes.set_xlabel(
        tr("Seconds after the onset"), labelpad=0.2 * float(axes.xaxis.label.get_fontsize())
    )


def _round_ticks(low: float, high: float, most: int) -> FloatArray:
    span = max(high - low, 1e-9)
    rough = span / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next(s * power for s in (1.0, 2.0, 5.0, 10.0) if s * power >= rough - 1e-12)
    first = np.ceil(low / step - 1e-9) * step
    return np.arange(first, high + 1e-9 * span, step)


def _tick(value: float) -> str:
    return plain(value) if abs(value) > 1e-9 else "0"


def name_lines(axes: Axes, ends: Sequence[tuple[float, str, LineLook]]) -> None:
    """Write names beside the right edge at the heights given, pushed apart so none overlap.

    ``ends`` holds (height in data units, name, look of the line); heights that are NaN are left
    out. A piece of the line with its marker stands before each name.
    """
    low, high = axes.get_ylim()
    height_pt = float(axes.bbox.height) * 72.0 / DPI
    apart = 1.15 * EM_PT / max(height_pt, 1.0)
    places = sorted(
        (((y - low) / (high - low), name, look) for y, name, look in ends if np.isfinite(y)),
        key=lambda place: place[0],
    )
    spots = [min(max(place, 0.03), 0.97) for place, _, _ in places]
    for n in range(1, len(spots)):
        spots[n] = max(spots[n], spots[n - 1] + apart)
    if spots and spots[-1] > 0.97:
        over = spots[-1] - 0.97
        spots = [spot - over for spot in spots]
    width_pt = axes.get_position().width * WIDTH_PT
    em = EM_PT / width_pt
    right_pt = (1.0 - axes.get_position().x1) * WIDTH_PT
    room_pt = (right_pt - 1.6 * EM_PT) / NAME_SHARE
    for spot, (_, name, look) in zip(spots, places, strict=True):
        axes.text(
            1.0 + 1.45 * em, spot, fitted(name, room_pt), transform=axes.transAxes,
            ha="left", va="center",
            color=INK, fontsize=NAME_SHARE * EM_PT,
        )  # fmt: skip
        axes.plot(
            [1.0 + 0.25 * em, 1.0 + 0.75 * em, 1.0 + 1.25 * em], [spot] * 3,
            transform=axes.transAxes, clip_on=False, markevery=[1],
            **{**line_style(look), "markersize": 0.36 * EM_PT},
        )  # fmt: skip


def name_sides(axes: Axes, before: FloatArray, after: FloatArray, names: tuple[str, str]) -> None:
    """Write the names of both sides where their lines end."""
    ends = [(last_finite(before), names[0], BEFORE), (last_finite(after), names[1], AFTER)]
    name_lines(axes, ends)


def across_row(axes: Axes, text: str, place: float, *, weight: str = "normal") -> None:
    """Write a text at the left edge of the figure, over a row of its own."""
    left = -(axes.get_position().x0 * WIDTH_PT - 0.6 * EM_PT)
    axes.annotate(
        fitted(text, WIDTH_PT - 1.2 * EM_PT, weight=weight), (0.0, place),
        xycoords=("axes fraction", "data"), xytext=(left, 0.0), textcoords="offset points",
        ha="left", va="center", weight=weight, annotation_clip=False,
        bbox={"facecolor": BACKGROUND, "edgecolor": "none", "pad": 0.1 * EM_PT},
    )  # fmt: skip


def last_finite(values: FloatArray) -> float:
    """Return the last finite value, NaN when there is none."""
    finite = values[np.isfinite(values)]
    return float(finite[-1]) if finite.size else float("nan")
