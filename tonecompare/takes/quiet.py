"""Find the stretches in which the strings are damped and only hum, buzz and hiss are left.

A quiet stretch stands still: no band jumps, none falls steadily. Hum, however strong, stands
still in its band; a note dies away. What comes after a pluck must besides be no louder in any
band than the quiet before the first one (or, without that, than the quietest stretch), so that the
long tail of a low string is not taken for quiet. Digital silence (a gate, an edit) is not quiet:
it says nothing about the noise of the instrument.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.stats import t as student_t

from tonecompare.arrays import FloatArray
from tonecompare.takes.extremes import largest_within
from tonecompare.takes.frames import LEAST_POWER, BandFrames, BandPower
from tonecompare.takes.model import Quiet

#: Shortest stretch worth measuring.
SHORTEST_S = 0.2
#: More of one says nothing more: a line of hum is known to 1/60 Hz, the hiss to 0.1 dB.
LONGEST_S = 60.0
#: Kept clear before an onset (the pick touches and pushes the string before it lets go) and after.
GUARD_BEFORE_ONSET_S, GUARD_AFTER_ONSET_S = 0.1, 0.05
#: A stretch that falls faster than this in any band is a ringing note.
STEEPEST_FALL_DB_PER_S = 1.0
#: A stretch after a decay must be known to fall by less than this.
STEEPEST_FALL_SHOWN_DB_PER_S = 3.0
#: Louder than the reference stretch by more than this in any band is no quiet; the lowest band
#: wanders with the hands and the room.
LOUDER_DB, LOUDER_LOWEST_BAND_DB = 2.5, 6.0

#: Quieter than the reference stretch by this in most bands means muted or switched off: a hand on
#: the strings takes hum down, not hiss.
SWITCHED_OFF_DB = 4.0

_HALF_S = 0.1
_LEAST_JUMP_DB = 3.0
_SPIKE_FACTOR = 12.0
_EDGE_S = 0.03
_TREND_BLOCK_S = 0.05
_TREND_P = 1e-3
_DAMPED_WITHIN_S = 0.25
_DAMPED_DB = 15.0
_FALLS_LATER_DB = 6.0


def find_quiets(frames: BandFrames, *, onsets_s: Sequence[float] = ()) -> tuple[Quiet, ...]:
    """Find the quiet stretches of a file, in order of time.

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
    power = frames.power.of_all_channels()
    still = _still(frames)
    time_s = np.arange(power.shape[1]) * frames.hop_s
    for onset_s in onsets_s:
        still &= (time_s < onset_s - GUARD_BEFORE_ONSET_S) | (
            time_s > onset_s + GUARD_AFTER_ONSET_S
        )
    found = []
    for start, end in _runs(still):
        start_s = start * frames.hop_s + (_EDGE_S if start > 1 else 0.0)
        end_s = min(end * frames.hop_s - _EDGE_S, frames.length_s, start_s + LONGEST_S)
        settled_s = _without_trend(power, start_s, end_s, hop_s=frames.hop_s)
        if settled_s is not None:
            found.append(Quiet(settled_s, end_s - settled_s))
    return _quiet_enough(found, frames, first_onset_s=min(onsets_s, default=np.inf))


def quiet_floor(frames: BandFrames, quiets: Sequence[Quiet]) -> FloatArray | None:
    """Mean power of each band over the quiet stretches, (channels, bands, 1); None without."""
    if not quiets:
        return None
    parts = [frames.power[:, :, _span(quiet, hop_s=frames.hop_s)] for quiet in quiets]
    return np.asarray(np.concatenate(parts, axis=2).mean(axis=2, keepdims=True))


def _still(frames: BandFrames) -> np.ndarray:
    """Frames around which no band jumps, that hold no spike and no digital silence.

    The mean of the 0.1 s before is compared with that of the 0.1 s after. Noise in a band of
    width B has about ``N = 0.1 s * B`` independent values, so that their ratio spreads by
    ``4.34 sqrt(2 / N)`` dB; five times that, and 3 dB at least, is a jump.
    """
    power = frames.power.of_all_channels()
    half = frames.frames_of(_HALF_S)
    values = _HALF_S * np.tile(np.diff(frames.edges_hz), frames.power.shape[0])
    limit_db = np.maximum(_LEAST_JUMP_DB, 5.0 * 4.343 * np.sqrt(2.0 / values))
    still = frames.alive.copy()
    for band, limit in zip(power, limit_db, strict=True):  # one after the other, for the memory
        mean = uniform_filter1d(band, half, mode="reflect")
        level_db = 10.0 * np.log10(np.maximum(mean, LEAST_POWER))
        jump_db = np.zeros_like(level_db)
        if level_db.size > half:
            jump_db[half // 2 : half // 2 + level_db.size - half] = np.abs(
                level_db[half:] - level_db[:-half]
            )
        still &= jump_db < limit
        around = np.pad(mean, (half, half - 1), mode="edge")
        still &= band < -_SPIKE_FACTOR * largest_within(-around, 2 * half)
    return still


