"""A few values of a chart as a small table, for whoever does not see the drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonecompare.language import tr, tr_later
from tonecompare.report.charts.canvas.reading import ReadLine, ReadPanel
from tonecompare.report.words.numbers import NOT_MEASURED, number, plain

#: Rows at most; a line with more points is read at so many places along its axis.
_MOST_ROWS = 12
_X_WORDS = {
    "Hz": tr_later("Frequency"),
    "s": tr_later("After"),
    "partial": tr_later("Partial"),
    "name": tr_later("Hum line"),
}


@dataclass(frozen=True)
class ReadTable:
    """Headings, and rows of cells, the first of which names the row."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def read_table(panels: Sequence[ReadPanel]) -> ReadTable | None:
    """Return the table of a chart, None where nothing can be read off it."""
    lines = [(line, panel.y_unit) for panel in panels for line in panel.lines if line.x]
    if not lines:
        return None
    panel = panels[0]
    every = np.unique(np.round(np.concatenate([line.x for line, _ in lines]), 9))
    if panel.x_unit in ("partial", "name"):
        every = np.unique(np.rint(every))
    kept = every[np.unique(np.rint(np.linspace(0, every.size - 1, _MOST_ROWS)).astype(int))]
    return ReadTable(
        (
            tr(_X_WORDS.get(panel.x_unit, panel.x_unit[:1].upper() + panel.x_unit[1:])),
            *(f"{line.name}, {unit}" for line, unit in lines),
        ),
        tuple(
            (_place(float(x), panel), *(_value(line, float(x), panel) for line, _ in lines))
            for x in kept
        ),
    )


def _place(x: float, panel: ReadPanel) -> str:
    if panel.x_unit == "name":
        return f"{panel.names[int(x)]} Hz"
    if panel.x_unit == "Hz":
        return f"{x:.0f} Hz" if x < 1000.0 else f"{plain(float(f'{x / 1000.0:.2g}'))} kHz"
    return f"{number(x, 2)} s" if panel.x_unit == "s" else plain(x)


def _value(line: ReadLine, x: float, panel: ReadPanel) -> str:
    """Return the nearest point's value, none where that lies elsewhere (a gap)."""
    at = np.asarray(line.x)
    far = np.abs(np.log2(at / x)) if panel.logarithmic else np.abs(at - x)
    nearest = int(np.argmin(far))
    room = 0.1 if panel.logarithmic else 0.03 * (panel.high - panel.low)
    return number(line.y[nearest], 1) if far[nearest] <= room else tr(NOT_MEASURED)
