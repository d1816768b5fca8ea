"""All headline differences of one comparison counted in hearing thresholds, with intervals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from tonecompare.arrays import FloatArray
from tonecompare.quantities.words import words_for
from tonecompare.report.charts.canvas.sheet import Sheet, fitted, say_empty, width_pt
from tonecompare.report.charts.canvas.style import (
    BLACK,
    BLUE,
    GREEN,
    INK,
    MUTED,
    PAGE,
    PURPLE,
    VERMILLION,
    Frame,
    chart,
)
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.numbers import MINUS

#: Marker and colour of each verdict: told apart without colour.
LOOKS = {
    "likely-audible": ("o", VERMILLION, True),
    "measurable": ("D", BLUE, True),
    "confounded": ("x", PURPLE, False),
    "undecided": ("|", BLACK, False),
    "no-change": ("o", GREEN, False),
}
_NAMES = {
    "likely-audible": "likely audible",
    "measurable": "measurable",
    "no-change": "no change",
    "undecided": "undecided",
    "confounded": "confounded",
}
#: Differences of about this size and less are drawn in proportion, larger ones squeezed.
_EVEN_TO = 2.0
_FARTHEST = 60.0
_ROW_EM = 1.45
#: Letter heights that title, legend and axis take.
_AROUND_EM = 10.5


@chart
def overview_chart(
    rows: Sequence[Difference], titles: Mapping[tuple[str, str], str], *, title: str,
    frame: Frame = PAGE, grows: bool = True,
) -> Figure:  # fmt: skip
    """Draw each difference as marker and interval, in hearing thresholds.

    The figure grows with the number of rows; with ``grows=False`` it keeps the frame's height and
    shows as many rows as fit, the weightiest, and says in the title how many those are.

    The grey band is plus and minus one threshold: what lies wholly inside it is not expected to
    be audible. The axis is squeezed (inverse hyperbolic sine) beyond about two thresholds.
    """
    every = [row for row in rows if row.in_thresholds is not None]
    usable = every if grows else _weightiest(every, frame)
    groups = _grouped(usable, titles)
    lines = sum(len(group) + 1 for _, group in groups)
    if grows:
        height_in = (lines * _ROW_EM + _AROUND_EM) * frame.font_pt / 72.0
        frame = frame.scaled(height_in=max(2.2, height_in))
    elif len(usable) < len(every):
        title = f"{title} ({len(usable)} of {len(every)})"
    sheet = Sheet(title, frame=frame)
    verdict_legend(sheet, {row.verdict for row in usable})
    (axes,) = sheet.axes(left_em=8.4, bottom_em=3.6)
    if not usable:
        say_empty(axes, "No difference with a hearing threshold could be worked out.")
        return sheet.finished()
    _draw(axes, groups, lines, frame)
    return sheet.finished()


def _weightiest(rows: Sequence[Difference], frame: Frame) -> list[Difference]:
    """Return the rows that fit the frame, claims first, largest first, in their old order."""
    room = int(frame.height_in * 72.0 / frame.font_pt - _AROUND_EM)
    order = list(LOOKS)
    ranked = sorted(
        range(len(rows)),
        key=lambda n: (
            order.index(rows[n].verdict) if rows[n].verdict in order else len(order),
            -abs(rows[n].in_thresholds or 0.0),
        ),
    )
    kept: list[int] = []
    for place in ranked:
        voices = {(rows[n].voice, rows[n].output) for n in (*kept, place)}
        if (len(kept) + 1 + len(voices)) * _ROW_EM > room:
            break
        kept.append(place)
    return [rows[n] for n in sorted(kept)]


def _grouped(
    rows: Sequence[Difference], titles: Mapping[tuple[str, str], str]
) -> list[tuple[str, list[Difference]]]:
    groups: dict[tuple[str, str], list[Difference]] = {}
    for row in rows:
        groups.setdefault((row.voice, row.output), []).append(row)
    return [(titles.get(key, key[0]), group) for key, group in groups.items()]


def verdict_legend(sheet: Sheet, verdicts: set[str]) -> None:
    """Add the marks of verdicts to a sheet, with their names."""
    em, frame = sheet.frame.font_pt, sheet.frame
    width, height = frame.width_in * 72.0, frame.height_in * 72.0
    x_pt = 0.9 * em
    for verdict in (name for name in LOOKS if name in verdicts):
        needed = 1.9 * em + 0.9 * width_pt(_NAMES[verdict], frame)
        if x_pt + needed > width - 0.5 * em:
            x_pt, sheet.top_pt = 0.9 * em, sheet.top_pt + 1.4 * em
        y = 1.0 - (sheet.top_pt + 0.6 * em) / height
        marker, colour, filled = LOOKS[verdict]
        sheet.figure.add_artist(
            verdict_marker(x_pt / width, y, marker, colour, filled, frame, sheet.figure.transFigure)
        )
        sheet.figure.text(
            (x_pt + 0.8 * em) / width, y, _NAMES[verdict], va="center", fontsize=0.9 * em
        )
        x_pt += needed
    sheet.top_pt += 1.6 * em


def verdict_marker(
    x: float, y: float, marker: str, colour: str, filled: bool, frame: Frame, transform: object
) -> Line2D:
    """Return the mark of one verdict (:data:`LOOKS`) at a place."""
    return Line2D(
        [x], [y], linestyle="none", marker=marker, color=colour, markersize=0.62 * frame.font_pt,
        markerfacecolor=colour if filled else "#FFFFFF", markeredgewidth=0.15 * frame.font_pt,
        transform=transform,
    )  # fmt: skip


def _draw(
    axes: Axes, groups: Sequence[tuple[str, list[Difference]]], lines: int, frame: Frame
) -> None:
    reach = _reach([row for _, group in groups for row in group])
    axes.set_xscale("function", functions=(_squeezed, _spread))
    axes.set_xlim(-reach, reach)
    axes.set_ylim(lines - 0.4, -0.6)
    axes.axvspan(-1.0, 1.0, color=BLACK, alpha=0.09, linewidth=0)
    axes.axvline(0.0, color=MUTED, linewidth=0.08 * frame.font_pt)
    place, ticks, labels = 0, [], []
    for name, group in groups:
        shown = fitted(name, 20.0 * frame.font_pt, frame, weight="bold")
        axes.text(
            -reach, place, shown, ha="left", va="center", weight="bold",
            bbox={"facecolor": "#FFFFFF", "edgecolor": "none", "pad": 0.1 * frame.font_pt},
        )  # fmt: skip
        place += 1
        for row in group:
            _one(axes, row, place, reach, frame)
            ticks.append(place)
            labels.append(words_for(row.quantity).label)
            place += 1
    axes.set_yticks(ticks, labels)
    axes.grid(False, axis="y")
    _threshold_ticks(axes, reach)
    axes.set_xlabel("Difference in hearing thresholds", labelpad=0.2 * frame.font_pt)


def _reach(rows: Sequence[Difference]) -> float:
    ends = [abs(row.in_thresholds or 0.0) for row in rows]
    for row in rows:
        ends.extend(abs(end) for end in row.interval_in_thresholds or ())
    return float(np.clip(1.25 * max(ends), 3.0, _FARTHEST))


def _one(axes: Axes, row: Difference, place: int, reach: float, frame: Frame) -> None:
    marker, colour, filled = LOOKS.get(row.verdict, ("o", INK, False))
    ends = row.interval_in_thresholds
    if ends is not None:
        low, high = np.clip(ends, -reach, reach)
        axes.plot([low, high], [place, place], color=colour, linewidth=frame.line_pt)
    x = float(np.clip(row.in_thresholds or 0.0, -reach, reach))
    axes.add_line(verdict_marker(x, place, marker, colour, filled, frame, axes.transData))


def _squeezed(ratio: FloatArray) -> FloatArray:
    return np.asarray(np.arcsinh(np.asarray(ratio) / _EVEN_TO))


def _spread(place: FloatArray) -> FloatArray:
    return np.asarray(_EVEN_TO * np.sinh(np.asarray(place)))


def _threshold_ticks(axes: Axes, reach: float) -> None:
    wanted = (1, 2, 3) if reach <= 4.5 else (1, 2, 5) if reach < 10 else (1, 3, 10, 30)
    sizes = [size for size in wanted if size <= reach]
    ticks = [*(-size for size in reversed(sizes)), 0, *sizes]
    axes.set_xticks(ticks, [f"{MINUS if tick < 0 else ''}{abs(tick)}" for tick in ticks])
    axes.set_xticks([], minor=True)
