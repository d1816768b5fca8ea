"""Decay curves before and after: backward-integrated energy, 0 dB at the onset."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.compare.curves.mean_curves import Averaged, Side, average, decays
from tonecompare.language import tr, tr_n
from tonecompare.measure.model import PluckCurves
from tonecompare.report.charts.canvas.axes import name_sides, time_axis, value_axis
from tonecompare.report.charts.canvas.banded_line import banded_line
from tonecompare.report.charts.canvas.reading import readable
from tonecompare.report.charts.canvas.sheet import say_empty
from tonecompare.report.charts.canvas.style import AFTER, BEFORE, chart
from tonecompare.report.charts.pair import NO_SHARED_NOTE, ChartPair

_POINTS = 160
_LONGEST_S = 20.0
_DEPTH_DB = 50.0


@chart
def decay_chart(pair: ChartPair) -> Figure:
    """Draw the decay of one voice at two stages, averaged over the notes both share.

    Lines are means of dB; bands are one standard deviation from pluck to pluck.
    """
    both = averaged_decay(pair)
    shared = sum(note in pair.after for note in pair.before)
    shown = tr("Decay")
    if both:
        some = len(both.notes)
        shown = tr_n("Decay, {some} of {n} note", "Decay, {some} of {n} notes", shared, some=some)
    sheet = pair.sheet("decay", shown)
    (axes,) = sheet.axes(right_em=sheet.room_for(pair.names))
    if both is None or np.count_nonzero(np.isfinite(both.before)) < 2:
        say_empty(axes, tr(NO_SHARED_NOTE))
        return sheet.finished()
    _draw(axes, both, pair.names)
    readable(axes, "s", "dB")
    return sheet.finished()


def averaged_decay(pair: ChartPair) -> Averaged | None:
    """Return both sides' decay curves on one time axis, None when no note is shared.

    The axis ends when half of the shared notes have faded into the quiet; only the notes (and
    plucks) that ring until then are averaged, so that the line never jumps where one ends.
    """
    ends = {
        note: min(_middle_end_s(pair.before[note]), _middle_end_s(pair.after[note]))
        for note in pair.before
        if note in pair.after
    }
    lasting = [end_s for end_s in ends.values() if end_s > 0]
    if not lasting:
        return None
    length_s = min(float(np.sort(lasting)[(len(lasting) - 1) // 2]), _LONGEST_S)
    times_s = np.linspace(0.0, length_s, _POINTS)
    sides = []
    for label, curves in ((pair.before_label, pair.before), (pair.after_label, pair.after)):
        kept = {
            note: [one for one in curves[note] if _end_s(one) >= length_s]
            for note, end_s in ends.items()
            if end_s >= length_s
        }
        sides.append(Side(label, decays(kept, times_s)))
    return average(times_s, *sides)


def _end_s(curve: PluckCurves) -> float:
    finite = np.isfinite(curve.decay_db)
    return float(curve.decay_time_s[finite][-1]) if np.count_nonzero(finite) > 1 else 0.0


def _middle_end_s(curves: Sequence[PluckCurves]) -> float:
    """Return the time that at least half of the plucks ring."""
    ends = sorted(_end_s(one) for one in curves)
    return ends[(len(ends) - 1) // 2] if ends else 0.0


def _draw(axes: Axes, both: Averaged, words: tuple[str, str]) -> None:
    banded_line(
        axes, both.axis, both.before, both.spread_before, BEFORE, name=words[0],
        second=False,
    )  # fmt: skip
    banded_line(
        axes, both.axis, both.after, both.spread_after, AFTER, name=words[1],
        second=True,
    )  # fmt: skip
    lowest = float(np.nanmin([np.nanmin(both.before), np.nanmin(both.after)]))
    value_axis(axes, max(lowest - 2.0, -_DEPTH_DB), 2.0)
    last = both.axis[np.isfinite(both.before) | np.isfinite(both.after)][-1]
    time_axis(axes, float(last))
    axes.set_ylabel(tr("dB re the onset"))
    name_sides(axes, both.before, both.after, words)
