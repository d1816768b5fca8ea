"""How every chart looks: colours, sizes, the frame with title and key, axes and empty panels.

Line colours are those of Okabe & Ito (2008, "Color universal design") that keep a contrast of 3:1
on white (WCAG 2.2, success criterion 1.4.11); before and after differ in line style and marker
too, and are named on the lines. Letter sizes are chosen for a chart shown 330 px wide on a phone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps
from typing import Any, ParamSpec

import matplotlib as mpl
from matplotlib.figure import Figure

from tonecompare.report.charts.canvas.fonts import families_for

BLUE = "#0072B2"
VERMILLION = "#D55E00"
GREEN = "#009E73"
PURPLE = "#CC79A7"
BLACK = "#000000"
#: Where a blend of two outputs thins and where it fills.
THINS, FILLS = PURPLE, GREEN
INK = "#1A1A1A"
MUTED = "#595959"
GRID = "#D9D9D9"
BACKGROUND = "#FFFFFF"
#: What letters in a picture are drawn in, where it is shown: the page's own font. Places are worked
#: out with DejaVu Sans, which matplotlib brings along and which is wider than these.
FONT_STACK = (
    "system-ui, -apple-system, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'DejaVu Sans', "
    "sans-serif"
)
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
    #: What the line is called inside the picture, for a page that hides it.
    key: str = ""


BEFORE = LineLook(BLUE, "solid", "o", True, "before")
AFTER = LineLook(VERMILLION, (0, (4.5, 1.6)), "s", False, "after")
#: After minus before, whatever is compared: ink, so that it is neither of the two.
DIFFERENCE = LineLook(INK, "solid", "", True, "difference")


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
