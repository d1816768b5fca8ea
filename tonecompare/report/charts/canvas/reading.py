"""What a chart's lines hold, so that a page can tell the value under a finger.

A chart marks its panels with :func:`readable` and its lines with :func:`series`; what they hold is
read off the finished figure, so that what is told and what is drawn cannot differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from tonecompare.report.charts.canvas.svg import SERIES

_PANEL = "panel|"
#: Points of one line that are handed to the page: enough for a finger on a phone.
_MOST_POINTS = 140


@dataclass(frozen=True)
class ReadLine:
    """One line: the class of what is drawn of it, its name, and its points."""

    key: str
    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True)
class ReadPanel:
    """One panel: where it lies in the picture, its horizontal axis, its lines.

    ``left``, ``right``, ``top`` and ``bottom`` are shares of the picture's width and height, from
    its upper left corner; ``low`` and ``high`` are the ends of the horizontal axis in ``x_unit``.
    """

    left: float
    right: float
    top: float
    bottom: float
    low: float
    high: float
    logarithmic: bool
    x_unit: str
    y_unit: str
    lines: tuple[ReadLine, ...]
    #: What the places 0, 1, … of the horizontal axis are called, where ``x_unit`` is "name".
    names: tuple[str, ...] = ()


def readable(axes: Axes, x_unit: str, y_unit: str) -> None:
    """Mark a panel whose lines can be read; units are written behind the numbers."""
    axes.set_gid(f"{_PANEL}{x_unit}|{y_unit}")


def series(key: str, *artists: Artist, name: str = "") -> None:
    """Mark what is drawn of one thing; ``name`` where the first is the line to be read."""
    for artist in artists:
        artist.set_gid(f"{SERIES}{key}")
    if name:
        artists[0].set_label(name)


def panels_of(figure: Figure) -> tuple[ReadPanel, ...]:
    """Return what can be read off a figure, upper panel first."""
    return tuple(
        _panel(axes, *str(axes.get_gid()).removeprefix(_PANEL).split("|"))
        for axes in figure.axes
        if str(axes.get_gid()).startswith(_PANEL)
    )


def _panel(axes: Axes, x_unit: str, y_unit: str) -> ReadPanel:
    box = axes.get_position()
    low, high = axes.get_xlim()
    lines = [line for line in axes.lines if str(line.get_gid()).startswith(SERIES)]
    return ReadPanel(
        left=round(float(box.x0), 4),
        right=round(float(box.x1), 4),
        top=round(1.0 - float(box.y1), 4),
        bottom=round(1.0 - float(box.y0), 4),
        low=_digits(float(low), 5),
        high=_digits(float(high), 5),
        logarithmic=axes.get_xscale() == "log",
        x_unit=x_unit,
        y_unit=y_unit,
        lines=_joined(
            [_line(line, low, high) for line in lines if not str(line.get_label()).startswith("_")]
        ),
        names=tuple(text.get_text() for text in axes.get_xticklabels()) if x_unit == "name" else (),
    )


def _joined(lines: Sequence[ReadLine]) -> tuple[ReadLine, ...]:
    """Put the pieces of one line, drawn with gaps between them, together."""
    whole: dict[str, ReadLine] = {}
    for piece in lines:
        begun = whole.get(piece.key)
        whole[piece.key] = (
            piece
            if begun is None
            else ReadLine(piece.key, piece.name, begun.x + piece.x, begun.y + piece.y)
        )
    return tuple(whole.values())


def _line(line: Line2D, low: float, high: float) -> ReadLine:
    x, y = (np.asarray(values, dtype=float) for values in line.get_data())
    kept = np.flatnonzero(np.isfinite(x) & np.isfinite(y) & (x >= low) & (x <= high))
    kept = kept[:: max(1, -(-kept.size // _MOST_POINTS))]
    return ReadLine(
        str(line.get_gid()),
        str(line.get_label()),
        tuple(_digits(float(value), 4) for value in x[kept]),
        tuple(round(float(value), 1) + 0.0 for value in y[kept]),
    )


def _digits(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def reading_json(panels: Sequence[ReadPanel]) -> list[dict[str, Any]]:
    """Return panels as what the page's script reads, shortest names."""
    return [
        {
            "box": [one.left, one.right, one.top, one.bottom],
            "ends": [one.low, one.high],
            "log": one.logarithmic,
            "units": [one.x_unit, one.y_unit],
            "names": one.names,
            "lines": [
                {"key": line.key, "name": line.name, "x": line.x, "y": line.y} for line in one.lines
            ],
        }
        for one in panels
        if one.lines
    ]
