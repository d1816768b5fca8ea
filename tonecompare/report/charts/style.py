"""How every chart looks: colours, sizes, the frame with title and key, axes and empty panels.

Line colours are those of Okabe & Ito (2008, "Color universal design") that keep a contrast of 3:1
on white (WCAG 2.2, success criterion 1.4.11); before and after differ in line style and marker
too, and are named on the lines. Letter sizes are chosen for a chart shown 330 px wide on a phone.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from tonecompare.report.charts.fonts import drawable, families_for
from tonecompare.report.numbers import MINUS, frequency_tick

FloatArray = NDArray[np.float64]

BLUE = "#0072B2"
VERMILLION = "#D55E00"
GREEN = "#009E73"
PURPLE = "#CC79A7"
BLACK = "#000000"
INK = "#1A1A1A"
MUTED = "#595959"
GRID = "#D9D9D9"
BACKGROUND = "#FFFFFF"
#: Colours that carry meaning as lines or markers.
LINE_COLOURS = (BLUE, VERMILLION, GREEN, PURPLE, BLACK)
#: Colours text is written in.
TEXT_COLOURS = (INK, MUTED)


@dataclass(frozen=True)
class LineLook:
    """Colour, dash pattern and marker of one side: any one of them alone tells it apart."""

    colour: str
    dashes: Any
    marker: str
    filled: bool


BEFORE = LineLook(BLUE, "solid", "o", True)
AFTER = LineLook(VERMILLION, (0, (4.5, 1.6)), "s", False)


@dataclass(frozen=True)
class Frame:
    """The size a chart is drawn for."""

    width_in: float
    height_in: float
    font_pt: float
    dpi: int
    line_pt: float = 1.5

    def scaled(self, *, height_in: float) -> Frame:
        """Return the same frame with another height."""
        return Frame(self.width_in, height_in, self.font_pt, self.dpi, self.line_pt)


#: In the report: sharp from 330 px on a phone to half an A4 page in print.
PAGE = Frame(4.2, 3.7, 10.0, 200, 1.4)
#: A video frame of 1920 x 1080 pixels.
VIDEO = Frame(16.0, 9.0, 24.0, 120, 3.2)

P = ParamSpec("P")


def _settings(frame: Frame, families: Sequence[str]) -> dict[str, Any]:
    return {
        "font.family": list(families),
        "font.size": frame.font_pt,
        "text.parse_math": False,
        "axes.unicode_minus": True,
        "axes.edgecolor": MUTED,
        "axes.linewidth": 0.06 * frame.font_pt,
        "axes.labelcolor": INK,
        "text.color": INK,
        "xtick.color": MUTED,
        "ytick.color": MUTED,
        "xtick.labelcolor": INK,
        "ytick.labelcolor": INK,
        "lines.linewidth": frame.line_pt,
        "path.simplify": True,
        "path.simplify_threshold": 0.3,
    }


def chart(build: Callable[P, Figure]) -> Callable[P, Figure]:
    """Draw inside the house's settings, whatever the caller's matplotlib settings are."""

    @wraps(build)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> Figure:
        frame = kwargs.get("frame") or PAGE
        assert isinstance(frame, Frame)
        names = " ".join(_texts_in((*args, *kwargs.values())))
        with mpl.rc_context():
            mpl.rcdefaults()
            for name, value in _settings(frame, families_for(names)).items():
                mpl.rcParams[name] = value  # type: ignore[index]
            return build(*args, **kwargs)

    return drawn


def _texts_in(values: Sequence[Any]) -> list[str]:
    """Every text among the arguments, so that a font is found for its letters."""
    found = []
    for value in values:
        if isinstance(value, str):
            found.append(value)
        elif hasattr(value, "titles"):
            found.extend(value.titles())
    return found


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
        self, title: str, *, frame: Frame, key: Sequence[tuple[LineLook, str]] = ()
    ) -> None:
        self.frame = frame
        self.figure = Figure(figsize=(frame.width_in, frame.height_in), dpi=frame.dpi)
        self.figure.patch.set_facecolor(BACKGROUND)
        self._em = frame.font_pt
        self._columns = int(frame.width_in * 72.0 / (0.6 * self._em))
        self.top_pt = 0.5 * self._em
        self._line(0.6 * self._em, drawable(shorten(title, self._columns - 5)), weight="bold")
        self._key([(look, drawable(label)) for look, label in key])

    def _line(self, x_pt: float, text: str, *, weight: str = "normal") -> None:
        width, height = self.frame.width_in * 72.0, self.frame.height_in * 72.0
        self.figure.text(
            x_pt / width, 1.0 - self.top_pt / height, text, ha="left", va="top", weight=weight
        )
        self.top_pt += 1.45 * self._em

    def _key(self, key: Sequence[tuple[LineLook, str]]) -> None:
        if not key:
            return
        each = (self._columns - 12) // 2
        together = all(len(shorten(label, each)) == len(label) for _, label in key)
        x_pt = 0.6 * self._em
        for look, label in key:
            self._key_entry(x_pt, look, label if together else shorten(label, self._columns - 8))
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


def _dress(axes: Axes, frame: Frame) -> None:
    axes.set_axisbelow(True)
    axes.grid(True, color=GRID, linewidth=0.06 * frame.font_pt)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(
        length=0.3 * frame.font_pt, width=0.06 * frame.font_pt, pad=0.25 * frame.font_pt
    )


def line_style(look: LineLook, frame: Frame) -> dict[str, Any]:
    """Return the Line2D settings of one side."""
    return {
        "color": look.colour,
        "linestyle": look.dashes,
        "marker": look.marker,
        "markersize": 0.45 * frame.font_pt,
        "markerfacecolor": look.colour if look.filled else BACKGROUND,
        "markeredgecolor": look.colour,
        "markeredgewidth": 0.1 * frame.font_pt,
    }


_HZ_TICKS = (20, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000)


def frequency_axis(axes: Axes, low_hz: float, high_hz: float, *, labelled: bool = True) -> None:
    """Give the horizontal axis a logarithmic frequency scale with plain labels."""
    axes.set_xscale("log")
    axes.set_xlim(low_hz, high_hz)
    ticks = [hz for hz in _HZ_TICKS if low_hz <= hz <= high_hz]
    axes.set_xticks(ticks, [frequency_tick(hz) for hz in ticks] if labelled else [""] * len(ticks))
    axes.set_xticks([], minor=True)
    if labelled:
        axes.set_xlabel("Frequency in Hz", labelpad=0.2 * float(axes.xaxis.label.get_fontsize()))


def value_axis(axes: Axes, low: float, high: float, *, most: int = 6) -> None:
    """Give the vertical axis round ticks (1, 2, 5, 10, …) with true minus signs."""
    span = max(high - low, 1e-9)
    rough = span / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next(s * power for s in (1.0, 2.0, 5.0, 10.0) if s * power >= rough - 1e-12)
    first = np.ceil(low / step - 1e-9) * step
    ticks = np.arange(first, high + 1e-9 * span, step)
    axes.set_ylim(low, high)
    axes.set_yticks(ticks, [_tick(value) for value in ticks])


def _tick(value: float) -> str:
    return f"{value + 0.0:g}".replace("-", MINUS) if abs(value) > 1e-9 else "0"


def name_lines(axes: Axes, ends: Sequence[tuple[float, str, str]], *, frame: Frame) -> None:
    """Write names beside the right edge at the heights given, pushed apart so none overlap.

    ``ends`` holds (height in data units, name, colour); heights that are NaN are left out.
    """
    low, high = axes.get_ylim()
    height_pt = axes.get_position().height * frame.height_in * 72.0
    apart = 1.15 * frame.font_pt / max(height_pt, 1.0)
    places = sorted(
        ((y - low) / (high - low), name, colour) for y, name, colour in ends if np.isfinite(y)
    )
    spots = [min(max(place, 0.03), 0.97) for place, _, _ in places]
    for n in range(1, len(spots)):
        spots[n] = max(spots[n], spots[n - 1] + apart)
    if spots and spots[-1] > 0.97:
        over = spots[-1] - 0.97
        spots = [spot - over for spot in spots]
    for spot, (_, name, colour) in zip(spots, places, strict=True):
        axes.text(
            1.0 + 0.4 * frame.font_pt / (axes.get_position().width * frame.width_in * 72.0),
            spot,
            name,
            transform=axes.transAxes,
            ha="left",
            va="center",
            color=INK,
            fontsize=0.9 * frame.font_pt,
            bbox={"boxstyle": "square,pad=0.05", "facecolor": "none", "edgecolor": "none"},
        ).set_path_effects([])
        _name_tick(axes, spot, colour, frame)


def _name_tick(axes: Axes, spot: float, colour: str, frame: Frame) -> None:
    width_pt = axes.get_position().width * frame.width_in * 72.0
    axes.plot(
        [1.0, 1.0 + 0.3 * frame.font_pt / width_pt],
        [spot, spot],
        transform=axes.transAxes,
        color=colour,
        linewidth=0.2 * frame.font_pt,
        clip_on=False,
        solid_capstyle="butt",
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


def last_finite(values: FloatArray) -> float:
    """Return the last finite value, NaN when there is none."""
    finite = values[np.isfinite(values)]
    return float(finite[-1]) if finite.size else float("nan")
