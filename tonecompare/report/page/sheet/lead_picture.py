"""The lead picture of the sheet: six things a player asks, a dot for each sound, no numbers.

Each line runs from less to more; inside the band around its middle a change is too small to hear.
Where a dot stands is counted in hearing thresholds and pressed together farther out
(sign(x) log2(1 + |x|)), so that one threshold and ten both fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.sheet_words.plain_changes import IDEAS, Idea, plain_row
from tonecompare.report.words.sheet_words.sheet_text import ToldVoice


@dataclass(frozen=True)
class LineFrame:
    """Where things stand: ``line_at`` is a line's place in its row, all in units of the picture."""

    width: float
    left: float
    right: float
    row: float
    line_at: float
    key_height: float
    #: Names begin to the right of this.
    clear: float = 0.0


#: Beside the text and on paper, the words of both ends beside their line; and on a phone, below it.
WIDE = LineFrame(640.0, 118.0, 524.0, 66.0, 36.0, 30.0)
NARROW = LineFrame(380.0, 10.0, 370.0, 112.0, 60.0, 52.0)
#: The outermost place: this many hearing thresholds and everything past it.
_FARTHEST = 12.0
#: Width of a letter of 15 units on average, and letters of the widest label.
_LETTER = 8.0
_BOLD_LETTER = 9.0
_WIDEST_LABEL = 30
#: Room between two names.
_APART = 8.0


@dataclass(frozen=True)
class Dot:
    """One sound on a line: ``kind`` is heard, small, same or open."""

    x: float
    kind: str


@dataclass(frozen=True)
class Label:
    """A name for one or several dots that stand close together.

    ``tier`` is 0 below the line, 1 just above it, 2 above that.
    """

    x: float
    text: str
    tier: int


@dataclass(frozen=True)
class Line:
    """One thing a player asks, with the words at its ends."""

    name: str
    y: float
    less: str
    more: str
    dots: tuple[Dot, ...]
    labels: tuple[Label, ...]


@dataclass(frozen=True)
class LeadPicture:
    """What the template draws; ``alt`` says the same in words."""

    frame: LineFrame
    height: float
    middle: float
    band: tuple[float, float]
    lines: tuple[Line, ...]
    alt: str


def lead_picture(voices: Sequence[ToldVoice], frame: LineFrame = WIDE) -> LeadPicture | None:
    """Return the picture of all voices, None where nothing can be placed on any line."""
    found = [
        (idea, told)
        for idea in IDEAS
        if (told := [(one.name, row) for one in voices if (row := _placed(idea, one)) is not None])
    ]
    if not found:
        return None
    lines = tuple(_line(idea, told, place, frame) for place, (idea, told) in enumerate(found))
    return LeadPicture(
        frame,
        frame.row * len(lines) + frame.key_height,
        _x(0.0, frame),
        (_x(-1.0, frame), _x(1.0, frame)),
        lines,
        " ".join(_said(idea, told) for idea, told in found),
    )


def _placed(idea: Idea, voice: ToldVoice) -> Difference | None:
    row = plain_row(idea, voice.rows)
    return row if row is not None and row.in_thresholds is not None else None


def _x(thresholds: float, frame: LineFrame) -> float:
    """Place a difference in hearing thresholds on the line."""
    size = min(abs(thresholds), _FARTHEST)
    share = math.copysign(math.log2(1.0 + size) / math.log2(1.0 + _FARTHEST), thresholds)
    half = (frame.right - frame.left) / 2.0
    return round(frame.left + half + share * half, 1)


def kind_of(row: Difference) -> str:
    """Return how a dot is drawn: heard, small, same, or open where the recordings cannot tell."""
    if row.verdict == "likely-audible":
        return "heard"
    if row.claimed:
        return "small"
    return "same" if row.verdict == "no-change" else "open"


def _line(idea: Idea, told: Sequence[tuple[str, Difference]], place: int, frame: LineFrame) -> Line:
    dots = [(_x(row.in_thresholds or 0.0, frame), name, kind_of(row)) for name, row in told]
    # What the line is about stands at its left end, as high as the names above it.
    above = replace(frame, clear=_BOLD_LETTER * len(tr(idea.name)) + _APART)
    return Line(
        tr(idea.name),
        place * frame.row + frame.line_at,
        tr(idea.less),
        tr(idea.more),
        tuple(Dot(x, kind) for x, _, kind in dots),
        (
            *_names_above(sorted((x, name) for x, name, kind in dots if kind == "heard"), above),
            *_labels(sorted((x, name) for x, name, kind in dots if kind != "heard"), frame),
        ),
    )


def _names_above(dots: Sequence[tuple[float, str]], frame: LineFrame) -> tuple[Label, ...]:
    """Name each dot in one of two tiers; where that is too tight some share a name."""
    ends, labels = [-_APART] * 3, list[Label]()
    for dot in dots:
        free = [tier for tier in (1, 2) if _start([dot], frame) > ends[tier] + _APART]
        if not free:
            return _labels(dots, frame, tier=1)
        labels.append(Label(_middle([dot], frame), _text([dot]), free[0]))
        ends[free[0]] = _end([dot], frame)
    return tuple(labels)


def _labels(
    dots: Sequence[tuple[float, str]], frame: LineFrame, *, tier: int = 0
) -> tuple[Label, ...]:
    """Name the dots; where two names would overlap their dots share one label."""
    groups = [[dot] for dot in dots]
    place = 0
    while place + 1 < len(groups):
        if _end(groups[place], frame) + _APART > _start(groups[place + 1], frame):
            groups[place : place + 2] = [groups[place] + groups[place + 1]]
            place = max(place - 1, 0)
        else:
            place += 1
    return tuple(Label(_middle(group, frame), _text(group), tier) for group in groups)


def _middle(group: Sequence[tuple[float, str]], frame: LineFrame) -> float:
    """Return where a group's label is centred, inside the picture."""
    half = _LETTER * len(_text(group)) / 2.0
    middle = sum(x for x, _ in group) / len(group)
    return round(min(max(middle, frame.clear + half), frame.width - half), 1)


def _start(group: Sequence[tuple[float, str]], frame: LineFrame) -> float:
    return _middle(group, frame) - _LETTER * len(_text(group)) / 2.0


def _end(group: Sequence[tuple[float, str]], frame: LineFrame) -> float:
    return _middle(group, frame) + _LETTER * len(_text(group)) / 2.0


def _text(group: Sequence[tuple[float, str]]) -> str:
    names = ", ".join(name for _, name in group)
    if len(names) <= _WIDEST_LABEL:
        return names
    if len(group) == 1:
        return names[: _WIDEST_LABEL - 1].rstrip() + "…"
    return tr_n("{n} voice", "{n} voices", len(group))


_MOVED = ("heard", "small")
_SAID = {
    "heard": tr_later("you can expect to hear it"),
    "small": tr_later("may be too small to hear"),
    "same": tr_later("too small to hear"),
    "open": tr_later("the recordings cannot tell"),
}


def _said(idea: Idea, told: Sequence[tuple[str, Difference]]) -> str:
    parts = []
    for name, row in told:
        way = tr(idea.more if (row.difference or 0.0) > 0 else idea.less)
        moved = f"{name} {way}" if kind_of(row) in _MOVED else name
        parts.append(f"{moved}, {tr(_SAID[kind_of(row)])}")
    return f"{tr(idea.name)}: {'; '.join(parts)}."
