"""One side of a chart over time: its mean as a line, its spread as a band, marks along it."""

from __future__ import annotations

from matplotlib.axes import Axes

from tonecompare.arrays import FloatArray
from tonecompare.report.charts.canvas.reading import series
from tonecompare.report.charts.canvas.style import LineLook, line_style

_MARK_EVERY = 20


def banded_line(
    axes: Axes,
    times_s: FloatArray,
    mean: FloatArray,
    spread: FloatArray,
    look: LineLook,
    *,
    name: str,
    second: bool,
) -> None:
    """Draw a mean (T,) within one standard deviation; marks of a second side lie between."""
    band = axes.fill_between(
        times_s, mean - spread, mean + spread, color=look.colour, alpha=0.18, linewidth=0
    )
    marks = (_MARK_EVERY // 2 if second else 0, _MARK_EVERY)
    (line,) = axes.plot(times_s, mean, markevery=marks, **line_style(look))
    series(look.key, line, band, name=name)
