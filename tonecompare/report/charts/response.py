"""The response of the change: by how many dB after differs from before over frequency."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.compare.model import Response
from tonecompare.language import tr
from tonecompare.report.charts.canvas.axes import frequency_axis, value_axis
from tonecompare.report.charts.canvas.lettering import fitted
from tonecompare.report.charts.canvas.reading import readable, series
from tonecompare.report.charts.canvas.sheet import Sheet, say_empty
from tonecompare.report.charts.canvas.style import DIFFERENCE, EM_PT, INK, MUTED, WIDTH_PT, chart
from tonecompare.report.words.finding_words.chart_titles import response_finding
from tonecompare.report.words.names import told_apart, voice_title
from tonecompare.session.model import ComparedSide

#: Neighbouring points farther apart than this many octaves have a gap between them.
_GAP_OCTAVES = 0.45


@chart
def response_chart(response: Response, *, title: str) -> Figure:
    """Draw the response of a change with its 95 % band, gaps left open and explained.

    Parameters
    ----------
    response
        The curve.
    title
        The voice.
    """
    before, after = _sides(response.comparison)
    told = tr("{one} against {other}", one=after, other=before)
    sheet = Sheet(
        told if after == title else f"{title}: {told}",
        says=response_finding(response, title),
    )
    (axes,) = sheet.axes()
    finite = np.isfinite(response.difference_db)
    if np.count_nonzero(finite) < 2:
        say_empty(axes, tr("Too few partials above the quiet for a curve over frequency."))
        return sheet.finished()
    hz, curve = response.frequency_hz, response.difference_db
    axes.axhline(0.0, color=MUTED, linewidth=0.08 * EM_PT)
    gaps = _gaps(hz, finite)
    parts = np.split(np.arange(hz.size), [end for _, end in gaps])
    for part in parts:
        here = part[finite[part]]
        band = axes.fill_between(
            hz[here], response.ci_low_db[here], response.ci_high_db[here], color=INK, alpha=0.15,
            linewidth=0,
        )  # fmt: skip
        (line,) = axes.plot(hz[here], curve[here], color=INK, marker="o", markersize=0.3 * EM_PT)
        series(DIFFERENCE.key, line, band, name=tr("change"))
    ends = np.abs(np.concatenate([response.ci_low_db, response.ci_high_db]))
    ends = ends[np.isfinite(ends)]
    reach = max(
        float(np.nanmax(np.abs(curve))), float(np.percentile(ends, 90)) if ends.size else 0.0, 1.0
    )
    value_axis(axes, -1.3 * reach, 1.3 * reach)
    frequency_axis(axes, max(float(hz[finite][0]) * 0.95, 20.0), float(hz[finite][-1]) * 1.05)
    axes.set_ylabel("dB")
    _name_halves(axes, before, after)
    _explain(axes, [(hz[start], hz[end]) for start, end in gaps])
    readable(axes, "Hz", "dB")
    return sheet.finished()


def _sides(comparison: str) -> tuple[str, str]:
    before, _, after = comparison.partition(" to ")
    if not after:
        return tr("before"), tr("after")
    one, other = ComparedSide.named(before), ComparedSide.named(after)
    if one.stage == other.stage and one.voice and other.voice:
        return voice_title(one.voice), voice_title(other.voice)
    return before, after


def _gaps(hz: FloatArray, finite: FloatArray) -> list[tuple[int, int]]:
    """Return the last point before and the first after each gap."""
    there = np.flatnonzero(finite)
    steps = np.log2(hz[there[1:]] / hz[there[:-1]])
    wide = np.flatnonzero(steps > _GAP_OCTAVES)
    return [(int(there[n]), int(there[n + 1])) for n in wide]


def _explain(axes: Axes, gaps: list[tuple[float, float]]) -> None:
    """Shade the gaps and say once what they are."""
    if not gaps:
        return
    for low, high in gaps:
        axes.axvspan(low, high, color=MUTED, alpha=0.1, linewidth=0)
    axes.text(
        0.03, 0.1, tr("shaded: no partial to measure there"),
        transform=axes.transAxes, ha="left", va="bottom", fontsize=0.8 * EM_PT,
        color=MUTED,
    )  # fmt: skip


def _name_halves(axes: Axes, before: str, after: str) -> None:
    """Write which stage is the stronger above and below the line of no change."""
    room_pt = 0.85 * axes.get_position().width * WIDTH_PT
    one, other = told_apart([before, after])
    for name, height, place in ((other, 0.98, "top"), (one, 0.02, "bottom")):
        axes.text(
            0.03, height, tr("{stage} stronger", stage=fitted(name, room_pt)),
            transform=axes.transAxes,
            ha="left", va=place, fontsize=0.9 * EM_PT, color=INK,
        )  # fmt: skip