def _runs(mask: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _span(quiet: Quiet, *, hop_s: float) -> slice:
    start = round(quiet.start_s / hop_s)
    return slice(start, max(start + 1, round((quiet.start_s + quiet.length_s) / hop_s)))


def _without_trend(power: BandPower, start_s: float, end_s: float, *, hop_s: float) -> float | None:
    """Start of the part of a stretch in which no band falls any more; None when too short."""
    while end_s - start_s >= SHORTEST_S:
        if not _falls(power[:, round(start_s / hop_s) : round(end_s / hop_s)], hop_s=hop_s):
            return start_s
        start_s += max(0.1, (end_s - start_s) / 4.0)
    return None


def _falls(power: FloatArray, *, hop_s: float) -> bool:
    """Whether some band falls steadily: Student's t of its slope, p < 0.001."""
    slope, error, n = _slopes(power, hop_s=hop_s)
    limit = _trend_limit(max(1, n - 2))
    return bool(((slope < -STEEPEST_FALL_DB_PER_S) & (slope < -limit * error)).any())


@lru_cache(maxsize=1024)
def _trend_limit(freedom: int) -> float:
    """Student's t that a slope that is none exceeds with the probability of a trend."""
    return float(student_t.isf(_TREND_P, freedom))


def _shown_flat(power: FloatArray, *, hop_s: float) -> bool:
    """Whether every band is known to fall by less than the steepest fall that passes for flat."""
    slope, error, _ = _slopes(power, hop_s=hop_s)
    return bool((slope - 2.0 * error > -STEEPEST_FALL_SHOWN_DB_PER_S).all())


def _slopes(power: FloatArray, *, hop_s: float) -> tuple[FloatArray, FloatArray, int]:
    """Slope of each band's 0.05 s means in dB/s, its standard error, and how many means."""
    size = max(1, round(_TREND_BLOCK_S / hop_s))
    n = power.shape[1] // size
    if n < 3:
        return np.zeros(len(power)), np.full(len(power), np.inf), n
    blocks = np.einsum("bnk->bn", power[:, : n * size].reshape(power.shape[0], n, size)) / size
    level_db = 10.0 * np.log10(blocks)
    time_s = (np.arange(n) - (n - 1) / 2.0) * size * hop_s
    spread = float(time_s @ time_s)
    slope = level_db @ time_s / spread
    residual = level_db - (level_db.sum(axis=1, keepdims=True) / n) - slope[:, None] * time_s
    return slope, np.sqrt(np.einsum("bn,bn->b", residual, residual) / (n - 2) / spread), n


def _quiet_enough(
    stretches: Sequence[Quiet], frames: BandFrames, *, first_onset_s: float
) -> tuple[Quiet, ...]:
    """Trusted stretches no louder in any band than the quietest of them, and not switched off.

    Trusted is what stands before the first pluck, what follows a hand on the strings, and what is
    shown to be flat (short stretches in a slow decay look still, too).
    """
    n_bands = frames.power.shape[1]
    power = frames.power.of_all_channels()
    spans = [_span(each, hop_s=frames.hop_s) for each in stretches]
    levels_db = [
        10.0 * np.log10(frames.power[:, :, span].mean(axis=2)).reshape(-1, n_bands)
        for span in spans
    ]
    before = [i for i, each in enumerate(stretches) if each.start_s < first_onset_s]
    trusted = before or [
        i
        for i, span in enumerate(spans)
        if _follows_damping(power, span, back=frames.frames_of(_DAMPED_WITHIN_S))
        or _shown_flat(power[:, span], hop_s=frames.hop_s)
    ]
    trusted = [
        i for i in trusted if i in before or not _falls_later(frames, levels_db[i], spans[i])
    ]
    if not trusted:
        return ()
    quietest = min(trusted, key=lambda i: float(levels_db[i].mean()))
    allowed_db = np.full(n_bands, LOUDER_DB)
    allowed_db[0] = LOUDER_LOWEST_BAND_DB
    return tuple(
        each
        for each, level_db in zip(stretches, levels_db, strict=True)
        if (level_db <= levels_db[quietest] + allowed_db).all()
        and float(np.median(level_db - levels_db[quietest])) > -SWITCHED_OFF_DB
    )


def _falls_later(frames: BandFrames, level_db: FloatArray, span: slice) -> bool:
    """Whether the sound later falls well below the stretch in half of the bands: it was a note."""
    power = frames.power.of_all_channels()
    size = frames.frames_of(SHORTEST_S)
    if power.shape[1] - span.stop <= size:
        return False
    lowest = np.array(
        [uniform_filter1d(band[span.stop :], size, mode="reflect").min() for band in power]
    )
    below_db = level_db.ravel() - 10.0 * np.log10(np.maximum(lowest, LEAST_POWER))
    return bool(np.median(below_db) > _FALLS_LATER_DB)


def _follows_damping(power: BandPower, span: slice, *, back: int) -> bool:
    """Whether some band fell steeply just before the stretch."""
    at = span.start - back
    if at < 0:
        return False
    earlier = power[:, at : at + max(1, back // 4)].mean(axis=1)
    return bool((earlier > 10.0 ** (_DAMPED_DB / 10.0) * power[:, span].mean(axis=1)).any())
