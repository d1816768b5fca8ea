"""Peaks a preamp has flattened below full scale.

A plucked string's own waveform has edges and flat parts, so a flat top alone proves nothing. What
a rail does and a string cannot: the same flat top at the same level for longer than the note
would need to fall noticeably. A region above 0.9 of the top is flat when three quarters of its
samples lie within 1.5 % of their median (a parabola holds 31 % there); a pluck shows a rail when at
least four flat regions within 0.7 % of each other span 25 ms (a note with a T60 of 10 s falls 1.7 %
in that time, all others more).

The force on a saddle is a row of such flat tops by itself: of 36 clean plucks on a rendered piezo
six or seven show a rail. But it is each pluck's own. A preamp has one for all: so a rail counts
only when another pluck, of another note or 1 dB apart in power, has it too, and no pluck at all
goes beyond it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.units import mean_square_to_dbfs

_EARLY_S = 0.3
_REGION_ABOVE = 0.9
_NEAR_MEDIAN = 0.015
_FLAT_SHARE = 0.75
_LEAST_SAMPLES = 5
_SAME_LEVEL = 0.007
_LEAST_REGIONS = 4
_LEAST_SPAN_S = 0.025
#: Rails of two plucks are one within this; peaks beyond it by this are not held by it; plucks of
#: one note that differ by this in power would not reach one height by themselves.
_ONE_RAIL, _BEYOND, _OTHER_DB = 0.015, 0.05, 1.0


def flattened(
    plucks: Iterable[FloatArray], notes: Sequence[str], *, rate_hz: float
) -> tuple[bool, ...]:
    """Say of each pluck of one output whether its peaks are flattened at a rail all plucks share.

    Parameters
    ----------
    plucks
        Samples (n,) of each from its onset on; the first 0.3 s are looked at.
    notes
        Their notes.
    rate_hz
        Sample rate.
    """
    powers, rails, tops = [], [], []
    for samples in plucks:
        early = samples[: int(_EARLY_S * rate_hz)]
        powers.append(mean_square_to_dbfs(float(np.mean(np.square(early))) + 1e-30))
        rails.append([_rail(sign * early, rate_hz) for sign in (1.0, -1.0)])
        tops.append([float((sign * early).max(initial=0.0)) for sign in (1.0, -1.0)])
    power_db = np.array(powers)
    other = np.abs(power_db[:, None] - power_db) > _OTHER_DB
    other |= np.array(notes, dtype=np.object_)[:, None] != np.array(notes, dtype=np.object_)
    found = np.zeros(len(powers), dtype=bool)
    for rail, size in zip(np.array(rails).T, np.array(tops).T, strict=True):
        top = float(size.max(initial=0.0))
        with np.errstate(invalid="ignore"):
            shared = np.abs(rail[:, None] - rail) < _ONE_RAIL * rail
            found |= (shared & other).any(axis=1) & (top < (1.0 + _BEYOND) * rail)
    return tuple(bool(each) for each in found)


def _rail(samples: FloatArray, rate_hz: float) -> float:
    """Return the level of the flat tops that a pluck holds, NaN where it holds none."""
    top = float(samples.max(initial=0.0))
    if top <= 0.0:
        return float("nan")
    above = np.concatenate([[False], samples > _REGION_ABOVE * top, [False]])
    edges = np.flatnonzero(above[1:] != above[:-1])
    levels, places = [], []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        region = samples[first:last]
        if region.size < _LEAST_SAMPLES:
            continue
        level = float(np.median(region))
        if np.mean(np.abs(region - level) < _NEAR_MEDIAN * level) >= _FLAT_SHARE:
            levels.append(level)
            places.append(int(first))
    if len(levels) < _LEAST_REGIONS:
        return float("nan")
    # The rail is where most flat regions end.
    value, place = np.array(levels), np.array(places)
    rail = np.abs(value[:, None] - value[None, :]) < _SAME_LEVEL * value[None, :]
    of_rail = rail[:, int(np.argmax(rail.sum(axis=0)))]
    span_s = float(np.ptp(place[of_rail])) / rate_hz
    held = of_rail.sum() >= _LEAST_REGIONS and span_s >= _LEAST_SPAN_S
    return float(np.median(value[of_rail])) if held else float("nan")
