"""How wide a text is drawn, and texts cut or folded to the room there is."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

import matplotlib as mpl
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.font_manager import FontProperties

from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.style import EM_PT

#: Widths are measured this many times larger, so that pixel rounding does not count.
_RULER_SCALE = 10.0
#: Between a number and its unit no title is folded.
_UNIT_GAP = re.compile(r"(?<=\d) (?=(?:dB|k?Hz|%|ms|s)(?:\W|$))")


@lru_cache(maxsize=8)
def ruler(dpi: float) -> RendererAgg:
    """Return what measures texts, and remembers what it has measured."""
    return RendererAgg(8, 8, dpi)  # type: ignore[no-untyped-call]


def width_pt(text: str, weight: str = "normal") -> float:
    """Return how wide a text is drawn, in points; of several lines the widest."""
    families = tuple(mpl.rcParams["font.family"])
    wide = [_line_width(line, families, weight) for line in text.split("\n")]
    return max(wide) / _RULER_SCALE


@lru_cache(maxsize=4096)
def _line_width(line: str, families: tuple[str, ...], weight: str) -> float:
    font = FontProperties(family=list(families), size=EM_PT, weight=weight)
    measured = ruler(72.0 * _RULER_SCALE).get_text_width_height_descent
    return float(measured(line, font, ismath=False)[0])  # type: ignore[no-untyped-call]


def fitted(text: str, room_pt: float, *, weight: str = "normal") -> str:
    """Return a name that fits the room: undrawable letters marked, the end cut off if need be.

    It stands on one line, whatever line ends it holds.
    """
    text = drawable(text.replace("\n", " "))
    if width_pt(text, weight) <= room_pt:
        return text
    columns = sum(2 if unicodedata.east_asian_width(letter) in "WF" else 1 for letter in text)
    while columns > 1:
        columns -= 1
        cut = shorten(text, columns)
        if width_pt(cut, weight) <= room_pt:
            return cut
    return "…"


def shorten(text: str, columns: int) -> str:
    """Cut a text to a number of letter widths (East Asian ones count twice), with an ellipsis."""
    width = 0
    for place, letter in enumerate(text):
        width += 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        if width > columns:
            return text[: max(place - 1, 1)].rstrip() + "…"
    return text


def folded(text: str, room_pt: float) -> list[str]:
    """Return a title in one line, two of like length where it is too long for one, or three."""
    text = drawable(_UNIT_GAP.sub("\N{NO-BREAK SPACE}", text.replace("\n", " ")))
    if width_pt(text, "bold") <= room_pt:
        return [text]
    halves = _in_two(text)
    evenly = [pair for pair in halves if len(pair[0]) <= 1.6 * len(pair[1])]
    for pair in (*evenly, *halves):
        if all(width_pt(part, "bold") <= room_pt for part in reversed(pair)):
            return list(pair)
    lines = []
    rest = text
    for _ in range(2):
        fits = (one for one, _ in _in_two(rest) if width_pt(one, "bold") <= room_pt)
        lines.append(next(fits, ""))
        rest = rest[len(lines[-1]) :].strip()
        if not lines[0] or not rest:
            return [fitted(text, room_pt, weight="bold")]
    return [line for line in (*lines, fitted(rest, room_pt, weight="bold")) if line]


def _in_two(text: str) -> list[tuple[str, str]]:
    """Return a text broken between two words in every way, the longest first line first."""
    words = text.split(" ")
    return [(" ".join(words[:n]), " ".join(words[n:])) for n in reversed(range(1, len(words)))]
