"""The frames of a film: a picture drawn once per side, and bars that move over it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.language import tr
from tonecompare.measure.model import PhraseCurve
from tonecompare.report.video.film_plan import HIGH_HZ, LOW_HZ, FilmPlan, Scene, phrase_time_s
from tonecompare.report.video.shapes import Look, Screen
from tonecompare.report.video.slide import TEXT, TITLE, Slide
from tonecompare.report.words.listening_words.clip_words import cue_label
from tonecompare.report.words.numbers import frequency_tick

Pixels = NDArray[np.uint8]
#: How far down the bars reach below the loudest of both sides.
_DEPTH_DB = 60.0
#: What is shown of a phrase below its loudest moment.
_PHRASE_DEPTH_DB = 36.0


@dataclass(frozen=True)
class Panel:
    """Where bars move, in pixels."""

    left: int
    top: int
    right: int
    bottom: int


@dataclass(frozen=True)
class _Stage:
    """A scene's still pictures and the places of its bars."""

    still: tuple[Pixels, Pixels]
    words: Pixels
    spectrum: Panel
    partials: Panel | None
    phrase: Panel | None
    line: Panel


def film_frames(plan: FilmPlan, screen: Screen, look: Look) -> Iterator[Pixels]:
    """Yield every frame, shape (height, width, 3)."""
    colours = [_bytes(look.before), _bytes(look.after)]
    muted = _bytes(look.muted)
    for scene in plan.scenes:
        stage = _stage(scene, screen, look)
        top_db = max(float(levels.spectrum_db.max()) for levels in scene.levels) + 2.0
        for frame in range(scene.frames):
            side = scene.side_at(frame)
            if side is None:
                yield stage.words
                continue
            picture = stage.still[side].copy()
            at = frame % scene.turn_frames
            mine, other = scene.levels[side], scene.levels[1 - side]
            for panel, own, theirs in (
                (stage.spectrum, mine.spectrum_db, other.spectrum_db),
                (stage.partials, mine.partials_db, other.partials_db),
            ):
                if panel is not None and own.shape[1]:
                    _bars(picture, panel, own[at], top_db, colours[side])
                    _marks(picture, panel, theirs[at][: own.shape[1]], top_db, muted)
            if stage.phrase is not None and scene.phrase is not None:
                now_s = phrase_time_s(scene.phrase[side], (at + 0.5) / plan.fps)
                _cursor(picture, stage.phrase, now_s / scene.phrase[side].time_s[-1], colours[side])
            _progress(picture, stage.line, (at + 1) / scene.turn_frames, colours[side])
            yield picture


def _bars(
    picture: Pixels, panel: Panel, levels_db: FloatArray, top_db: float, colour: Pixels
) -> None:
    """Fill each bar up to its level, a gap of a fifth between bars."""
    tops, edges, widths = _places(panel, levels_db, top_db)
    for top, edge, width in zip(tops, edges, widths, strict=True):
        picture[top : panel.bottom, edge : edge + width] = colour


