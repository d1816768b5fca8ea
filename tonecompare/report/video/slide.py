"""A picture that makes one statement: a title, a number, how sure it is, and a chart below."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patheffects import AbstractPathEffect, Normal, Stroke
from matplotlib.textpath import TextToPath

from tonecompare.report.charts.canvas.fonts import drawable, families_for
from tonecompare.report.video.shapes import MARGIN, Look, Screen

_DPI = 100
_POINTS = 72.0 / _DPI
#: Heights in smallest letters.
TITLE, NUMBER, TEXT = 1.5, 2.6, 1.0
_LEADING = 1.28


class Slide:
    """A figure of one shape and look; places are in pixels from the top left corner."""

    def __init__(self, shape: Screen, look: Look) -> None:
        self.shape, self.look = shape, look
        self.letter = shape.letter
        self.left, self.right = MARGIN * shape.width, (1.0 - MARGIN) * shape.width
        self.top, self.bottom = MARGIN * shape.height, (1.0 - MARGIN) * shape.height
        self.figure = Figure(figsize=(shape.width / _DPI, shape.height / _DPI), dpi=_DPI)
        self.figure.patch.set_facecolor(look.background)
        self.figure.patch.set_alpha(0.0 if look.background == "none" else 1.0)

    @property
    def effects(self) -> list[AbstractPathEffect]:
        """What keeps letters and lines apart from any picture behind them."""
        if not self.look.halo:
            return []
        width = 0.08 * self.letter * _POINTS
        return [Stroke(linewidth=2 * width, foreground=self.look.halo), Normal()]

    def font(self, size: float, text: str = "", *, bold: bool = False) -> FontProperties:
        """Return the font of letters so many times the smallest high."""
        return FontProperties(
            family=list(families_for(text)),
            size=size * self.letter * _POINTS,
            weight="bold" if bold else "normal",
        )

    def width_of(self, text: str, size: float = TEXT, *, bold: bool = False) -> float:
        """Return how wide a text is, in pixels."""
        return _width(_in_a_line(text), size * self.letter, bold)

    def lines_of(self, text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
        """Return a text in lines that fit the room, a word too long cut with an ellipsis."""
        lines: list[str] = []
        for word in _in_a_line(text).split(" "):
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.width_of(longer, size, bold=bold) <= room:
                lines[-1] = longer
            else:
                lines.append(self.cut(word, size, room, bold=bold))
        return lines

    def cut(self, text: str, size: float, room: float, *, bold: bool = False) -> str:
        """Return a text that fits the room, its end replaced by an ellipsis if need be."""
        if self.width_of(text, size, bold=bold) <= room:
            return text
        while text and self.width_of(f"{text}…", size, bold=bold) > room:
            text = text[:-1]
        return f"{text.rstrip()}…"

    def write(self, text: str, size: float, colour: str, *, bold: bool = False) -> None:
        """Write lines below what stands there."""
        for line in self.lines_of(text, size, self.right - self.left, bold=bold):
            self.put(self.left, self.top, line, size, colour, bold=bold, va="top")
            self.top += _LEADING * size * self.letter

    def put(
        self, x: float, y: float, text: str, size: float = TEXT, colour: str = "",
        *, bold: bool = False, **settings: Any,
    ) -> None:  # fmt: skip
        """Write one line at a place."""
        self.figure.text(
            x / self.shape.width, 1.0 - y / self.shape.height, _in_a_line(text),
            fontproperties=self.font(size, text, bold=bold), color=colour or self.look.ink,
            path_effects=self.effects, parse_math=False, **settings,
        )  # fmt: skip

    def head(self, title: str, number: str, sure: str) -> None:
        """Write the statement: title, number, and how sure it is."""
        self.write(title, TITLE, self.look.ink, bold=True)
        if number:
            self.top += 0.2 * self.letter
            room = self.right - self.left
            size = NUMBER * min(1.0, room / self.width_of(number, NUMBER, bold=True))
            self.write(number, max(size, TITLE), self.look.after, bold=True)
        if sure:
            self.write(sure, TEXT, self.look.muted)
        self.top += 0.6 * self.letter

    def axes(self, *, left: float = 0.0, right: float = 0.0, below: float = 0.0) -> Axes:
        """Return axes over what is left, with room at the sides in pixels."""
        x0, x1 = (self.left + left) / self.shape.width, (self.right - right) / self.shape.width
        y0 = 1.0 - (self.bottom - below) / self.shape.height
        y1 = 1.0 - self.top / self.shape.height
        axes = self.figure.add_axes((x0, y0, x1 - x0, max(y1 - y0, 0.05)))
        axes.patch.set_alpha(0.0)
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        axes.spines["bottom"].set_color(self.look.muted)
        axes.tick_params(length=0, colors=self.look.ink, pad=0.25 * self.letter * _POINTS)
        return axes

    def ticks(self, axes: Axes, places: Sequence[float], labels: Sequence[str]) -> None:
        """Label places of the horizontal axis."""
        axes.set_xticks(list(places), list(labels), fontproperties=self.font(TEXT))
        axes.set_xticks([], minor=True)
        for label in axes.get_xticklabels():
            label.set_path_effects(self.effects)

    def line_pt(self, letters: float = 0.12) -> float:
        """Return a line's width in points, given in letter heights."""
        return letters * self.letter * _POINTS


def _in_a_line(text: str) -> str:
    """Return what of a text can be drawn; a line end that a name holds is a space."""
    return drawable(text).replace("\n", " ")


@lru_cache(maxsize=4096)
def _width(text: str, pixels: float, bold: bool) -> float:
    font = FontProperties(
        family=list(families_for(text)), size=100.0, weight="bold" if bold else "normal"
    )
    width, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(width) * pixels / 100.0


def slide_files(slide: Slide) -> dict[str, bytes]:
    """Return a picture's bytes by format, the same from run to run."""
    shape = slide.shape
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams["svg.hashsalt"] = "tonecompare"
        made: dict[str, bytes] = {}
        for kind in shape.vector or ("png",):
            dates: dict[str, Any] = (
                {"Date": None, "Creator": None}
                if kind == "svg"
                else {"CreationDate": None, "Creator": None, "Producer": None}
                if kind == "pdf"
                else {"Software": None}
            )
            data = io.BytesIO()
            slide.figure.savefig(
                data, format=kind, metadata=dates, facecolor=slide.figure.get_facecolor()
            )
            made[kind] = data.getvalue()
        return made
