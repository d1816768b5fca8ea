"""Letters a chart can draw: fonts for scripts DejaVu Sans lacks, and a plain mark for the rest.

Charts are drawn with DejaVu Sans, which matplotlib brings along. A name in another script is drawn
with a font of the computer that has its letters; letters no font has become ``?``, and the report
says so beside the chart (the page's own text always carries the whole name).
"""

from __future__ import annotations

from functools import lru_cache

from matplotlib import font_manager

BASE = "DejaVu Sans"
#: Families tried for letters the base font lacks, most even first; only installed ones are used.
_CANDIDATES = (
    "Noto Sans", "Noto Sans CJK JP", "Noto Sans CJK SC", "Noto Sans JP", "Noto Sans SC",
    "Noto Sans KR", "Noto Sans Arabic", "Noto Sans Hebrew", "Noto Sans Thai",
    "Noto Sans Devanagari", "Source Han Sans", "WenQuanYi Zen Hei", "Droid Sans Fallback",
    "Arial Unicode MS", "Hiragino Sans", "Yu Gothic", "Microsoft YaHei", "Malgun Gothic",
    "Segoe UI", "Arial", "Liberation Sans", "FreeSans",
)  # fmt: skip
_UNDRAWN = "?"


@lru_cache(maxsize=1)
def _installed() -> dict[str, str]:
    """Return the file of each candidate family that is installed."""
    files: dict[str, str] = {}
    for entry in font_manager.fontManager.ttflist:
        if entry.name in (BASE, *_CANDIDATES) and entry.style == "normal":
            files.setdefault(entry.name, entry.fname)
    return files


@lru_cache(maxsize=32)
def _letters(family: str) -> frozenset[int]:
    path = _installed().get(family)
    if path is None:
        return frozenset()
    return frozenset(font_manager.get_font(path).get_charmap())


def families_for(text: str) -> tuple[str, ...]:
    """Return the font families that together draw as many letters of ``text`` as can be drawn."""
    families = [BASE]
    missing = {ord(letter) for letter in text} - _letters(BASE)
    for family in _CANDIDATES:
        if not missing:
            break
        if family in _installed() and missing & _letters(family):
            families.append(family)
            missing -= _letters(family)
    return tuple(families)


def drawable(text: str) -> str:
    """Return ``text`` with every letter no installed font has replaced by ``?``; line ends stay."""
    able = _letters(BASE)
    if all(ord(letter) in able or letter == "\n" for letter in text):
        return text
    for family in families_for(text)[1:]:
        able |= _letters(family)
    return "".join(letter if ord(letter) in able or letter == "\n" else _UNDRAWN for letter in text)