def _marks(
    picture: Pixels, panel: Panel, levels_db: FloatArray, top_db: float, colour: Pixels
) -> None:
    """Mark where the other side stands at the same time after its onset."""
    thick = max(picture.shape[0] // 360, 2)
    tops, edges, widths = _places(panel, levels_db, top_db)
    for top, edge, width in zip(tops, edges, widths, strict=True):
        if top < panel.bottom - thick:
            picture[top : top + thick, edge : edge + width] = colour


def _places(
    panel: Panel, levels_db: FloatArray, top_db: float
) -> tuple[list[int], list[int], list[int]]:
    share = np.clip((levels_db - top_db) / _DEPTH_DB + 1.0, 0.0, 1.0)
    tops = np.round(panel.bottom - share * (panel.bottom - panel.top)).astype(int)
    edges = np.linspace(panel.left, panel.right, levels_db.size + 1).round().astype(int)
    widths = np.maximum((0.8 * np.diff(edges)).astype(int), 1)
    return tops.tolist(), edges[:-1].tolist(), widths.tolist()


def _cursor(picture: Pixels, panel: Panel, share: float, colour: Pixels) -> None:
    """Draw where in the phrase the sound is."""
    thick = max(picture.shape[0] // 270, 2)
    x = panel.left + round(min(max(share, 0.0), 1.0) * (panel.right - panel.left))
    picture[panel.top : panel.bottom, x : x + thick] = colour


def _progress(picture: Pixels, line: Panel, share: float, colour: Pixels) -> None:
    end = line.left + round(share * (line.right - line.left))
    picture[line.top : line.bottom, line.left : end] = colour


def _stage(scene: Scene, screen: Screen, look: Look) -> _Stage:
    panels: tuple[Panel, Panel | None, Panel | None, Panel] | None = None
    still = []
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams["text.parse_math"] = False
        for side in (0, 1):
            slide = Slide(screen, look)
            slide.write(f"{scene.title}, {scene.note}", TITLE, look.ink, bold=True)
            _name_sides(slide, scene, side)
            panels = _panels(slide, scene)
            still.append(_pixels(slide))
        slide = Slide(screen, look)
        slide.write(scene.title, TITLE, look.ink, bold=True)
        slide.top += 0.6 * slide.letter
        _write_words(slide, scene.words)
        words = _pixels(slide)
    assert panels is not None
    return _Stage((still[0], still[1]), words, *panels)


def _name_sides(slide: Slide, scene: Scene, playing: int) -> None:
    """Write both sides, the playing one large in its colour."""
    look = slide.look
    colours = (look.before, look.after)
    for side, letter in enumerate("AB"):
        label = cue_label(letter, scene.sides[side])
        on = side == playing
        mark = "▶ " if on else ""
        size = 1.3 if on else TEXT
        room = slide.right - slide.left
        slide.put(
            slide.left, slide.top + 0.8 * slide.letter,
            slide.cut(f"{mark}{label}", size, room, bold=on), size,
            colours[side] if on else look.muted, bold=on, va="center",
        )  # fmt: skip
        slide.top += 1.7 * slide.letter


def _panels(slide: Slide, scene: Scene) -> tuple[Panel, Panel | None, Panel | None, Panel]:
    """Name the places of spectrum, partials or phrase and return them with the line of time."""
    letter, look = slide.letter, slide.look
    wide = slide.shape.width > slide.shape.height
    bottom = slide.bottom - 0.8 * letter
    line = _whole(slide.left, slide.bottom - 0.25 * letter, slide.right, slide.bottom)
    pitched = scene.levels[0].partials_db.shape[1] > 0
    two = pitched or scene.phrase is not None
    middle = slide.left + 0.56 * (slide.right - slide.left)
    half = slide.top + 0.5 * (bottom - slide.top)
    room = (slide.left, slide.top, middle if wide and two else slide.right,
            bottom if wide or not two else half)  # fmt: skip
    spectrum = _named(slide, room, tr("Spectrum, Hz"))
    top_hz = min(HIGH_HZ, 10_000.0)
    for hz in (100, 1000, 5000) if wide else (100, 1000):
        share = np.log(hz / LOW_HZ) / np.log(top_hz / LOW_HZ)
        x = spectrum.left + float(share) * (spectrum.right - spectrum.left)
        slide.put(x, spectrum.bottom + 0.2 * letter, frequency_tick(hz), ha="center", va="top")
    if not two:
        return spectrum, None, None, line
    left = middle + 1.5 * letter if wide else slide.left
    rest = (left, slide.top if wide else half, slide.right, bottom)
    if scene.phrase is not None:
        return spectrum, None, _phrase(slide, rest, scene.phrase), line
    partials = _named(slide, rest, tr("Partials"))
    count = scene.levels[0].partials_db.shape[1]
    for number in range(1, count + 1, 3):
        x = partials.left + (number - 0.6) / count * (partials.right - partials.left)
        slide.put(x, partials.bottom + 0.2 * letter, str(number), ha="center", va="top",
                  colour=look.ink)  # fmt: skip
    return spectrum, partials, None, line


def _phrase(
    slide: Slide, room: tuple[float, float, float, float], both: Sequence[PhraseCurve]
) -> Panel:
    """Draw how level runs through the phrase on both sides, as recorded; return where."""
    panel = _named(slide, room, tr("Level through the phrase, as recorded"))
    width, height = slide.shape.width, slide.shape.height
    axes = slide.figure.add_axes(
        (
            panel.left / width, 1.0 - panel.bottom / height,
            (panel.right - panel.left) / width, (panel.bottom - panel.top) / height,
        )
    )  # fmt: skip
    axes.patch.set_alpha(0.0)
    axes.set_axis_off()
    top_db = max(float(np.nanmax(one.level_dbfs)) for one in both) + 2.0
    axes.set_ylim(top_db - _PHRASE_DEPTH_DB, top_db)
    axes.set_xlim(0.0, max(float(one.time_s[-1]) for one in both))
    for one, colour, dashes in zip(
        both, (slide.look.before, slide.look.after), ("solid", (0, (3.0, 1.2))), strict=True
    ):
        axes.plot(one.time_s, one.level_dbfs, color=colour, linestyle=dashes,
                  linewidth=slide.line_pt(0.12))  # fmt: skip
    return panel


def _named(slide: Slide, room: tuple[float, float, float, float], name: str) -> Panel:
    left, top, right, bottom = room
    slide.put(left, top + 0.3 * slide.letter, name, colour=slide.look.muted, va="top")
    return _whole(left, top + 1.7 * slide.letter, right, bottom - 1.7 * slide.letter)


def _write_words(slide: Slide, words: str) -> None:
    """Write the finding as large as it fits, cut after a whole sentence if it must be."""
    room = slide.bottom - slide.top
    sentences = words.split(". ")
    for size in (1.4, 1.2, TEXT):
        lines = slide.lines_of(words, size, slide.right - slide.left)
        if len(lines) * 1.28 * size * slide.letter <= room:
            slide.write(words, size, slide.look.ink)
            return
    while len(sentences) > 1:
        sentences.pop()
        shorter = ". ".join(sentences) + "."
        lines = slide.lines_of(shorter, TEXT, slide.right - slide.left)
        if len(lines) * 1.28 * slide.letter <= room:
            slide.write(shorter, TEXT, slide.look.ink)
            return
    most = int(room / (1.28 * slide.letter))
    lines = slide.lines_of(words, TEXT, slide.right - slide.left)[:most]
    for line in lines[:-1]:
        slide.write(line, TEXT, slide.look.ink)
    slide.write(f"{lines[-1]} …", TEXT, slide.look.ink)


def _whole(left: float, top: float, right: float, bottom: float) -> Panel:
    return Panel(*(round(place) for place in (left, top, right, bottom)))


def _pixels(slide: Slide) -> Pixels:
    canvas = FigureCanvasAgg(slide.figure)
    canvas.draw()  # type: ignore[no-untyped-call]
    drawn = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]
    return drawn[..., :3].copy()


def _bytes(colour: str) -> Pixels:
    return np.round(255.0 * np.array(to_rgb(colour))).astype(np.uint8)
