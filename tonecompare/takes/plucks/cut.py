"""Where a pluck ends: at the next one, at a damping hand, in the noise, or with the file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from tonecompare.arrays import FloatArray
from tonecompare.takes.frames import BandFrames

#: No string rings longer; what goes on so long is a bow or a tone.
LONGEST_RING_S = 120.0
#: Kept clear before the next onset: the pick already touches the string.
GUARD_BEFORE_NEXT_S = 0.060
#: A fall of this much within DAMPING_S is a hand on the strings, not a decay.
DAMPING_FALL_DB = 10.0
DAMPING_S = 0.080
#: Some band over the floor by this much at the end means still ringing.
STILL_RINGING_DB = 10.0

_LAST_FRAMES = 8
_FADE_DB = 12.0
_STANDS_OUT_DB = 15.0
_NEAR_NOISE_DB = 6.0
_MOST = 0.7
_STAYS_DOWN_S = 0.4
_UP_AGAIN_DB = 3.0
_FADE_NOISE_DB = 6.0
_LONGEST_FADE_S = 1.5
#: A step this large from one such stretch to the next is a hand, even on a note near the noise.
_STEP_S, _STEP_DB, _STEP_NOISE = 0.08, 4.0, 2.0


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
    last_s = min(last_s, onset_s + LONGEST_RING_S)
    start, stop = (round(t / frames.hop_s) for t in (onset_s, last_s))
    stop = max(start + 1, min(stop, frames.power.shape[2] - 2))
    part = frames.power[:, :, start:stop]
    # Level of the note over the noise, all bands and channels together, and band by band.
    level_db = 10.0 * np.log10(np.maximum(part - floor, 0.01 * floor).sum(axis=(0, 1)))
    damped = _damping_frame(part, floor, hop_s=frames.hop_s)
    if damped is not None:
        if next_onset_s is None and _falls_to_the_end(part, damped, hop_s=frames.hop_s):
            fade = _fade_frame(level_db, hop_s=frames.hop_s)
            fade = damped if fade is None else min(fade, damped)
            return End((start + fade) * frames.hop_s, "file-end", ("faded",))
        return End((start + damped) * frames.hop_s, "damped", ("damped",))
    fade = _fade_frame(level_db, hop_s=frames.hop_s) if next_onset_s is None else None
    if fade is not None and _falls_to_the_end(part, fade, hop_s=frames.hop_s):
        return End((start + fade) * frames.hop_s, "file-end", ("faded",))
    gone = _noise_frame(part, floor, hop_s=frames.hop_s, short=next_onset_s is not None)
    if gone is not None:
        return End((start + gone) * frames.hop_s, "noise")
    if fade is not None:
        return End((start + fade) * frames.hop_s, "damped", ("damped",))
    last = part[:, :, -_LAST_FRAMES:].mean(axis=2, keepdims=True)
    ringing = bool((last > 10.0 ** (STILL_RINGING_DB / 10.0) * floor).any())
    if next_onset_s is not None:
        return End(last_s, "next-pluck", ("replucked",) if ringing else ())
    return End(last_s, "file-end", ("cut",) if ringing else ())


def _damping_frame(part: FloatArray, floor: FloatArray, *, hop_s: float) -> int | None:
    """First frame from which the note falls within DAMPING_S and stays down.

    A decay takes the high bands first; a hand takes most of the bands that stand out of the noise
    and the loudest of them, whatever hum there is. What is near the noise cannot be told.
    """
    over_db = 10.0 * np.log10(part / floor).reshape(-1, part.shape[2])
    power = part.reshape(-1, part.shape[2])
    ahead = max(2, round(DAMPING_S / hop_s))
    first = round(0.05 / hop_s)
    n = over_db.shape[1] - ahead
    if n <= first:
        return None
    now, then = over_db[:, :n], over_db[:, ahead:]
    stands = now > _STANDS_OUT_DB
    fallen = (then < now - DAMPING_FALL_DB) | (then < _NEAR_NOISE_DB)
    loudest = np.argmax(np.where(stands, power[:, :n], 0.0), axis=0)
    falls = (fallen & stands).sum(axis=0) >= np.maximum(1, _MOST * stands.sum(axis=0))
    falls &= fallen[loudest, np.arange(n)]
    stay = round(_STAYS_DOWN_S / hop_s)
    for k in np.flatnonzero(falls):
        if k < first:
            continue
        band = loudest[k]
        later = float(over_db[band, k + ahead : k + ahead + stay].max())
        limit = max(float(now[band, k]) - DAMPING_FALL_DB, _NEAR_NOISE_DB) + _UP_AGAIN_DB
        if later < limit:
            level = over_db[band, k : k + ahead]
            return int(k + np.argmax(level < level[0] - _UP_AGAIN_DB))
    return None


def _falls_to_the_end(part: FloatArray, frame: int, *, hop_s: float) -> bool:
    """Whether the fall goes on in most bands to the end of the file: a fade, not a hand.

    After a hand on the strings the noise stays; a fade takes it down with the rest.
    """
    last = 10.0 * np.log10(part[:, :, -5:-2].mean(axis=2))
    at = 10.0 * np.log10(part[:, :, max(0, frame - 14) : max(1, frame - 4)].mean(axis=2))
    near_end = (part.shape[2] - frame) * hop_s < _LONGEST_FADE_S
    return bool(near_end and (np.quantile(at - last, 0.3, axis=1) > _FADE_NOISE_DB).all())


def _noise_frame(part: FloatArray, floor: FloatArray, *, hop_s: float, short: bool) -> int | None:
    """First frame from which the mean of every band stays near the floor.

    Within 3 dB over 0.4 s, or, in the short time left before another pluck, within 6 dB over
    0.06 s: the lowest band, 120 Hz wide, spreads by 0.6 and 1.6 dB.
    """
    for mean_s, factor in ((0.4, 2.0), (0.06, 4.0))[: 1 + short]:
        k = max(1, round(mean_s / hop_s))
        if k >= part.shape[2]:
            continue
        mean = uniform_filter1d(part, k, axis=2, mode="reflect")
        over = np.flatnonzero((mean > factor * floor).any(axis=(0, 1)))
        last = int(over[-1]) if len(over) else 0
        if last + 1 < part.shape[2] - k:
            step = _step_before(part, floor, last + 1, reach=k // 2 + 1, hop_s=hop_s)
            return last + 1 if step is None else step
    return None


def _step_before(
    part: FloatArray, floor: FloatArray, gone: int, *, reach: int, hop_s: float
) -> int | None:
    """First frame of the noise, where a hand stopped a note that had sunk near it.

    A mean over 0.4 s still holds the note's last tenths when the note is silent. Within half that
    time before ``gone`` the frame is sought before which some band was loudest against the same
    time after it; 4 dB or more is no decay, and after it every band must be in the noise. None
    where there is none: the note sank into the noise.
    """
    k = max(2, round(_STEP_S / hop_s))
    first, stop = max(k, gone - reach), min(gone + k, part.shape[2] - k)
    if stop <= first:
        return None
    total = np.cumsum(part[:, :, first - k : stop + k], axis=2)
    total = np.concatenate([np.zeros_like(total[:, :, :1]), total], axis=2)
    mean = (total[:, :, k:] - total[:, :, :-k]) / k
    n = stop - first
    before, after = mean[:, :, :n], mean[:, :, k : k + n]
    falls = np.where((after < _STEP_NOISE * floor).all(axis=(0, 1)), before / after, 0.0)
    falls = falls.max(axis=(0, 1))
    at = int(np.argmax(falls))
    return first + at if falls[at] > 10.0 ** (_STEP_DB / 10.0) else None


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
