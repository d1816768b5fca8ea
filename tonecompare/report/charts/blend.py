"""Charts of two outputs: the blend map (ratio over frequency), and blends beside a reference.

Colour is never alone: the map carries contour lines with their dB written on them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.compare.model import AcousticLikeness
from tonecompare.language import tr, tr_later
from tonecompare.measure.outputs.band_powers import HIGH_HZ, LOW_HZ
from tonecompare.measure.outputs.results import BlendMap
from tonecompare.report.charts.canvas.axes import (
    frequency_axis,
    last_finite,
    name_lines,
    value_axis,
)
from tonecompare.report.charts.canvas.reading import readable, series
from tonecompare.report.charts.canvas.sheet import Sheet, say_empty
from tonecompare.report.charts.canvas.style import (
    EM_PT,
    FILLS,
    HEIGHT_IN,
    INK,
    MUTED,
    THINS,
    LineLook,
    chart,
    line_style,
)
from tonecompare.report.words.finding_words.chart_titles import blend_finding, likeness_finding
from tonecompare.report.words.numbers import plain

#: Ends of the colour scale, dB of the sum over the power sum.
_DEEPEST_DB, _FULLEST_DB = -9.0, 3.0103
_CONTOURS_DB = (-6.0, -3.0, 1.5)
_COLOURS = LinearSegmentedColormap.from_list(
    "blend",
    [(0.0, THINS), (-_DEEPEST_DB / (_FULLEST_DB - _DEEPEST_DB), "#FFFFFF"), (1.0, FILLS)],
)
#: Ticks of the share of the piezo, and what they say.
_SHARES, _PERCENT = (0.0, 0.25, 0.5, 0.75, 1.0), ("0", "25", "50", "75", "100")
_NAMES = (tr_later("as wired"), tr_later("one output inverted"))
_SHORT = (tr_later("as wired"), tr_later("inverted"))
WIRED = LineLook(INK, "solid", "o", True, "wired")
INVERTED = LineLook(MUTED, (0, (4.5, 1.6)), "s", False, "inverted")


@chart
def blend_map_chart(found: BlendMap, *, title: str) -> Figure:
    """Draw where every ratio fills and thins, as wired above, with one output inverted below."""
    sheet = Sheet(
        tr("{title}: what blending does", title=title),
        says=blend_finding(found),
        height_in=1.25 * HEIGHT_IN,
    )
    sheet.top_pt += 1.2 * EM_PT
    panels = sheet.axes(share=(1.0, 1.0), gap_em=2.2, right_em=1.0)
    known = np.flatnonzero(np.isfinite(found.interaction_db).all(axis=(0, 1)))
    for axes, values, name in zip(panels, found.interaction_db, _NAMES, strict=True):
        axes.grid(False)
        if known.size < 2:
            say_empty(axes, tr("No band stands above the quiet on both outputs."))
            continue
        first, last = int(known[0]), int(known[-1])
        _draw_map(axes, found, values[:, first : last + 1], slice(first, last + 1))
        axes.set_ylabel(tr("Piezo in %"))
        axes.set_ylim(0.0, 1.0)
        axes.set_yticks(_SHARES, _PERCENT)
        frequency_axis(
            axes, float(LOW_HZ[first]), float(HIGH_HZ[last]), labelled=axes is panels[-1]
        )
        axes.set_title(tr(name), loc="left", fontsize=0.95 * EM_PT, pad=0.35 * EM_PT)
    return sheet.finished()


def _draw_map(axes: Axes, found: BlendMap, values: FloatArray, bands: slice) -> None:
    edges = np.append(LOW_HZ[bands], HIGH_HZ[bands][-1])
    step = float(found.ratio[1] - found.ratio[0])
    rows = np.append(found.ratio - step / 2, found.ratio[-1] + step / 2)
    axes.pcolormesh(
        edges, rows, values, cmap=_COLOURS, vmin=_DEEPEST_DB, vmax=_FULLEST_DB,
        edgecolors="none", rasterized=True,
    )  # fmt: skip
    shown = np.clip(np.nan_to_num(values), _DEEPEST_DB, None)
    levels = [level for level in _CONTOURS_DB if shown.min() < level < shown.max()]
    if levels:
        lines = axes.contour(
            found.band_hz[bands], found.ratio, shown, levels=levels, colors=INK,
            linestyles="solid", linewidths=0.07 * EM_PT,
        )  # fmt: skip
        axes.clabel(
            lines, fmt=_contour_label, fontsize=0.75 * EM_PT, inline=True,
            manual=_label_places(lines.allsegs),
        )  # fmt: skip
    else:
        axes.text(
            0.5, 0.5,
            tr("neither fills nor thins by {least} dB anywhere", least=plain(_CONTOURS_DB[-1])),
            transform=axes.transAxes,
            ha="center", va="center", color=MUTED,
        )  # fmt: skip
    if np.isfinite(found.equal_ratio):
        axes.axhline(found.equal_ratio, color=INK, linewidth=0.1 * EM_PT, linestyle=(0, (4, 2)))


def _label_places(contours: Sequence[Sequence[np.ndarray]]) -> list[tuple[float, float]]:
    """Where each level is labelled: at the top or bottom of its longest line, in turn.

    Neighbouring levels run side by side, so that labels at one end would overlap.
    """
    places = []
    for number, lines in enumerate(contours):
        if lines:
            line = max(lines, key=len)
            end = np.argmax(line[:, 1]) if number % 2 else np.argmin(line[:, 1])
            places.append((float(line[end, 0]), float(line[end, 1])))
    return places


def _contour_label(level: float) -> str:
    return f"{'+' if level > 0 else ''}{plain(level)} dB"


@chart
def likeness_chart(found: AcousticLikeness, *, title: str) -> Figure:
    """Draw how far each ratio is from the reference, both polarities."""
    sheet = Sheet(
        tr(
            "{title}: distance from {reference}",
            title=title,
            reference=found.reference or tr("the reference"),
        ),
        says=likeness_finding(found),
    )
    short = [tr(name) for name in _SHORT]
    (axes,) = sheet.axes(right_em=sheet.room_for(short))
    for look, values, name in zip((WIRED, INVERTED), found.distance, _NAMES, strict=True):
        settings: dict[str, Any] = line_style(look)
        (line,) = axes.plot(found.ratio, values, markevery=4, **settings)
        series(look.key, line, name=tr(name))
    top = float(np.nanmax(found.distance))
    value_axis(axes, 0.0, 1.1 * max(top, 1.0))
    axes.set_xlim(0.0, 1.0)
    axes.set_xticks(_SHARES, _PERCENT)
    axes.set_xlabel(tr("Piezo in % (0 all magnetic, 100 all piezo)"))
    axes.set_ylabel(tr("hearing thresholds"))
    ends = [last_finite(values) for values in found.distance]
    name_lines(axes, list(zip(ends, short, (WIRED, INVERTED), strict=True)))
    readable(axes, tr("share of piezo"), tr("thresholds"))
    return sheet.finished()
