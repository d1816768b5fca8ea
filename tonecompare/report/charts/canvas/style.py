"""How every chart looks: colours, sizes, letters and lines.

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


#: Width and usual height of a chart: sharp from 330 px on a phone to half an A4 page in print.
WIDTH_IN, HEIGHT_IN, DPI = 4.2, 3.7, 200
WIDTH_PT = WIDTH_IN * 72.0
#: Size of the letters, in which most distances are told, and width of a line.
EM_PT, LINE_PT = 10.0, 1.4

P = ParamSpec("P")


def _settings(families: Sequence[str]) -> dict[str, Any]:
    return {
        "font.family": list(families),
        "font.size": EM_PT,
        "text.parse_math": False,
        "axes.unicode_minus": True,
        "axes.edgecolor": MUTED,
        "axes.linewidth": 0.06 * EM_PT,
        "axes.labelcolor": INK,
        "text.color": INK,
        "xtick.color": MUTED,
        "ytick.color": MUTED,
        "xtick.labelcolor": INK,
        "ytick.labelcolor": INK,
        "lines.linewidth": LINE_PT,
        "path.simplify": True,
        "path.simplify_threshold": 0.3,
    }


def chart(build: Callable[P, Figure]) -> Callable[P, Figure]:
    """Draw inside the house's settings, whatever the caller's matplotlib settings are."""

    @wraps(build)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> Figure:
        names = " ".join(_texts_in((*args, *kwargs.values())))
        with mpl.rc_context():
            mpl.rcdefaults()
            for name, value in _settings(families_for(names)).items():
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


def line_style(look: LineLook) -> dict[str, Any]:
    """Return the Line2D settings of one side."""
    return {
        "color": look.colour,
        "linestyle": look.dashes,
        "marker": look.marker,
        "markersize": 0.45 * EM_PT,
        "markerfacecolor": look.colour if look.filled else BACKGROUND,
        "markeredgecolor": look.colour,
        "markeredgewidth": 0.1 * EM_PT,
    }
