"""Distance from the stock stage over money or hours, family by family."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.figure import Figure

from tonecompare.compare.worth.work_steps import FAMILIES, Step
from tonecompare.report.charts.canvas.sheet import Sheet, fitted, say_empty
from tonecompare.report.charts.canvas.style import (
    BLACK,
    BLUE,
    GREEN,
    PAGE,
    PURPLE,
    VERMILLION,
    Frame,
    LineLook,
    chart,
    line_style,
)

#: Each family's own colour, dashes and marker.
LOOKS = {
    "level": LineLook(BLUE, "solid", "o", True),
    "shape": LineLook(VERMILLION, (0, (4.5, 1.6)), "s", False),
    "decay": LineLook(GREEN, (0, (1.2, 1.2)), "^", True),
    "hum": LineLook(PURPLE, (0, (6.0, 1.5, 1.2, 1.5)), "D", False),
}
_NAMES = {"level": "level", "shape": "spectrum's shape", "decay": "decay", "hum": "hum"}


@chart
def worth_chart(
    steps: Sequence[Step], *, axis: str, label: str, frame: Frame = PAGE
) -> Figure:  # fmt: skip
    """Draw how far each stage lies from stock over what was spent.

    Parameters
    ----------
    steps
        The stages of one instrument, in order; stock stands at nought.
    axis
        "money" or "hours".
    label
        Of the horizontal axis.
    """
    stock = steps[0].stock
    key = [(LOOKS[family], _NAMES[family]) for family in FAMILIES]
    sheet = Sheet(f"Distance from {stock}", frame=frame, key=key[:2])
    sheet.add_key(key[2:])
    (axes,) = sheet.axes(left_em=3.6, bottom_em=4.6)
    spent = np.array([0.0, *(_spent(step, axis) for step in steps)])
    axes.axhspan(0.0, 1.0, color=BLACK, alpha=0.09, linewidth=0)
    top = 1.5
    drawn = False
    shift = 0.012 * max(float(spent.max()), 1e-6)
    for place, family in enumerate(FAMILIES):
        index = FAMILIES.index(family)
        ends: list[tuple[float, ...]] = [(0.0, 0.0, 0.0)]
        for step in steps:
            one = step.from_stock[index]
            ends.append(
                tuple(
                    np.nan if end is None else end for end in (one.value, one.ci_low, one.ci_high)
                )
            )
        value, low, high = np.array(ends, dtype=float).T
        if not np.isfinite(value[1:]).any():
            continue
        drawn = True
        x = spent + (place - 1.5) * shift
        x[0] = 0.0
        axes.plot(x, value, **line_style(LOOKS[family], frame))
        axes.vlines(x[1:], low[1:], high[1:], color=LOOKS[family].colour, linewidth=frame.line_pt)
        top = max(top, float(np.nanmax(high)))
    if not drawn:
        say_empty(axes, "Nothing was measured both at stock and here.")
        return sheet.finished()
    axes.set_ylim(0.0, 1.12 * top)
    axes.set_xlim(-0.03 * spent.max(), 1.08 * spent.max() if spent.max() > 0 else 1.0)
    axes.set_xlabel(label, labelpad=1.6 * frame.font_pt)
    axes.set_ylabel("hearing thresholds")
    _name_stages(axes, spent, steps, frame)
    return sheet.finished()


def _spent(step: Step, axis: str) -> float:
    return float(step.total_money or 0.0) if axis == "money" else step.total_hours


def _name_stages(axes: object, spent: np.ndarray, steps: Sequence[Step], frame: Frame) -> None:
    """Write each stage's name below its place, the last one to the left of it."""
    room = 9.0 * frame.font_pt
    for place, step in zip(spent[1:], steps, strict=True):
        last = step is steps[-1]
        axes.annotate(  # type: ignore[attr-defined]
            fitted(step.stage, room, frame),
            (place, 0.0),
            xycoords=("data", "axes fraction"),
            xytext=(0.0, -1.7 * frame.font_pt),
            textcoords="offset points",
            ha="right" if last else "center",
            va="top",
            fontsize=0.85 * frame.font_pt,
            annotation_clip=False,
        )
