"""The figure every chart is drawn on: title line, key, room for axes; and empty panels."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import lru_cache

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D

from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.style import (
    BACKGROUND,
    GRID,
    MUTED,
    Frame,
    LineLook,
    line_style,
)

#: Widths are measured this many times larger, so that pixel rounding does not count.
_RULER_SCALE = 10.0


@lru_cache(maxsize=1)
def _ruler() -> RendererAgg:
    return RendererAgg(8, 8, 72.0 * _RULER_SCALE)  # type: ignore[no-untyped-call]


def width_pt(text: str, frame: Frame, weight: str = "normal") -> float:
    """Return how wide a text is drawn, in points."""
    font = FontProperties(family=mpl.rcParams["font.family"], size=frame.font_pt, weight=weight)
    width, _, _ = _ruler().get_text_width_height_descent(text, font, ismath=False)  # type: ignore[no-untyped-call]
    return float(width) / _RULER_SCALE


def fitted(text: str, room_pt: float, frame: Frame, *, weight: str = "normal") -> str:
    """Return a name that fits the room: undrawable letters marked, the end cut off if need be."""
    text = drawable(text)
    if width_pt(text, frame, weight) <= room_pt:
        return text
    columns = sum(2 if unicodedata.east_asian_width(letter) in "WF" else 1 for letter in text)
    while columns > 1:
        columns -= 1
        cut = shorten(text, columns)
        if width_pt(cut, frame, weight) <= room_pt:
            return cut
    return "…"


def broken(
    text: str, room_pt: float, frame: Frame, *, lines: int, weight: str = "normal"
) -> list[str]:
    """Return a text in so many lines at most, broken between words; the last one is fitted."""
    done, words = list[str](), text.split(" ")
    while words and len(done) < lines - 1:
        kept = 1
        while kept < len(words) and width_pt(" ".join(words[: kept + 1]), frame, weight) <= room_pt:
            kept += 1
        done.append(fitted(" ".join(words[:kept]), room_pt, frame, weight=weight))
        words = words[kept:]
    return [*done, fitted(" ".join(words), room_pt, frame, weight=weight)] if words else done


def shorten(text: str, columns: int) -> str:
    """Cut a text to a number of letter widths (East Asian ones count twice), with an ellipsis."""
    width = 0
    for place, letter in enumerate(text):
        width += 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        if width > columns:
            return text[: max(place - 1, 1)].rstrip() + "…"
    return text


class Sheet:
    """A figure with its title line and key, and room below for axes.

    Distances are in points from the edges, so that nothing moves when the frame changes.
    """

    def __init__(
        self,
        title: str,
        *,
        frame: Frame,
        key: Sequence[tuple[LineLook, str]] = (),
        title_lines: int = 1,
    ) -> None:
        self.frame = frame
        self.figure = Figure(figsize=(frame.width_in, frame.height_in), dpi=frame.dpi)
        self.figure.patch.set_facecolor(BACKGROUND)
        self._em = frame.font_pt
        self.top_pt = 0.5 * self._em
        room = frame.width_in * 72.0 - 1.2 * self._em
        for line in broken(title, room, frame, lines=title_lines, weight="bold"):
            self._line(0.6 * self._em, line, weight="bold")
        self.add_key(key)

    def _line(self, x_pt: float, text: str, *, weight: str = "normal") -> None:
        width, height = self.frame.width_in * 72.0, self.frame.height_in * 72.0
        self.figure.text(
            x_pt / width, 1.0 - self.top_pt / height, text, ha="left", va="top", weight=weight
        )
        self.top_pt += 1.45 * self._em

    def add_key(self, key: Sequence[tuple[LineLook, str]]) -> None:
        """Add entries to the key, in one line where they fit."""
        if not key:
            return
        room = self.frame.width_in * 72.0 - 4.5 * self._em
        half = room / 2.0 - 2.5 * self._em
        together = all(fitted(label, half, self.frame) == drawable(label) for _, label in key)
        x_pt = 0.6 * self._em
        for look, label in key:
            self._key_entry(x_pt, look, fitted(label, room, self.frame))
            if together:
                x_pt += self.frame.width_in * 72.0 * 0.5
            else:
                self.top_pt += 1.4 * self._em
        if together:
            self.top_pt += 1.4 * self._em
        self.top_pt += 0.3 * self._em

    def _key_entry(self, x_pt: float, look: LineLook, label: str) -> None:
        width, height = self.frame.width_in * 72.0, self.frame.height_in * 72.0
        y = 1.0 - (self.top_pt + 0.6 * self._em) / height
        ends = [x_pt / width, (x_pt + 2.6 * self._em) / width]
        self.figure.add_artist(
            Line2D(
                [ends[0], sum(ends) / 2, ends[1]],
                [y, y, y],
                transform=self.figure.transFigure,
                markevery=[1],
                **line_style(look, self.frame),
            )
        )
        self.figure.text((x_pt + 3.1 * self._em) / width, y, label, ha="left", va="center")

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
        width, height = self.frame.width_in * 72.0, self.frame.height_in * 72.0
        left, right = left_em * self._em / width, 1.0 - right_em * self._em / width
        top, bottom = 1.0 - (self.top_pt + 0.4 * self._em) / height, bottom_em * self._em / height
        gap = gap_em * self._em / height
        room = top - bottom - gap * (len(share) - 1)
        made = []
        for part in share:
            tall = room * part / sum(share)
            made.append(self.figure.add_axes((left, top - tall, right - left, tall)))
            top -= tall + gap
        for axes in made:
            _dress(axes, self.frame)
        return made

    def finished(self) -> Figure:
        """Return the figure, panels narrowed from the left where their labels would leave it.

        How wide ticks are ("−0.25" or "1") hangs on the numbers drawn, so no fixed margin is
        enough. Panels one above the other stay in line.
        """
        renderer = FigureCanvasAgg(self.figure).get_renderer()  # type: ignore[no-untyped-call]
        boxes = [axes.yaxis.get_tightbbox(renderer) for axes in self.figure.axes]
        edge = 0.3 * self._em / 72.0 * float(self.figure.dpi)
        over = edge - min((float(box.x0) for box in boxes if box is not None), default=edge)
        if over > 0.0:
            share = over / float(self.figure.bbox.width)
            for axes in self.figure.axes:
                x, y, width, height = axes.get_position().bounds
                axes.set_position((x + share, y, width - share, height))
        return self.figure


def _dress(axes: Axes, frame: Frame) -> None:
    axes.set_axisbelow(True)
    axes.grid(True, color=GRID, linewidth=0.06 * frame.font_pt)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(
        length=0.3 * frame.font_pt, width=0.06 * frame.font_pt, pad=0.25 * frame.font_pt
    )


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
