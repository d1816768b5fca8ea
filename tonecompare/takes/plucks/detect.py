"""Find plucks roughly (to a frame): a rise in many bands at once that lasts.

A pluck raises the power of many bands above the largest value of the past 60 ms, within a frame
or two; a beat, the periods of a low string or a slow swell do not. Each rise is then looked at
again: a click or a contact noise is over after some milliseconds, a hand that damps the strings
leaves them quieter than before, and the pick's touch just before it lets go belongs to the pluck
that follows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.takes.extremes import largest_within
from tonecompare.takes.frames import LEAST_POWER, BandFrames
from tonecompare.takes.plucks.new_sound import NewSound, new_sound

#: Mean rise over the bands, in dB, that makes a frame a candidate.
LEAST_RISE_DB = 2.5
#: Rises closer than this are one pluck (pick contact and release, parts of one attack).
SAME_PLUCK_S = 0.09
#: A pluck this far under the loudest of the file is taken for handling noise.
DEEPEST_BELOW_LOUDEST_DB = 38.0

#: Closer to the end of the file than this nothing can be measured.
SHORTEST_PLUCK_S = 0.1
#: Contact noise comes up to this long before a pluck this much louder.
CONTACT_BEFORE_S, CONTACT_BELOW_DB = 0.25, 25.0
#: A pluck puts this share of the power below 1.5 kHz where there was little (-21.5 dB: soft by
#: 20 dB against what rings), or breaks the phases of what rang and adds power or rises steeply.
#: Fret buzz and handling on real takes: broken below 0.06, re-plucks above 0.14.
LEAST_ELSEWHERE = 0.007
LEAST_BROKEN = 0.1
LEAST_RISEN = 0.1
STEEP_RISE_DB = 4.5

#: Of two attacks closer than SAME_PLUCK_S the second counts when louder by this, and is told of
#: when it rises by this.
ABOUT_AS_LOUD_DB, DOUBLE_RISE_DB = 6.0, 6.0

_PAST_S = 0.060
_BAND_RISE_CAP_DB = 15.0
_ABOVE_FLOOR_FACTOR = 4.0


@dataclass(frozen=True)
class Rise:
    """A candidate pluck: where, how steep, how loud after it, and what it adds to what rang."""

    time_s: float
    rise_db: float
    level_db: float
    #: How far the level has fallen 0.1–0.16 s later.
    fall_db: float = 0.0
    #: Rough time of another steep rise, about as loud, within SAME_PLUCK_S.
    second_s: float | None = None
    sound: NewSound | None = None
    #: Level after it by channel, and in which channels it rose.
    levels_db: tuple[float, ...] = ()
    rose: tuple[bool, ...] = ()


def band_floor(frames: BandFrames) -> FloatArray:
    """Lowest 0.2 s mean power of each band, shape (channels, bands, 1)."""
    k = min(frames.frames_of(0.2), frames.power.shape[2])
    lowest = np.empty((*frames.power.shape[:2], 1))
    for band in np.ndindex(frames.power.shape[:2]):  # one after the other, for the memory
        total = np.cumsum(np.pad(frames.power[band], (1, 0)))
        lowest[band] = ((total[k:] - total[:-k]) / k).min()
    # Behind what is loud enough the sums lose even the least there is.
    return np.maximum(lowest, LEAST_POWER)


def level_above_floor(power: FloatArray, floor: FloatArray) -> FloatArray:
    """``10 lg(P / 4F + 1)`` of bands over time: 0 in noise, dB above it in a note."""
    level_db: FloatArray = power / (_ABOVE_FLOOR_FACTOR * floor)
    level_db += 1.0
    np.log10(level_db, out=level_db)
    level_db *= 10.0
    return level_db


def rise_per_frame(frames: BandFrames, floor: FloatArray) -> FloatArray:
    """Mean over bands of the rise above the largest value of the past 60 ms, largest channel.

    ``D[t] = max_c mean_b clip(L[t+2] - max(L[t-2-k … t-3]), 0, 15 dB)``. The time before the
    file counts as quiet, so that a note that begins with the file is a rise at its start.
    """
    past = max(2, round(_PAST_S / frames.hop_s))
    channels, bands, n = frames.power.shape
    rise_db = np.zeros((channels, n))
    for channel, band in np.ndindex(channels, bands):  # one after the other, for the memory
        level_db = level_above_floor(frames.power[channel, band], floor[channel, band])
        padded = np.pad(level_db, (past + 2, 2), mode="edge")
        padded[: past + 2] = 0.0
        largest = largest_within(padded, past)[:n]
        ahead = padded[past + 4 : past + 4 + n]
        rise_db[channel] += np.minimum(np.maximum(ahead - largest, 0.0), _BAND_RISE_CAP_DB)
    return np.asarray((rise_db / bands).max(axis=0))


def find_rises(
    samples: FloatArray, *, rate_hz: float, frames: BandFrames, floor: FloatArray
) -> list[Rise]:
    """Candidate plucks in order of time; clicks, knocks, buzz and contact noise taken out."""
    rise_db = rise_per_frame(frames, floor)
    peaks = _peaks(rise_db, least=LEAST_RISE_DB, apart=frames.frames_of(0.03))
    peaks = peaks[peaks * frames.hop_s < frames.length_s - SHORTEST_PLUCK_S]
    looked = [_look_again(frames, floor, int(k), float(rise_db[k])) for k in peaks]
    rises = [
        replace(rise, sound=new_sound(samples, rate_hz=rate_hz, at_s=rise.time_s))
        for rise in looked
        if rise is not None
    ]
    kept = _merge([rise for rise in rises if _is_pluck(rise)])
    if not kept:
        return []
    return _loud_enough(kept)


def _loud_enough(rises: list[Rise]) -> list[Rise]:
    """Leave out what lies too far under the loudest, judged in the channels where it rose.

    A touch that one output alone picks up must not pass for a pluck because the other output
    still rings from the note before.
    """
    level_db = np.array([rise.levels_db for rise in rises])
    rose = np.array([rise.rose for rise in rises])
    near = level_db > level_db.max(axis=0) - DEEPEST_BELOW_LOUDEST_DB
    return [rise for rise, kept in zip(rises, (near & rose).any(axis=1), strict=True) if kept]


def _peaks(curve: FloatArray, *, least: float, apart: int) -> NDArray[np.intp]:
    largest = largest_within(np.pad(curve, apart, constant_values=-np.inf), 2 * apart + 1)
    return np.flatnonzero((curve >= largest) & (curve >= least))


def _look_again(frames: BandFrames, floor: FloatArray, k: int, rise_db: float) -> Rise | None:
    """Keep a rise whose sound lasts; None for a click, a knock or a damping hand."""
    n = frames.power.shape[2]

    def span(start_s: float, end_s: float) -> slice:
        start = k + round(start_s / frames.hop_s)
        return slice(max(0, min(n - 1, start)), max(1, min(n, k + round(end_s / frames.hop_s))))

    def mean_level(where: slice) -> FloatArray:
        return _mean(level_above_floor(frames.power[:, :, where], floor), 2)

    at_start = k * frames.hop_s < 0.03
    before = 0.0 if at_start else mean_level(span(-0.060, -0.015))
    after = mean_level(span(0.030, 0.080))
    later = mean_level(span(0.100, 0.160))
    lasting = np.minimum(np.maximum(after - before, 0.0), _BAND_RISE_CAP_DB)
    rose = _mean(lasting, 1) >= 1.5
    if not rose.any() or ((lasting > 3.0).sum(axis=1) < 3).all():
        return None
    if (_mean(np.minimum(np.maximum(later - before, -20.0), 20.0), 1) < -1.0).all():
        return None
    by_channel = _mean(frames.power[:, :, span(0.01, 0.08)].sum(axis=1), 1)
    power = float(by_channel.max())
    rest = float(_mean(frames.power[:, :, span(0.100, 0.160)].sum(axis=1), 1).max())
    first_db, rest_db = 10.0 * np.log10([power, rest])
    levels_db = 10.0 * np.log10(np.maximum(by_channel, np.finfo(float).tiny))
    return Rise(
        k * frames.hop_s, rise_db, float(first_db), float(first_db - rest_db),
        levels_db=tuple(levels_db.tolist()), rose=tuple(rose.tolist()),
    )  # fmt: skip


def _mean(values: FloatArray, axis: int) -> FloatArray:
    """Mean along an axis: of few values in half of the time that NumPy's takes."""
    return np.asarray(np.add.reduce(values, axis=axis) / values.shape[axis])


def _is_pluck(rise: Rise) -> bool:
    """Whether the rise brings new sound below 1.5 kHz, where a buzzing fret adds none."""
    sound = rise.sound
    if sound is None:
        return True
    if sound.elsewhere > LEAST_ELSEWHERE:
        return True
    steep = rise.rise_db > STEEP_RISE_DB
    return sound.broken > LEAST_BROKEN and (steep or sound.risen > LEAST_RISEN)


def _merge(rises: list[Rise]) -> list[Rise]:
    """Of rises closer than SAME_PLUCK_S keep one: the louder where it is clearly louder."""
    kept: list[Rise] = []
    for rise in rises:
        while (
            kept
            and rise.time_s - kept[-1].time_s < CONTACT_BEFORE_S
            and rise.level_db > kept[-1].level_db + CONTACT_BELOW_DB
        ):
            kept.pop()
        if kept and rise.time_s - kept[-1].time_s < SAME_PLUCK_S:
            if rise.level_db > kept[-1].level_db + ABOUT_AS_LOUD_DB:
                kept[-1] = rise
            elif rise.rise_db > DOUBLE_RISE_DB:
                kept[-1] = replace(kept[-1], second_s=rise.time_s)
            continue
        kept.append(rise)
    return kept
