"""Find the stretches in which the strings are damped and only hum, buzz and hiss are left.

Quiet is where every band stays near the lowest level it has anywhere in the file, without a trend:
hum, however strong, stands still in its band, a note dies away. Digital silence (a gate, an edit)
is not quiet: it says nothing about the noise of the instrument.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from tonecompare.takes.frames import LEAST_POWER, BandFrames
from tonecompare.takes.model import FloatArray, Quiet

#: Shortest stretch worth measuring.
SHORTEST_S = 0.2
#: Kept clear before an onset: the pick touches and pushes the string before it lets go.
GUARD_BEFORE_ONSET_S = 0.1
#: A stretch that falls faster than this in any band is a ringing note.
STEEPEST_FALL_DB_PER_S = 2.0

_MEAN_S = 0.2
_NEAR_FLOOR = 10.0**0.4
_FRAME_NEAR_FLOOR = 10.0
_EDGE_S = 0.03
_TREND_BLOCK_S = 0.05


def find_quiets(frames: BandFrames, *, onsets_s: Sequence[float] = ()) -> tuple[Quiet, ...]:
    """Quiet stretches of a file, in order of time.

    Parameters
    ----------
    frames
        Band powers of the file.
    onsets_s
        Onsets of the plucks; the time just before and at each is kept out.

    Returns
    -------
    tuple of Quiet
        Each at least ``SHORTEST_S`` long; empty when the file has no quiet.
    """
    power = frames.power.reshape(-1, frames.power.shape[2])
    alive = _alive(frames)
    floor = quiet_floor(frames)
    if floor is None:
        return ()
    floor = floor.reshape(-1, 1)
    near = (_moving_mean(power, frames.frames_of(_MEAN_S)) <= _NEAR_FLOOR * floor).all(axis=0)
    near &= (power <= _FRAME_NEAR_FLOOR * floor).all(axis=0) & alive
    time_s = np.arange(power.shape[1]) * frames.hop_s
    for onset_s in onsets_s:
        near &= (time_s < onset_s - GUARD_BEFORE_ONSET_S) | (time_s > onset_s + 0.05)
    found = []
    for start, end in _runs(near):
        start_s = max(start * frames.hop_s + (_EDGE_S if start > 1 else 0.0), 0.0)
        end_s = min(end * frames.hop_s - _EDGE_S, frames.length_s)
        settled_s = _without_trend(power, start_s, end_s, hop_s=frames.hop_s)
        if settled_s is not None:
            found.append(Quiet(settled_s, end_s - settled_s))
    return tuple(found)


def quiet_floor(frames: BandFrames) -> FloatArray | None:
    """Lowest 0.2 s mean power of each band outside digital silence, (channels, bands, 1)."""
    k = frames.frames_of(_MEAN_S)
    alive = _alive(frames)
    if alive.sum() <= k:
        return None
    whole = _moving_all(alive, k)
    if not whole.any():
        return None
    mean = _moving_mean(frames.power.reshape(-1, frames.power.shape[2]), k)[:, whole]
    return np.asarray(mean.min(axis=1)).reshape(*frames.power.shape[:2], 1)


def _alive(frames: BandFrames) -> np.ndarray:
    """Frames that hold more than digital silence in some band of every channel."""
    return np.asarray((frames.power > 20.0 * LEAST_POWER).any(axis=1).all(axis=0))


def _moving_mean(power: FloatArray, k: int) -> FloatArray:
    """Centred mean over k frames; shorter at the ends."""
    total = np.cumsum(np.pad(power, ((0, 0), (1, 0))), axis=1)
    n = power.shape[1]
    index = np.arange(n)
    low, high = np.maximum(index - k // 2, 0), np.minimum(index + (k + 1) // 2, n)
    return np.asarray((total[:, high] - total[:, low]) / (high - low))


def _moving_all(mask: np.ndarray, k: int) -> np.ndarray:
    """True where the k frames around are all inside the file and all true."""
    padded = np.pad(mask, (k // 2, (k + 1) // 2 - 1), constant_values=False)
    return np.asarray(sliding_window_view(padded, k).all(axis=1))


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _without_trend(
    power: FloatArray, start_s: float, end_s: float, *, hop_s: float
) -> float | None:
    """Start of the part of a stretch in which no band falls any more; None when too short."""
    while end_s - start_s >= SHORTEST_S:
        if not _falls(power[:, round(start_s / hop_s) : round(end_s / hop_s)], hop_s=hop_s):
            return start_s
        start_s += max(0.1, (end_s - start_s) / 4.0)
    return None


def _falls(power: FloatArray, *, hop_s: float) -> bool:
    """Whether some band falls steadily: slope of block means, four standard errors below zero."""
    size = max(1, round(_TREND_BLOCK_S / hop_s))
    n = power.shape[1] // size
    if n < 3:
        return False
    blocks = power[:, : n * size].reshape(power.shape[0], n, size).mean(axis=2)
    level_db = 10.0 * np.log10(blocks)
    time_s = (np.arange(n) - (n - 1) / 2.0) * size * hop_s
    spread = float(np.sum(time_s**2))
    slope = level_db @ time_s / spread
    residual = level_db - level_db.mean(axis=1, keepdims=True) - slope[:, None] * time_s
    error = np.sqrt((residual**2).sum(axis=1) / max(1, n - 2) / spread)
    return bool(((slope < -STEEPEST_FALL_DB_PER_S) & (slope < -4.0 * error)).any())
