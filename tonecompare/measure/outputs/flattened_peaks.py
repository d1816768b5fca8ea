"""Peaks a preamp has flattened below full scale.

A plucked string's own waveform has edges and flat parts, so a flat top alone proves nothing. What
a rail does and a string cannot: the same flat top at the same level for longer than the note
would need to fall noticeably. A region above 0.9 of the top is flat when three quarters of its
samples lie within 1.5 % of their median (a parabola holds 31 % there); a pluck counts as clipped
when at least four flat regions within 0.7 % of each other span 25 ms (a note with a T60 of 10 s
falls 1.7 % in that time, all others more).
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray

_EARLY_S = 0.3
_REGION_ABOVE = 0.9
_NEAR_MEDIAN = 0.015
_FLAT_SHARE = 0.75
_LEAST_SAMPLES = 5
_SAME_LEVEL = 0.007
_LEAST_REGIONS = 4
_LEAST_SPAN_S = 0.025


def is_clipped(samples: FloatArray, *, rate_hz: float) -> bool:
    """Say whether a pluck's peaks are flattened, at full scale or below it.

    Parameters
    ----------
    samples
        Shape (n,), from the onset on; the first 0.3 s are looked at.
    rate_hz
        Sample rate.
    """
    early = samples[: int(_EARLY_S * rate_hz)]
    return _one_side(early, rate_hz) or _one_side(-early, rate_hz)


def _one_side(samples: FloatArray, rate_hz: float) -> bool:
    top = float(samples.max(initial=0.0))
    if top <= 0.0:
        return False
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
        return False
    # The rail is where most flat regions end.
    value, place = np.array(levels), np.array(places)
    rail = np.abs(value[:, None] - value[None, :]) < _SAME_LEVEL * value[None, :]
    of_rail = rail[:, int(np.argmax(rail.sum(axis=0)))]
    span_s = float(np.ptp(place[of_rail])) / rate_hz
    return bool(of_rail.sum() >= _LEAST_REGIONS and span_s >= _LEAST_SPAN_S)
