"""All headline differences of one comparison in hearing thresholds: a small panel per voice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.arrays import FloatArray
from tonecompare.language import tr
from tonecompare.quantities.words import HEADLINE, words_for
from tonecompare.report.charts.canvas.lettering import folded, width_pt
from tonecompare.report.charts.canvas.sheet import Sheet, say_empty
from tonecompare.report.charts.canvas.style import (
    BACKGROUND,
    BLACK,
    EM_PT,
    INK,
    LINE_PT,
    MUTED,
    WIDTH_PT,
    chart,
)
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.chart_titles import overview_finding
from tonecompare.report.words.numbers import MINUS
from tonecompare.report.words.phrases import VERDICT_WORDS

#: Marker of each verdict and how it is filled, as the sign of the same verdict in the tables. Ink
#: alone: a colour would say "before" or "after".
LOOKS = {
    "likely-audible": ("o", "full", INK),
    "measurable": ("o", "left", INK),
    "confounded": ("x", "none", INK),
    "undecided": ("|", "none", MUTED),
    "no-change": ("o", "none", MUTED),
}
#: Differences of about this size and less are drawn in proportion, larger ones squeezed.
_EVEN_TO = 2.0
_FARTHEST = 60.0
#: Letter heights of a row, of a panel's name, and of all around the panels.
_ROW_EM, _NAME_EM, _AROUND_EM = 1.2, 1.7, 8.2
#: Panels beside each other, where a phone still shows them.
_ACROSS = 3
#: The chart's letters are smaller than those of others: it holds more.
_LETTERS = 0.85


@chart
def overview_chart(
    rows: Sequence[Difference], titles: Mapping[tuple[str, str], str], *, title: str,
) -> Figure:  # fmt: skip
    """Draw each difference as marker and interval, in hearing thresholds, a panel per voice.

    The grey band is plus and minus one threshold: what lies wholly inside it is not expected to
    be audible. The axis is squeezed (inverse hyperbolic sine) beyond about two thresholds.
    """
    usable = [row for row in rows if row.in_thresholds is not None]
    panels = _panels(usable, titles)
    wanted = [name for name in HEADLINE if any(row.quantity == name for row in usable)]
    across = max(min(_ACROSS, len(panels)), 1)
    names_em = _names_em(panels, wanted, across)
    panel_em = len(wanted) * _ROW_EM + names_em
    height_em = -(-len(panels) // across) * panel_em + _AROUND_EM
    sheet = Sheet(
        title,
        says=overview_finding(usable) if usable else "",
        height_in=max(2.2, height_em * EM_PT / 72.0),
    )
    if not usable:
        (axes,) = sheet.axes(left_em=8.4)
        say_empty(axes, tr("No difference with a hearing threshold could be worked out."))
        return sheet.finished()
    verdict_legend(sheet, {row.verdict for row in usable})
    _draw(sheet, panels, wanted, across, names_em)
    return sheet.figure


def _panels(
    rows: Sequence[Difference], titles: Mapping[tuple[str, str], str]
) -> list[tuple[str, list[Difference]]]:
    groups: dict[tuple[str, str], list[Difference]] = {}
    for row in rows:
        groups.setdefault((row.voice, row.output), []).append(row)
    return [(titles.get(key, key[0]), group) for key, group in groups.items()]


def _room_pt(wanted: Sequence[str], across: int) -> tuple[float, float]:
    """Return the room of the quantities' labels and of each panel, in points."""
    em = EM_PT
    labels = [words_for(name).label for name in wanted]
    left_pt = _LETTERS * max((width_pt(label) for label in labels), default=0.0) + 1.0 * em
    return left_pt, (WIDTH_PT - left_pt - 0.8 * em) / across


def _panel_name(name: str, each_pt: float) -> list[str]:
    return folded(name, (each_pt - 0.6 * EM_PT) / _LETTERS)


def _names_em(panels: Sequence[tuple[str, object]], wanted: Sequence[str], across: int) -> float:
    """Return the room above a panel: two lines where any voice's name takes them."""
    _, each_pt = _room_pt(wanted, across)
    lines = max((len(_panel_name(name, each_pt)) for name, _ in panels), default=1)
    return _NAME_EM + 1.05 * (lines - 1)


def verdict_legend(sheet: Sheet, verdicts: set[str]) -> None:
    """Write what each marker says, as many beside each other as fit."""
    em = EM_PT
    width, height = WIDTH_PT, sheet.height_pt
    x_pt = 0.9 * em
    whole = sheet.figure.add_axes((0.0, 0.0, 1.0, 1.0), frameon=False)
    whole.set_axis_off()
    whole.set_xlim(0.0, 1.0)
    whole.set_ylim(0.0, 1.0)
    for verdict in (name for name in LOOKS if name in verdicts):
        words = tr(VERDICT_WORDS[verdict][1])
        needed = 1.9 * em + _LETTERS * width_pt(words)
        if x_pt + needed > width - 0.5 * em:
            x_pt, sheet.top_pt = 0.9 * em, sheet.top_pt + 1.3 * em
        y = 1.0 - (sheet.top_pt + 0.6 * em) / height
        verdict_mark(whole, x_pt / width, y, verdict)
        sheet.figure.text((x_pt + 0.8 * em) / width, y, words, va="center", fontsize=_LETTERS * em)
        x_pt += needed
    sheet.top_pt += 1.5 * em


