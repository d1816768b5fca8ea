"""Decay curves before and after: backward-integrated energy, 0 dB at the onset."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tonecompare.report.charts.axes import last_finite, name_lines, time_axis, value_axis
from tonecompare.report.charts.pair import NO_SHARED_NOTE, Pair
from tonecompare.report.charts.sheet import Sheet, say_empty
from tonecompare.report.charts.style import (
    AFTER,
    BEFORE,
    PAGE,
    FloatArray,
    Frame,
    LineLook,
    chart,
    line_style,
)
from tonecompare.report.curves import Averaged, Side, average, decays

_POINTS = 160
_LONGEST_S = 20.0
_DEPTH_DB = 50.0
_MARK_EVERY = 20


@chart
def decay_chart(pair: Pair, *, frame: Frame = PAGE) -> Figure:
    """Draw the decay of one voice at two stages, averaged over the notes both share.

    Bold lines are means of dB, as long as half of the shared notes still ring above the quiet on
    both sides; thin lines are single notes (means of their plucks).
    """
    sheet = Sheet(
        f"{pair.title}: decay",
        frame=frame,
        key=((BEFORE, pair.before_label), (AFTER, pair.after_label)),
    )
    (axes,) = sheet.axes(right_em=3.9)
    both = averaged_decay(pair)
    if both is None or np.count_nonzero(np.isfinite(both.before)) < 2:
        say_empty(axes, NO_SHARED_NOTE)
        return sheet.figure
    _draw(axes, both, frame)
    return sheet.figure


def _length_s(pair: Pair) -> float:
    """Length all of whose first half of notes still ring: the middle one of the notes' lengths."""
    ends = [
        max(float(one.decay_time_s[-1]) for one in side[note] if one.decay_time_s.size)
        for side in (pair.before, pair.after)
        for note in side
        if note in pair.before and note in pair.after
        and any(one.decay_time_s.size for one in side[note])
    ]  # fmt: skip
    return min(float(np.median(ends)), _LONGEST_S) if ends else 0.0


def averaged_decay(pair: Pair) -> Averaged | None:
    """Return both sides' decay curves on one time axis, None when no note is shared."""
    length_s = _length_s(pair)
    if length_s <= 0:
        return None
    times_s = np.linspace(0.0, length_s, _POINTS)
    before = Side(pair.before_label, decays(pair.before, times_s))
    after = Side(pair.after_label, decays(pair.after, times_s))
    return average(times_s, before, after)


def _draw(axes: Axes, both: Averaged, frame: Frame) -> None:
    _side(axes, both.axis, both.before, both.spread_before, BEFORE, frame, 0)
    _side(axes, both.axis, both.after, both.spread_after, AFTER, frame, _MARK_EVERY // 2)
    lowest = float(np.nanmin([np.nanmin(both.before), np.nanmin(both.after)]))
    value_axis(axes, max(lowest - 2.0, -_DEPTH_DB), 2.0)
    last = both.axis[np.isfinite(both.before) | np.isfinite(both.after)][-1]
    time_axis(axes, float(last))
    axes.set_ylabel("dB re the onset")
    name_lines(
        axes,
        [
            (last_finite(both.before), "before", BEFORE.colour),
            (last_finite(both.after), "after", AFTER.colour),
        ],
        frame=frame,
    )


def _side(
    axes: Axes, times_s: FloatArray, level: FloatArray, spread: FloatArray, look: LineLook,
    frame: Frame, start: int,
) -> None:  # fmt: skip
    axes.fill_between(
        times_s, level - spread, level + spread, color=look.colour, alpha=0.18, linewidth=0
    )
    axes.plot(times_s, level, markevery=(start, _MARK_EVERY), **line_style(look, frame))
