"""Where a pluck ends: at the next one, at a damping hand, in the noise, or with the file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from tonecompare.takes.frames import BandFrames
from tonecompare.takes.model import FloatArray

#: Kept clear before the next onset: the pick already touches the string.
GUARD_BEFORE_NEXT_S = 0.060
#: A fall of this much within DAMPING_S is a hand on the strings, not a decay.
DAMPING_FALL_DB = 12.0
DAMPING_S = 0.080
#: Some band over the floor by this much at the end means still ringing.
STILL_RINGING_DB = 10.0

_NOISE_MEAN_S = 0.4
_LAST_FRAMES = 8
_FADE_DB = 12.0
_OVER_NOISE_DB = 10.0
_FADE_NOISE_DB = 6.0
_LONGEST_FADE_S = 1.5


@dataclass(frozen=True)
class End:
    """End of a pluck: when, by what, and what is to be said about it."""

    end_s: float
    ended_by: str
    flags: tuple[str, ...] = ()


def find_end(
    frames: BandFrames, floor: FloatArray, *, onset_s: float, next_onset_s: float | None
) -> End:
    """Find where what belongs to a pluck ends.

    Parameters
    ----------
    frames, floor
        Band powers of the file, and the quiet's power per band, shape (channels, bands, 1).
    onset_s, next_onset_s
        This onset, and the next one in the file if there is one.

    Returns
    -------
    End
        ``ended_by`` is "next-pluck", "damped", "noise" or "file-end"; the flags are ``damped``,
        ``replucked`` (still ringing when the next pluck came), ``cut`` (still ringing when the
        file ended) and ``faded`` (the file's end was faded out; the end is where the fade began).
    """
    last_s = frames.length_s
    if next_onset_s is not None:
        last_s = max(onset_s, next_onset_s - GUARD_BEFORE_NEXT_S)
    start, stop = (round(t / frames.hop_s) for t in (onset_s, last_s))
    stop = max(start + 1, min(stop, frames.power.shape[2] - 2))
    part = frames.power[:, :, start:stop]
    # Level of the note over the noise, all bands and channels together, and band by band.
    level_db = 10.0 * np.log10(np.maximum(part - floor, 0.01 * floor).sum(axis=(0, 1)))
    floor_db = 10.0 * float(np.log10(floor.sum()))
    damped = _damping_frame(level_db - floor_db, hop_s=frames.hop_s)
    if damped is not None:
        if next_onset_s is None and _falls_to_the_end(part, damped, hop_s=frames.hop_s):
            fade = _fade_frame(level_db, hop_s=frames.hop_s)
            fade = damped if fade is None else min(fade, damped)
            return End((start + fade) * frames.hop_s, "file-end", ("faded",))
        return End((start + damped) * frames.hop_s, "damped", ("damped",))
    gone = _noise_frame(part, floor, k=frames.frames_of(_NOISE_MEAN_S))
    if gone is not None:
        return End((start + gone) * frames.hop_s, "noise")
    last = part[:, :, -_LAST_FRAMES:].mean(axis=2, keepdims=True)
    ringing = bool((last > 10.0 ** (STILL_RINGING_DB / 10.0) * floor).any())
    if next_onset_s is not None:
        return End(last_s, "next-pluck", ("replucked",) if ringing else ())
    fade = _fade_frame(level_db, hop_s=frames.hop_s)
    if fade is not None and _falls_to_the_end(part, fade, hop_s=frames.hop_s):
        return End((start + fade) * frames.hop_s, "file-end", ("faded",))
    if fade is not None:
        return End((start + fade) * frames.hop_s, "damped", ("damped",))
    return End(last_s, "file-end", ("cut",) if ringing else ())


def _damping_frame(level_db: FloatArray, *, hop_s: float) -> int | None:
    """First frame from which the level falls by DAMPING_FALL_DB within DAMPING_S and stays down.

    ``level_db`` is the note's level over the noise; what is near the noise cannot be told.
    """
    ahead = max(2, round(DAMPING_S / hop_s))
    first = round(0.05 / hop_s)
    n = len(level_db) - ahead
    if n <= first:
        return None
    falls = (level_db[ahead:] < level_db[:n] - DAMPING_FALL_DB) & (level_db[:n] > _OVER_NOISE_DB)
    for k in np.flatnonzero(falls):
        if k < first:
            continue
        later = level_db[k + ahead : k + ahead + round(0.2 / hop_s)]
        if later.max() < level_db[k] - DAMPING_FALL_DB + 3.0:
            falling = level_db[k : k + ahead] < level_db[k] - 3.0
            return int(k + np.argmax(falling))
    return None


def _falls_to_the_end(part: FloatArray, frame: int, *, hop_s: float) -> bool:
    """Whether the fall goes on in most bands to the end of the file: a fade, not a hand.

    After a hand on the strings the noise stays; a fade takes it down with the rest.
    """
    last = 10.0 * np.log10(part[:, :, -5:-2].mean(axis=2))
    at = 10.0 * np.log10(part[:, :, max(0, frame - 14) : max(1, frame - 4)].mean(axis=2))
    near_end = (part.shape[2] - frame) * hop_s < _LONGEST_FADE_S
    return bool(near_end and (np.quantile(at - last, 0.3, axis=1) > _FADE_NOISE_DB).all())


def _noise_frame(part: FloatArray, floor: FloatArray, *, k: int) -> int | None:
    """First frame from which every band's 0.4 s mean stays within 3 dB of the floor."""
    mean = uniform_filter1d(part, min(k, part.shape[2]), axis=2, mode="reflect")
    over = np.flatnonzero((mean > 2.0 * floor).any(axis=(0, 1)))
    last = int(over[-1]) if len(over) else 0
    return last + 1 if last + 1 < part.shape[2] - k else None


def _fade_frame(level_db: FloatArray, *, hop_s: float) -> int | None:
    """Where a fade-out at the end of the file begins; None when the note just goes on.

    A line through the level from 2.4 to 1.2 s before the end is carried on; a fade ends far below
    it. It began where the level left the line by more than 1.5 dB for good.
    """
    n = len(level_db)
    fit = slice(max(round(0.3 / hop_s), n - round(2.4 / hop_s)), n - round(1.2 / hop_s))
    if fit.stop - fit.start < round(0.5 / hop_s):
        return None
    index = np.arange(n)
    line = np.polyval(np.polyfit(index[fit], level_db[fit], 1), index)
    below = line - level_db
    if below[-3:].mean() < _FADE_DB:
        return None
    return int(np.flatnonzero(below < 1.5)[-1]) + 1