def _draw(
    sheet: Sheet,
    panels: Sequence[tuple[str, list[Difference]]],
    wanted: Sequence[str],
    across: int,
    names_em: float,
) -> None:
    em = EM_PT
    width, height = WIDTH_PT, sheet.height_pt
    labels = [words_for(name).label for name in wanted]
    left_pt, each_pt = _room_pt(wanted, across)
    panel_em = len(wanted) * _ROW_EM + names_em
    reach = _reach([row for _, group in panels for row in group])
    tall_pt = len(wanted) * _ROW_EM * em
    for n, (name, group) in enumerate(panels):
        line, column = divmod(n, across)
        top_pt = sheet.top_pt + line * panel_em * em + names_em * em
        axes = sheet.figure.add_axes(
            (
                (left_pt + column * each_pt) / width,
                1.0 - (top_pt + tall_pt) / height,
                (each_pt - 0.6 * em) / width,
                tall_pt / height,
            )
        )
        shown = "\n".join(_panel_name(name, each_pt))
        axes.set_title(
            shown, loc="left", fontsize=_LETTERS * em, weight="bold", pad=0.25 * em, color=INK
        )
        _panel(axes, group, wanted, reach)
        axes.set_yticks(range(len(wanted)), labels if column == 0 else [""] * len(labels))
        below = n + across >= len(panels)
        _threshold_ticks(axes, reach, named=below)
    sheet.figure.text(
        (left_pt + 0.5 * (width - left_pt)) / width,
        1.0 - (sheet.top_pt + (-(-len(panels) // across) * panel_em + 1.9) * em) / height,
        tr("hearing thresholds"), ha="center", va="top", fontsize=_LETTERS * em, color=INK,
    )  # fmt: skip


def _panel(axes: Axes, rows: Sequence[Difference], wanted: Sequence[str], reach: float) -> None:
    axes.set_xscale("function", functions=(_squeezed, _spread))
    axes.set_xlim(-reach, reach)
    axes.set_ylim(len(wanted) - 0.5, -0.5)
    axes.axvspan(-1.0, 1.0, color=BLACK, alpha=0.09, linewidth=0)
    axes.axvline(0.0, color=MUTED, linewidth=0.06 * EM_PT)
    for spine in axes.spines.values():
        spine.set_visible(False)
    axes.tick_params(length=0, pad=0.25 * EM_PT, labelsize=_LETTERS * EM_PT)
    for row in rows:
        place = wanted.index(row.quantity)
        ends = row.interval_in_thresholds
        colour = LOOKS.get(row.verdict, ("o", "full", INK))[2]
        if ends is not None:
            axes.plot(
                np.clip(ends, -reach, reach), [place, place], color=colour,
                linewidth=0.8 * LINE_PT,
            )  # fmt: skip
        verdict_mark(
            axes, float(np.clip(row.in_thresholds or 0.0, -reach, reach)), place, row.verdict
        )


def verdict_mark(axes: Axes, x: float, y: float, verdict: str) -> None:
    """Draw the marker of one verdict (:data:`LOOKS`) at a place of the axes."""
    marker, fill, colour = LOOKS.get(verdict, ("o", "full", INK))
    axes.plot(
        [x], [y], linestyle="none", marker=marker, color=colour, markersize=0.5 * EM_PT,
        fillstyle="left" if fill == "left" else "full",
        markerfacecolor=BACKGROUND if fill == "none" else colour, markerfacecoloralt=BACKGROUND,
        markeredgecolor=colour, markeredgewidth=0.12 * EM_PT, clip_on=False,
    )  # fmt: skip


def _reach(rows: Sequence[Difference]) -> float:
    ends = [abs(row.in_thresholds or 0.0) for row in rows]
    for row in rows:
        ends.extend(abs(end) for end in row.interval_in_thresholds or ())
    return float(np.clip(1.25 * max(ends), 3.0, _FARTHEST))


def _squeezed(ratio: FloatArray) -> FloatArray:
    return np.asarray(np.arcsinh(np.asarray(ratio) / _EVEN_TO))


def _spread(place: FloatArray) -> FloatArray:
    return np.asarray(_EVEN_TO * np.sinh(np.asarray(place)))


def _threshold_ticks(axes: Axes, reach: float, *, named: bool) -> None:
    size = 2 if reach <= 4.5 else 5 if reach < 12 else 20
    ticks = [-size, 0, size]
    names = [f"{MINUS}{size}", "0", f"+{size}"] if named else ["", "", ""]
    axes.set_xticks(ticks, names)
    # The outer labels stay within their own panel, however many digits they have.
    lowest, _, highest = axes.get_xticklabels()
    lowest.set_horizontalalignment("left")
    highest.set_horizontalalignment("right")
    axes.set_xticks([], minor=True)
