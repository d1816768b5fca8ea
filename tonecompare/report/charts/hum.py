"""Hum: the mains lines in the quiet before and after, the strongest named."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.compare.curves.quiet_spectrum import bandwidth_hz, mains_peaks
from tonecompare.language import tr, tr_later
from tonecompare.report.charts.canvas.axes import name_sides, value_axis
from tonecompare.report.charts.canvas.reading import readable, series
from tonecompare.report.charts.canvas.sheet import say_empty
from tonecompare.report.charts.canvas.style import AFTER, BEFORE, EM_PT, LINE_PT, chart, line_style
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.numbers import plain

#: Multiples of the mains frequency looked at, from the first.
_LOOKED_AT = 20
#: Lines drawn, the strongest.
_DRAWN = 6
_NO_QUIET = tr_later(
    "No quiet stretch was found in these recordings: record a few seconds with the strings damped."
)
_NO_HUM = tr_later("No mains line stands out of the quiet.")
#: The two sides stand so far to the left and right of a line's place.
_BESIDE = 0.16


@chart
def hum_chart(pair: ChartPair) -> Figure:
    """Draw the strongest mains lines in the quiet of one voice at two stages.

    A line is drawn where it rises above what is beside it in every quiet stretch of a side;
    several stretches are averaged in dB.
    """
    sheet = pair.sheet("hum", tr("Hum"))
    (axes,) = sheet.axes(left_em=5.0, right_em=sheet.room_for(pair.names))
    if not (pair.quiet_before or pair.quiet_after):
        say_empty(axes, tr(_NO_QUIET))
        return sheet.finished()
    mains_hz = pair.mains_hz_after or pair.mains_hz_before or np.nan
    lines_hz = mains_hz * np.arange(1.0, _LOOKED_AT + 1.0)
    sides = [
        mains_peaks(quiets, own_hz / mains_hz * lines_hz)
        if quiets and own_hz
        else np.full(_LOOKED_AT, np.nan)
        for quiets, own_hz in (
            (pair.quiet_before, pair.mains_hz_before),
            (pair.quiet_after, pair.mains_hz_after),
        )
    ]
    strongest = np.fmax(*sides)
    there = np.flatnonzero(np.isfinite(strongest))
    if not there.size:
        say_empty(axes, tr(_NO_HUM))
        return sheet.finished()
    drawn = np.sort(there[np.argsort(-strongest[there])][:_DRAWN])
    _draw(axes, lines_hz[drawn], [side[drawn] for side in sides], pair.names)
    width_hz = bandwidth_hz((*pair.quiet_before, *pair.quiet_after))
    axes.set_ylabel(
        tr("dBFS in {width} Hz", width=plain(float(f"{width_hz:.2g}")))
        if width_hz is not None
        else tr("dBFS per bin")
    )
    readable(axes, "name", "dBFS")
    return sheet.finished()


def _draw(
    axes: Axes,
    lines_hz: FloatArray,
    sides: Sequence[FloatArray],
    names: tuple[str, str],
) -> None:
    levels = np.concatenate(sides)
    low, high = float(np.nanmin(levels)) - 6.0, float(np.nanmax(levels)) + 3.0
    place = np.arange(float(lines_hz.size))
    value_axis(axes, low, high)
    axes.set_xlim(-0.7, lines_hz.size - 0.3)
    axes.set_xticks(place, [f"{hz:.0f}" for hz in lines_hz])
    axes.set_xlabel(tr("Multiples of the mains frequency, Hz"), labelpad=0.2 * EM_PT)
    axes.tick_params(axis="x", labelsize=0.85 * EM_PT)
    axes.grid(False, axis="x")
    for level, look, name, shift in zip(
        sides, (BEFORE, AFTER), names, (-_BESIDE, _BESIDE), strict=True
    ):
        x = place + shift
        stems = axes.vlines(
            x, low, level, color=look.colour, linewidth=LINE_PT, linestyle=look.dashes
        )
        (line,) = axes.plot(x, level, **{**line_style(look), "linestyle": "none"})
        series(look.key, line, stems, name=name)
    name_sides(axes, sides[0], sides[1], names)
