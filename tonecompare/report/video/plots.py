"""What stands below a statement: two sides by voice, curves, bars, a map, dots, sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap

from tonecompare.arrays import FloatArray
from tonecompare.language import tr
from tonecompare.report.charts.canvas.style import BLUE, VERMILLION
from tonecompare.report.video.slide import TEXT, Slide
from tonecompare.report.words.numbers import frequency_tick, plain

#: Rows a screen has room for.
MOST_ROWS = 6


@dataclass(frozen=True)
class TwoValues:
    """One row: what it is of, and its value on both sides, worded too."""

    label: str
    before: float
    after: float
    said: str


def two_sides(slide: Slide, rows: Sequence[TwoValues], words: tuple[str, str]) -> None:
    """Draw a dot for each side of each row, joined; the difference stands beside it."""
    rows = rows[:MOST_ROWS]
    look, letter = slide.look, slide.letter
    _key(slide, words)
    room = slide.right - slide.left
    names = [slide.cut(row.label, TEXT, 0.36 * room) for row in rows]
    left = max(slide.width_of(name) for name in names) + 0.8 * letter
    right = max(slide.width_of(row.said) for row in rows) + 0.8 * letter
    axes = slide.axes(left=left, right=right)
    axes.spines["bottom"].set_visible(False)
    axes.set_xticks([])
    axes.set_yticks([])
    values = [value for row in rows for value in (row.before, row.after)]
    low, high = min(values), max(values)
    reach = max(high - low, 1e-9)
    axes.set_xlim(low - 0.08 * reach, high + 0.08 * reach)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    for place, (row, name) in enumerate(zip(rows, names, strict=True)):
        axes.plot(
            [row.before, row.after], [place, place], color=look.muted,
            linewidth=slide.line_pt(0.12), path_effects=slide.effects, zorder=1,
        )  # fmt: skip
        for value, colour, marker in ((row.before, look.before, "o"), (row.after, look.after, "s")):
            axes.plot(
                [value], [place], marker=marker, color=colour, markersize=slide.line_pt(0.7),
                path_effects=slide.effects, zorder=2, clip_on=False,
            )  # fmt: skip
        _beside(slide, axes, place, name, row.said)


def _key(slide: Slide, words: tuple[str, str]) -> None:
    """Write what the marks stand for, beside each other where there is room."""
    room, letter = slide.right - slide.left, slide.letter
    entries = [f"{mark} {word}" for mark, word in zip("●■", words, strict=True)]
    wide = [slide.width_of(entry, bold=True) for entry in entries]
    together = sum(wide) + 1.2 * letter <= room
    x = slide.left
    for entry, width, colour in zip(
        entries, wide, (slide.look.before, slide.look.after), strict=True
    ):
        shown = slide.cut(entry, TEXT, room, bold=True)
        slide.put(x, slide.top, shown, colour=colour, bold=True, va="top")
        if together:
            x += width + 1.2 * letter
        else:
            slide.top += 1.3 * letter
    slide.top += (1.4 if together else 0.2) * letter


def _beside(slide: Slide, axes: Axes, place: float, name: str, said: str) -> None:
    box = axes.get_position()
    low, high = axes.get_ylim()
    y = slide.shape.height * (1.0 - (box.y0 + (place - low) / (high - low) * box.height))
    slide.put(slide.left, y, name, va="center")
    slide.put(slide.right, y, said, va="center", ha="right", bold=True)


@dataclass(frozen=True)
class Curve:
    """One line with the word at its end; ``after`` chooses colour and dashes."""

    x: FloatArray
    y: FloatArray
    word: str
    after: bool = False
    low: FloatArray | None = None
    high: FloatArray | None = None


def curves(
    slide: Slide, lines: Sequence[Curve], *, unit: str, log: bool = False, x_word: str = ""
) -> None:
    """Draw curves with their words at their ends, zero marked where it lies inside."""
    look, letter = slide.look, slide.letter
    right = max(slide.width_of(line.word) for line in lines) + 0.6 * letter
    shown = np.concatenate([line.y[np.isfinite(line.y)] for line in lines])
    top, low = float(shown.max()), float(shown.min())
    pad = 0.08 * max(top - low, 1.0)
    ticks = _round_ticks(low, top)
    labels = [_signed(tick, unit if tick == ticks[-1] else "") for tick in ticks]
    left = max(map(slide.width_of, labels)) + 0.5 * letter
    axes = slide.axes(left=left, right=right, below=2.7 * letter)
    axes.set_ylim(low - pad, top + pad)
    if log:
        axes.set_xscale("log")
    for line in lines:
        colour = look.after if line.after else look.before
        if line.low is not None and line.high is not None:
            axes.fill_between(
                line.x, np.clip(line.low, low - pad, top + pad),
                np.clip(line.high, low - pad, top + pad), color=colour, alpha=0.25, linewidth=0,
            )  # fmt: skip
        axes.plot(
            line.x, line.y, color=colour, linewidth=slide.line_pt(0.16),
            linestyle=(0, (4.0, 1.2)) if line.after and len(lines) > 1 else "solid",
            path_effects=slide.effects,
        )  # fmt: skip
    first = min(float(line.x[np.isfinite(line.y)][0]) for line in lines)
    last = max(float(line.x[np.isfinite(line.y)][-1]) for line in lines)
    axes.set_xlim(first, last)
    _grid(slide, axes, ticks, labels, left)
    places = [hz for hz in (50, 100, 200, 500, 1000, 2000, 5000, 10_000) if first <= hz <= last]
    if log:
        narrow = slide.shape.width <= slide.shape.height
        places = places[::2] if narrow and len(places) > 4 else places
        slide.ticks(axes, places, [frequency_tick(hz) for hz in places])
    else:
        places_s = [tick for tick in _round_ticks(first, last) if first <= tick <= last]
        slide.ticks(axes, places_s, [plain(tick) for tick in places_s])
    slide.put(slide.right, slide.bottom, x_word, colour=look.muted, ha="right", va="bottom")
    _end_words(slide, axes, lines)


def _grid(
    slide: Slide, axes: Axes, ticks: Sequence[float], labels: Sequence[str], left: float
) -> None:
    axes.set_yticks([])
    box = axes.get_position()
    low, high = axes.get_ylim()
    room = box.height * slide.shape.height / (1.3 * slide.letter)
    step = max(1, math.ceil(len(ticks) / max(room, 1.0)))
    kept = list(zip(ticks, labels, strict=True))[::-1][::step]
    for tick, label in kept:
        strong = tick == 0.0
        axes.axhline(
            tick, color=slide.look.muted if strong else slide.look.rule,
            linewidth=slide.line_pt(0.06 if strong else 0.03), zorder=0,
        )  # fmt: skip
        share = box.y0 + (tick - low) / (high - low) * box.height
        x = slide.left + left - 0.4 * slide.letter
        slide.put(x, slide.shape.height * (1.0 - share), label, ha="right", va="center")


def _end_words(slide: Slide, axes: Axes, lines: Sequence[Curve]) -> None:
    """Write each line's word at its right end, pushed apart where they would overlap."""
    box = axes.get_position()
    low, high = axes.get_ylim()
    places = []
    for line in lines:
        value = float(line.y[np.isfinite(line.y)][-1])
        share = box.y0 + (value - low) / (high - low) * box.height
        colour = slide.look.after if line.after else slide.look.before
        places.append([slide.shape.height * (1.0 - share), line.word, colour])
    places.sort(key=lambda one: float(one[0]))
    for one, other in pairwise(places):
        other[0] = max(float(other[0]), float(one[0]) + 1.2 * slide.letter)
    floor = slide.bottom - 3.3 * slide.letter
    over = max(float(places[-1][0]) - floor, 0.0)
    x = box.x1 * slide.shape.width + 0.4 * slide.letter
    for y, word, colour in places:
        slide.put(x, float(y) - over, str(word), colour=str(colour), va="center", bold=True)


