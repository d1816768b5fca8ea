"""The figure every chart is drawn on: what it says, what it shows, axes; and empty panels."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.report.charts.canvas.axes import NAME_SHARE
from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.lettering import fitted, folded, ruler, width_pt
from tonecompare.report.charts.canvas.style import (
    BACKGROUND,
    DPI,
    EM_PT,
    GRID,
    HEIGHT_IN,
    INK,
    MUTED,
    WIDTH_IN,
    WIDTH_PT,
)

#: The line that says what is drawn is written smaller than the title.
_TOPIC_SHARE = 0.9
#: Room for names beside the lines at most, in letter heights.
_WIDEST_NAME_EM = 7.5


class Sheet:
    """A figure with what it says, what it shows, and room below for axes.

    Distances are in points from the edges, so that nothing moves when the height changes.

    Parameters
    ----------
    topic
        What is drawn: the title of a chart that says nothing by itself, else the line below it.
    says
        What came out, a short sentence; it becomes the title.
    height_in
        How tall the figure is.
    """

    def __init__(self, topic: str, *, says: str = "", height_in: float = HEIGHT_IN) -> None:
        self.figure = Figure(figsize=(WIDTH_IN, height_in), dpi=DPI)
        self.height_pt = height_in * 72.0
        self.figure.patch.set_facecolor(BACKGROUND)
        self.figure.set_label(says)
        self.top_pt = 0.5 * EM_PT
        room = WIDTH_PT - 1.2 * EM_PT
        for line in folded(says or topic, room):
            self._line(line, weight="bold")
        if says:
            self._line(fitted(topic, room / _TOPIC_SHARE), share=_TOPIC_SHARE)
        self.top_pt += 0.35 * EM_PT

    def _line(self, text: str, *, weight: str = "normal", share: float = 1.0) -> None:
        width, height = WIDTH_PT, self.height_pt
        self.figure.text(
            0.6 * EM_PT / width, 1.0 - self.top_pt / height, text, ha="left", va="top",
            weight=weight, fontsize=share * EM_PT, color=INK if share == 1.0 else MUTED,
        )  # fmt: skip
        self.top_pt += 1.4 * share * EM_PT

    def room_for(self, names: Sequence[str]) -> float:
        """Return the room in letter heights that names beside the lines take."""
        widest = max((width_pt(drawable(name)) for name in names), default=0.0)
        return min(NAME_SHARE * widest / EM_PT, _WIDEST_NAME_EM) + 1.9

    def axes(
        self,
        *,
        left_em: float = 4.4,
        right_em: float = 1.0,
        bottom_em: float = 3.6,
        share: Sequence[float] = (1.0,),
        gap_em: float = 1.2,
    ) -> list[Axes]:
        """Add axes one above the other; ``share`` is how they divide the height, from the top."""
        width, height = WIDTH_PT, self.height_pt
        left, right = left_em * EM_PT / width, 1.0 - right_em * EM_PT / width
        top, bottom = 1.0 - (self.top_pt + 0.4 * EM_PT) / height, bottom_em * EM_PT / height
        gap = gap_em * EM_PT / height
        room = top - bottom - gap * (len(share) - 1)
        made = []
        for part in share:
            tall = room * part / sum(share)
            made.append(self.figure.add_axes((left, top - tall, right - left, tall)))
            top -= tall + gap
        for axes in made:
            _dress(axes)
        return made

    def finished(self) -> Figure:
        """Return the figure, panels narrowed from the left where their labels would leave it.

        How wide ticks are ("−0.25" or "1") hangs on the numbers drawn, so no fixed margin is
        enough. Panels one above the other stay in line.
        """
        renderer = ruler(float(self.figure.dpi))
        boxes = [axes.yaxis.get_tightbbox(renderer) for axes in self.figure.axes]
        edge = 0.3 * EM_PT / 72.0 * float(self.figure.dpi)
        over = edge - min((float(box.x0) for box in boxes if box is not None), default=edge)
        if over > 0.0:
            share = over / float(self.figure.bbox.width)
            for axes in self.figure.axes:
                x, y, width, height = axes.get_position().bounds
                axes.set_position((x + share, y, width - share, height))
        return self.figure


def _dress(axes: Axes) -> None:
    axes.set_axisbelow(True)
    axes.grid(True, color=GRID, linewidth=0.06 * EM_PT)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=0.3 * EM_PT, width=0.06 * EM_PT, pad=0.25 * EM_PT)


def say_empty(axes: Axes, reason: str) -> None:
    """Say in an empty panel why it is empty."""
    axes.set_xticks([])
    axes.set_yticks([])
    axes.grid(False)
    axes.text(
        0.5, 0.5, drawable(_wrapped(reason, 34)), transform=axes.transAxes,
        ha="center", va="center", color=MUTED,
    )  # fmt: skip


def _wrapped(text: str, columns: int) -> str:
    lines, line = [], ""
    for word in text.split():
        if line and len(line) + len(word) + 1 > columns:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return "\n".join([*lines, line])
