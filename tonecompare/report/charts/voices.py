"""All voices of a stage at a glance: level, tone and hum of each against the loudest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.compare.side_by_side import SoundDifference, StageVoices, VoiceSound
from tonecompare.language import tr
from tonecompare.quantities.octave_bands import BAND_SHAPES, BANDS
from tonecompare.report.charts.canvas.lettering import fitted
from tonecompare.report.charts.canvas.sheet import Sheet
from tonecompare.report.charts.canvas.style import (
    BACKGROUND,
    EM_PT,
    INK,
    LINE_PT,
    MUTED,
    WIDTH_PT,
    LineLook,
    chart,
)
from tonecompare.report.words.numbers import frequency_tick, plain

#: Every difference is drawn in ink: colours are kept for before and after. What a channel carries
#: has its own form.
_LOOKS = {
    "magnetic": LineLook(INK, "solid", "o", True),
    "piezo": LineLook(INK, "solid", "s", False),
    "blend": LineLook(INK, "solid", "^", True),
}
_ROW_EM = 2.1
#: Letter heights that title, headings and ticks take.
_AROUND_EM = 6.6
_NAMES_EM = 7.4
#: Shares of the width that level, tone and hum take.
_SHARES = (0.31, 0.42, 0.27)
_GAP_EM = 0.9
#: Half a row's height in dB, the smallest that holds every band.
_REACHES_DB = (6.0, 12.0, 18.0, 24.0, 36.0)


@chart
def voices_chart(
    voices: StageVoices,
    names: Mapping[VoiceSound, str],
    *,
    title: str,
    texts: tuple[str, ...] = (),
) -> Figure:
    """Draw a row per voice: level, octave bands and hum against the loudest.

    Parameters
    ----------
    voices
        The sounds of one stage.
    names
        What each sound is called.
    title
        What the chart shows, in a few words.
    texts
        Every name in the chart: a font is chosen that has their letters.
    """
    rows = len(voices.sounds)
    sheet = Sheet(title, height_in=(rows * _ROW_EM + _AROUND_EM) * EM_PT / 72.0)
    level, tone, hum = _panels(sheet, rows)
    cells = {pair.sound: pair.cells for pair in voices.against_loudest}
    level.set_yticks(range(rows), [_on_two_lines(names[one]) for one in voices.sounds])
    for label in level.get_yticklabels():
        label.set_linespacing(0.95)
        if "\n" in label.get_text():
            label.set_fontsize(0.8 * EM_PT)
    for place, one in enumerate(voices.sounds):
        look = _LOOKS.get(one.output, _LOOKS["magnetic"])
        _dot(level, cells.get(one, {}).get("level_dbfs"), place, look)
        _dot(hum, cells.get(one, {}).get("hum_dbfs"), place, look)
        if one == voices.loudest:
            for axes in (level, hum):
                _marker(axes, 0.0, place, look)
    reach = _reach(cells.values())
    for place, one in enumerate(voices.sounds):
        _bands(tone, cells.get(one, {}), place, reach)
    _level_axis(level)
    _level_axis(hum)
    _tone_axis(tone)
    bands = tr("Bands, row ±{reach} dB", reach=plain(reach))
    for axes, said in ((level, tr("Level, dB")), (tone, bands), (hum, tr("Hum, dB"))):
        axes.set_title(said, loc="left", fontsize=0.9 * EM_PT, pad=0.35 * EM_PT)
    return sheet.finished()


def _on_two_lines(name: str) -> str:
    """Break a name that is too long between two words: a cut name may be that of two voices."""
    room = _NAMES_EM * 0.96 * EM_PT
    words = name.split(" ")
    if len(words) < 2 or fitted(name, room) == name:
        return fitted(name, room)
    halves = [(" ".join(words[:n]), " ".join(words[n:])) for n in range(1, len(words))]
    first, second = min(halves, key=lambda half: max(map(len, half)))
    return "\n".join(fitted(half, room / 0.8) for half in (first, second))


def _panels(sheet: Sheet, rows: int) -> tuple[Axes, Axes, Axes]:
    em = EM_PT
    width, height = WIDTH_PT, sheet.height_pt
    left, room = _NAMES_EM * em, width - (_NAMES_EM + 0.9 + 2 * _GAP_EM) * em
    bottom, top = 2.0 * em / height, 1.0 - (sheet.top_pt + 1.6 * em) / height
    made = []
    for share in _SHARES:
        axes = sheet.figure.add_axes((left / width, bottom, share * room / width, top - bottom))
        left += share * room + _GAP_EM * em
        axes.set_ylim(rows - 0.5, -0.5)
        axes.set_yticks([])
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        axes.tick_params(length=0.3 * em, width=0.06 * em, pad=0.25 * em)
        axes.tick_params(axis="y", length=0)
        axes.tick_params(axis="x", labelsize=0.85 * em)
        for place in range(rows - 1):
            axes.axhline(place + 0.5, color=MUTED, alpha=0.25, linewidth=0.05 * em)
        made.append(axes)
    return made[0], made[1], made[2]


def _dot(axes: Axes, cell: SoundDifference | None, place: int, look: LineLook) -> None:
    if cell is None or cell.difference is None:
        return
    if cell.ends is not None:
        axes.plot(cell.ends, [place, place], color=look.colour, linewidth=LINE_PT)
    _marker(axes, cell.difference, place, look)


def _marker(axes: Axes, x: float, place: int, look: LineLook) -> None:
    axes.plot(
        [x], [place], linestyle="none", marker=look.marker, color=look.colour,
        markersize=0.62 * EM_PT, markeredgewidth=0.15 * EM_PT,
        markerfacecolor=look.colour if look.filled else BACKGROUND, clip_on=False, zorder=3,
    )  # fmt: skip


def _reach(cells: Iterable[Mapping[str, SoundDifference]]) -> float:
    """Return the half height of a row in dB: the smallest that holds nine bands in ten."""
    sizes = [
        abs(one[name].difference or 0.0)
        for one in cells
        for name in BAND_SHAPES
        if not one[name].weak
    ]
    largest = float(np.quantile(sizes, 0.9)) if sizes else 0.0
    return next((reach for reach in _REACHES_DB if reach >= largest), _REACHES_DB[-1])


def _bands(
    axes: Axes,
    cells: Mapping[str, SoundDifference],
    place: int,
    reach: float,
) -> None:
    """Draw a row's bands as bars from its middle: full where surely different, else hollow."""
    axes.plot([-0.5, len(BANDS) - 0.5], [place, place], color=MUTED, linewidth=0.06 * EM_PT)
    for n, name in enumerate(BAND_SHAPES):
        cell = cells.get(name)
        if cell is None or cell.weak or cell.difference is None:
            continue
        tall = 0.44 * float(np.clip(cell.difference / reach, -1.0, 1.0))
        axes.bar(
            n, -tall, 0.76, bottom=place, linewidth=0.08 * EM_PT, edgecolor=INK,
            facecolor=INK if cell.sure else BACKGROUND, zorder=2,
        )  # fmt: skip


def _level_axis(axes: Axes) -> None:
    axes.axvline(0.0, color=MUTED, linewidth=0.08 * EM_PT, zorder=0)
    low, high = axes.get_xlim()
    low, high = min(low, 0.0), max(high, 0.0)
    span = max(high - low, 2.0)
    axes.set_xlim(low - 0.06 * span, high + 0.06 * span)
    step = next(s for s in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 1e9) if span / s <= 2.6)
    first = np.ceil(axes.get_xlim()[0] / step) * step
    ticks = np.arange(first, axes.get_xlim()[1] + 1e-9, step)
    axes.set_xticks(ticks, [plain(float(tick)) for tick in ticks])


def _tone_axis(axes: Axes) -> None:
    axes.set_xlim(-0.6, len(BANDS) - 0.4)
    shown = range(1, len(BANDS), 2)
    axes.set_xticks(list(shown), [frequency_tick(BANDS[n].nominal_hz) for n in shown])