def bars(slide: Slide, numbers: Sequence[int], values: FloatArray, *, unit: str) -> None:
    """Draw a bar for each partial, up or down from zero, the largest named."""
    look, letter = slide.look, slide.letter
    reach = max(float(np.nanmax(np.abs(values))), 1.0)
    ticks = [tick for tick in _round_ticks(-reach, reach) if abs(tick) <= 1.2 * reach]
    labels = [_signed(tick, unit if tick == ticks[-1] else "") for tick in ticks]
    left = max(map(slide.width_of, labels)) + 0.5 * letter
    axes = slide.axes(left=left, below=2.7 * letter)
    axes.set_ylim(-1.25 * reach, 1.25 * reach)
    axes.set_xlim(numbers[0] - 0.7, numbers[-1] + 0.7)
    _grid(slide, axes, ticks, labels, left)
    axes.bar(
        list(numbers), np.nan_to_num(values), width=0.7,
        color=[look.after if value >= 0 else look.before for value in np.nan_to_num(values)],
        edgecolor=look.halo or "none", linewidth=slide.line_pt(0.06),
    )  # fmt: skip
    step = max(1, round(len(numbers) / (6 if slide.shape.width > slide.shape.height else 4)))
    slide.ticks(axes, numbers[::step], [str(n) for n in numbers[::step]])
    slide.put(slide.right, slide.bottom, tr("partial"), colour=look.muted, ha="right", va="bottom")


