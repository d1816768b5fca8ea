"""One side of a chart: its mean as a line, its spread as a band, marks along it."""

from __future__ import annotations

from matplotlib.axes import Axes

from tonecompare.arrays import FloatArray
from tonecompare.report.charts.canvas.reading import series
from tonecompare.report.charts.canvas.style import LineLook, line_style

_MARK_EVERY = 20


def banded_line(
    axes: Axes,
    x: FloatArray,
    mean: FloatArray,
    spread: FloatArray,
    look: LineLook,
    *,
    name: str,
    second: bool,
    every: int = _MARK_EVERY,
) -> None:
    """Draw a mean (N,) within one standard deviation, a mark ``every`` so many points.

    Marks of a second side lie between those of the first.
    """
    band = axes.fill_between(
        x, mean - spread, mean + spread, color=look.colour, alpha=0.18, linewidth=0
    )
    marks = (every // 2 if second else 0, every)
    (line,) = axes.plot(x, mean, markevery=marks, **line_style(look))
    series(look.key, line, band, name=name)