def filling_map(slide: Slide, ratio: FloatArray, band_hz: FloatArray, values: FloatArray) -> None:
    """Draw where a blend thins (vermillion) and fills (blue), ratio of the piezo upwards."""
    letter = slide.letter
    labels = (tr("all piezo"), tr("half"), tr("all magnetic"))
    left = max(map(slide.width_of, labels)) + 0.5 * letter
    axes = slide.axes(left=left, below=2.7 * letter)
    colours = LinearSegmentedColormap.from_list(
        "filling", [(0.0, VERMILLION), (0.75, "#FFFFFF"), (1.0, BLUE)]
    )
    known = np.isfinite(values).all(axis=0)
    hz = band_hz[known]
    axes.pcolormesh(
        hz, ratio, values[:, known], cmap=colours, vmin=-9.0, vmax=3.0, shading="nearest",
        rasterized=True,
    )  # fmt: skip
    axes.set_xscale("log")
    axes.set_ylim(0.0, 1.0)
    axes.set_yticks([])
    box = axes.get_position()
    tall = box.height * slide.shape.height > 4.0 * letter
    for share, label, va in ((1.0, labels[0], "top"), (0.5, labels[1], "center"),
                             (0.0, labels[2], "bottom")):  # fmt: skip
        if share == 0.5 and not tall:
            continue
        y = slide.shape.height * (1.0 - box.y0 - share * box.height)
        slide.put(slide.left + left - 0.4 * letter, y, label, ha="right", va=va)
    places = [f for f in (100, 200, 500, 1000, 2000, 5000) if hz[0] <= f <= hz[-1]]
    if slide.shape.width < slide.shape.height:
        places = places[::2]
    slide.ticks(axes, places, [frequency_tick(f) for f in places])
    slide.put(slide.left, slide.bottom, tr("thins"), colour=VERMILLION, va="bottom", bold=True)
    slide.put(
        slide.right, slide.bottom, tr("fills"), colour=slide.look.before, va="bottom", bold=True,
        ha="right",
    )  # fmt: skip


@dataclass(frozen=True)
class Place:
    """One place in a plane with its word."""

    x: float
    y: float
    word: str


def dots(slide: Slide, places: Sequence[Place], *, x_word: str, y_word: str) -> None:
    """Draw what was spent against how far it moved the sound, from nought on."""
    look, letter = slide.look, slide.letter
    slide.write(y_word, TEXT, look.muted)
    highest = max(max(dot.y for dot in places), 1.0)
    far = max(max(dot.x for dot in places), 1e-9)
    ticks = _round_ticks(0.0, highest)
    labels = [plain(tick) for tick in ticks]
    left = max(map(slide.width_of, labels)) + 0.5 * letter
    axes = slide.axes(left=left, below=2.7 * letter)
    axes.set_ylim(0.0, 1.25 * highest)
    axes.set_xlim(-0.04 * far, 1.06 * far)
    _grid(slide, axes, ticks, labels, left)
    axes.plot(
        [dot.x for dot in places], [dot.y for dot in places], color=look.after, marker="s",
        linestyle="none", markersize=slide.line_pt(0.7), path_effects=slide.effects, clip_on=False,
    )  # fmt: skip
    across = axes.get_position().width * slide.shape.width
    for dot in places:
        right_half = dot.x > 0.5 * far
        room = (dot.x / far if right_half else 1.0 - dot.x / far) * 0.9 * across
        axes.annotate(
            slide.cut(dot.word, TEXT, room), (dot.x, dot.y), xytext=(0, slide.line_pt(0.7)),
            textcoords="offset points", ha="right" if right_half else "left", va="bottom",
            fontproperties=slide.font(TEXT, dot.word), color=look.ink, parse_math=False,
            path_effects=slide.effects,
        )  # fmt: skip
    ends = [tick for tick in _round_ticks(0.0, far) if tick <= far]
    slide.ticks(axes, ends, [plain(tick) for tick in ends])
    slide.put(slide.right, slide.bottom, x_word, colour=look.muted, ha="right", va="bottom")


def sentences(slide: Slide, lines: Sequence[tuple[str, str, str]]) -> None:
    """Write up to three statements below one another: what, by how much, how sure."""
    look = slide.look
    room = (slide.bottom - slide.top) / max(len(lines), 1)
    start = slide.top
    for number, (what, much, sure) in enumerate(lines):
        slide.top = max(start + number * room, slide.top)
        slide.write(what, TEXT, look.ink)
        slide.write(much, 1.2, look.after, bold=True)
        slide.write(sure, TEXT, look.muted)


def _round_ticks(low: float, high: float) -> list[float]:
    """Return three to five round numbers that span a range."""
    step = 10.0 ** np.floor(np.log10(max(high - low, 1e-9)))
    for part in (0.2, 0.25, 0.5, 1.0, 2.0):
        ticks = np.arange(np.ceil(low / (part * step)), np.floor(high / (part * step)) + 1)
        if ticks.size <= 5:
            return [float(round(tick * part * step, 9)) for tick in ticks]
    return [low, high]


def _signed(value: float, unit: str) -> str:
    return f"{plain(value)} {unit}".strip()
