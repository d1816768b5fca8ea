"""Faults of a whole file that can be heard in its samples: clipping, offset, doubled channels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.signal import firwin, resample_poly

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.takes.file_samples import in_blocks
from tonecompare.takes.hann import hann
from tonecompare.takes.model import Audio

#: Runs of this many equal samples at the largest value are a flat top.
CLIP_RUN = 3
#: Tops lower than this (-72 dBFS) say nothing of clipping: noise alone stands on its highest step.
LOWEST_TOP = 2.0**-12
#: Offsets above this (-60 dB re full scale) are worth a sentence.
DC_OFFSET = 1e-3
#: Below this rate partials of interest are missing.
LOW_RATE_HZ = 32_000.0
#: A fall of the spectrum within 400 Hz by this is no guitar's.
HARD_CUT_DB = 35.0
HIGHEST_EDGE_HZ = 21_000.0
#: Samples that stand still for this long are no recorded quiet.
DIGITAL_SILENCE_S = 0.1

#: Two channels are one when what is left of the second without the first is this far below it;
#: dither leaves some -50 dB, two outputs of one string are nowhere near.
ALIKE_DB = 45.0

_SPECTRUM, _SPECTRA = 4096, 100
#: Samples beside a flat top whose steps are looked at.
_NEIGHBOURS = 64
_OVERSAMPLE, _AROUND = 4, 64
#: Samples looked at together, so that an hour cut flat throughout takes no more memory than a bar;
#: blocks this near each other are one part.
_LONGEST_PART, _NEAR_BLOCKS = 1 << 18, 16
#: Samples nearer full scale than this can hide a peak between them that goes over it: two samples
#: either side of the peak of a tone at 0.4 of the rate stand at cos(0.4 pi) = 0.31 of it, but no
#: string puts its peaks there; at a tenth of the rate they stand at cos(0.1 pi) = 0.95.
_NEAR_FULL_SCALE = 0.8


def clipped_times(audio: Audio) -> FloatArray:
    """Find flat tops, in seconds: runs of equal samples at the file's largest values.

    A smooth top may hold equal samples too when the steps are coarse. On a parabola a run of n
    samples within one step q is followed by a drop of at most ``q (1 + 2/n)²`` per step; a
    clipped top falls off faster.
    """
    times = [_clipped_channel(audio, channel) for channel in range(len(audio.samples))]
    return np.asarray(np.unique(np.concatenate(times)) / audio.rate_hz)


def _clipped_channel(audio: Audio, channel: int) -> FloatArray:
    """First samples of the flat tops of one channel, one a millisecond at most."""
    found: list[int] = []
    extremes, samples = audio.extremes, audio.samples[channel]
    apart = max(1, round(0.001 * audio.rate_hz))
    for sign, highest in ((1.0, extremes.high[channel]), (-1.0, -extremes.low[channel])):
        top = float(highest.max())
        if top < LOWEST_TOP:
            continue
        least = top * (1.0 - 2.0**-14)
        last = -apart
        for part in _parts(samples, highest >= least, block=extremes.block, beside=_NEIGHBOURS):
            edges = np.flatnonzero(
                np.diff(sign * part.samples >= least, prepend=False, append=False)
            )
            for start, stop in edges.reshape(-1, 2).tolist():
                at = part.first + start
                if stop - start < CLIP_RUN or at < last + apart:
                    continue
                if _is_flat(part.samples, start, stop - 1, sign, full_scale=top > 0.99):
                    found.append(at)
                    last = at
    return np.array(found, dtype=np.float64)


@dataclass(frozen=True)
class _Part:
    """Some samples of a channel, and the place of the first."""

    first: int
    samples: FloatArray


def _parts(
    samples: FloatArray, wanted: NDArray[np.bool_], *, block: int, beside: int
) -> Iterator[_Part]:
    """Yield the wanted blocks of a channel with some samples beside them, a limited part at a time.

    Blocks that are near each other come together, and what lies between them.
    """
    near = np.flatnonzero(wanted)
    if not near.size:
        return
    breaks = np.flatnonzero(np.diff(near) > _NEAR_BLOCKS)
    firsts = near[np.concatenate([[0], breaks + 1])] * block
    lasts = np.minimum((near[np.concatenate([breaks, [-1]])] + 1) * block, len(samples))
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        for start in range(first, last, _LONGEST_PART):
            low = max(0, start - beside)
            stop = min(start + _LONGEST_PART, last)
            yield _Part(low, samples[low : stop + beside])


def _is_flat(samples: FloatArray, start: int, end: int, sign: float, *, full_scale: bool) -> bool:
    """Whether the wave leaves the run from start to end faster than a smooth top would."""
    n = end + 1 - start
    if start == 0 or end == len(samples) - 1:
        return False
    level = sign * float(samples[start])
    near = samples[max(0, start - _NEIGHBOURS) : end + 1 + _NEIGHBOURS]
    spread = max(float(np.ptp(samples[start : end + 1])), level * 2.0**-15, _step(near))
    drop = level - max(sign * float(samples[start - 1]), sign * float(samples[end + 1]))
    return drop > (2.0 if full_scale else 6.0) * spread * (1.0 + 2.0 / n) ** 2


def _step(samples: FloatArray) -> float:
    """Return the step of the whole numbers that samples were once kept in, 0 when of none."""
    for bits in (8, 12, 16, 20, 24):
        scaled = samples * 2.0 ** (bits - 1)
        if np.array_equal(scaled, np.round(scaled)):
            return float(2.0 ** (1 - bits))
    return 0.0


def sample_peak(audio: Audio) -> tuple[float, float]:
    """Return the largest absolute value of a sample and its time in seconds."""
    extremes = audio.extremes
    highest = np.maximum(extremes.high, -extremes.low).max(axis=0)
    first = int(np.argmax(highest)) * extremes.block
    size = np.abs(audio.samples[:, first : first + extremes.block]).max(axis=0)
    return extremes.peak, (first + int(np.argmax(size))) / audio.rate_hz


def inter_sample_peak(audio: Audio) -> tuple[float, float]:
    """Return the largest value of the four times oversampled wave and its time in seconds.

    Only the surroundings of samples near full scale are looked at; below it is the samples' peak.
    """
    extremes = audio.extremes
    best, best_s = sample_peak(audio)
    highest = np.maximum(extremes.high, -extremes.low)
    for channel, high in zip(audio.samples, highest, strict=True):
        loud = high > _NEAR_FULL_SCALE
        for part in _parts(channel, loud, block=extremes.block, beside=_AROUND):
            near = np.flatnonzero(np.abs(part.samples) > _NEAR_FULL_SCALE)
            groups = np.split(near, np.flatnonzero(np.diff(near) > _AROUND) + 1)
            for group in filter(len, groups):
                first = max(0, int(group[0]) - _AROUND)
                wave = part.samples[first : int(group[-1]) + _AROUND + 1]
                fine = np.abs(resample_poly(wave, _OVERSAMPLE, 1, window=_between_samples()))
                top = int(np.argmax(fine))
                if fine[top] > best:
                    at = part.first + first + top / _OVERSAMPLE
                    best, best_s = float(fine[top]), at / audio.rate_hz
    return best, best_s


@lru_cache(maxsize=1)
def _between_samples() -> Any:
    """Return the low-pass that SciPy's ``resample_poly`` designs anew at every call.

    An array; SciPy's types know only the names of windows.
    """
    return firwin(2 * 10 * _OVERSAMPLE + 1, 1.0 / _OVERSAMPLE, window=("kaiser", 5.0))


def usable_channels(audio: Audio) -> tuple[Audio, tuple[int, ...]]:
    """Drop a channel that is silent or a copy of the other.

    Returns
    -------
    audio
        With the channels kept, flags and problems extended.
    channels
        Indices (0, 1) of the channels kept.
    """
    if audio.samples.shape[0] == 1:
        return audio, (0,)
    span = audio.extremes.span
    if _alike_db(audio) > ALIKE_DB:
        flag, keep = "dual-mono", 0
        said = tr_later(
            "Both channels are identical or nearly so (a mono recording saved as stereo); one was "
            "used. If two outputs were meant, check the cable and record it again."
        )
    elif span.min() < 1e-5 * span.max():
        flag, keep = "silent-channel", int(np.argmax(span))
        said = tr_later(
            "Channel {silent} is silent; only channel {kept} was used. If two outputs were meant, "
            "check the cable and record it again.",
            silent=2 - keep,
            kept=keep + 1,
        )
    else:
        return audio, (0, 1)
    kept = replace(
        audio,
        samples=audio.samples[keep : keep + 1],
        flags=(*audio.flags, flag),
        problems=(*audio.problems, said),
    )
    return kept, (keep,)


def _alike_db(audio: Audio) -> float:
    """Return how far below the second channel lies what the first does not explain of it.

    ``-10 lg(1 - r²)`` with r the correlation about the means: alike however much louder one is;
    infinite for equal channels.
    """
    equal, products = True, np.zeros(3)
    mean = audio.offset[:, None]
    for _, (first, second) in in_blocks(audio.samples):
        equal = equal and np.array_equal(first, second)
        x, y = first - mean[0], second - mean[1]
        products += (x @ x, y @ y, x @ y)
    if equal:
        return float("inf")
    powers = float(products[0]) * float(products[1])
    if powers <= 0.0:
        return 0.0
    left = 1.0 - float(products[2]) ** 2 / powers
    return -10.0 * float(np.log10(max(left, 1e-12)))


def steepest_fall_hz(audio: Audio) -> tuple[float | None, bool]:
    """Return where the spectrum falls by HARD_CUT_DB, and whether it rises again by half of it.

    A fall is that of the mean level (dB of the averaged power spectrum) from the 600 Hz below to
    the 600 Hz above a gap of 400 Hz. Lossy codecs and resamplers leave one that does not rise
    again, noise removal a hole; on 200 real takes without, the steepest fall was 27 dB. Above
    what can be heard, and above 0.9 of half the rate (the converter's own edge), it is no fault.

    Returns
    -------
    tuple
        The frequency in Hz, None without such a fall; whether the spectrum rises again after it.
    """
    if audio.samples.shape[1] < _SPECTRUM:
        return None, False
    starts = np.linspace(0, audio.samples.shape[1] - _SPECTRUM, _SPECTRA).astype(int)
    index = np.unique(starts)[:, None] + np.arange(_SPECTRUM)
    loudest = audio.samples[int(np.argmax(audio.extremes.span))]
    spectrum = scipy.fft.rfft(loudest[index] * hann(_SPECTRUM), axis=1)
    power = (spectrum.real**2 + spectrum.imag**2).mean(axis=0)
    total = np.cumsum(np.concatenate([[0.0], 10.0 * np.log10(power + 1e-18)]))
    step_hz = audio.rate_hz / _SPECTRUM
    wide, gap = round(600.0 / step_hz), round(200.0 / step_hz)
    highest_hz = min(0.45 * audio.rate_hz, HIGHEST_EDGE_HZ)
    edge = np.arange(round(3000.0 / step_hz), int(highest_hz / step_hz))
    edge = edge[edge + gap + wide < len(total)]
    if len(edge) == 0:
        return None, False
    below = (total[edge - gap] - total[edge - gap - wide]) / wide
    above = (total[edge + gap + wide] - total[edge + gap]) / wide
    steepest = int(np.argmax(below - above))
    if (below - above)[steepest] <= HARD_CUT_DB:
        return None, False
    later = above[steepest:].max()
    return float(edge[steepest] * step_hz), bool(later > above[steepest] + 0.5 * HARD_CUT_DB)


def digital_silence_s(audio: Audio) -> float:
    """Seconds of the longest stretch of samples that are all the same; 0 below some 5 ms."""
    return audio.extremes.longest_stillness(audio.samples) / audio.rate_hz


def file_faults(audio: Audio, *, clipped_s: FloatArray) -> list[tuple[str, str]]:
    """Flag and sentence of each fault of the whole file."""
    return [
        *_level_faults(audio, clipped_s=clipped_s),
        *_band_faults(audio),
        *_offset_faults(audio),
    ]


def _level_faults(audio: Audio, *, clipped_s: FloatArray) -> list[tuple[str, str]]:
    if len(clipped_s):
        seconds = sorted({round(float(t), 1) for t in clipped_s})
        said = tr_later(
            "The wave is cut flat at {top_dbfs:.1f} dBFS (at {seconds:.1f}{more} s): level, peak, "
            "attack and upper partials are wrong there. Lower the input gain and record it again.",
            top_dbfs=20.0 * float(np.log10(audio.extremes.peak)),
            seconds=tuple(seconds[:6]),
            more=" …" if len(seconds) > 6 else "",
        )
        return [("clipped", said)]
    over, _ = inter_sample_peak(audio)
    if over > 1.0:
        over_db = 20.0 * float(np.log10(over))
        by = (
            tr_later("{over_db:.1f} dB", over_db=over_db)
            if over_db >= 0.05
            else tr_later("less than 0.1 dB")
        )
        said = tr_later(
            "The wave between the samples goes {by} over full scale; leave headroom.", by=by
        )
        return [("inter-sample", said)]
    return []


def _band_faults(audio: Audio) -> list[tuple[str, str]]:
    found = []
    if audio.rate_hz < LOW_RATE_HZ:
        said = tr_later(
            "Recorded at {rate_hz:g} Hz: nothing above {top_khz:g} kHz can be measured (upper "
            "partials, hiss; brightness is that of the rest). Record at 44.1 kHz or more.",
            rate_hz=float(audio.rate_hz),
            top_khz=audio.rate_hz / 2000,
        )
        found.append(("low-rate", said))
    edge_hz, risen = (None, False) if "lossy" in audio.flags else steepest_fall_hz(audio)
    if edge_hz is not None and not risen:
        said = tr_later(
            "There is nothing above {edge_khz:.1f} kHz but a sharp edge: the file went through a "
            "lossy codec, noise removal or a lower sample rate. Use the original.",
            edge_khz=float(edge_hz) / 1000,
        )
        found.append(("hard-cut", said))
    elif edge_hz is not None:
        said = tr_later(
            "A hole was cut into the spectrum from {edge_khz:.1f} kHz on (noise removal or a steep "
            "filter): partials in there are gone. Use the original.",
            edge_khz=float(edge_hz) / 1000,
        )
        found.append(("hard-cut", said))
    return found


def _offset_faults(audio: Audio) -> list[tuple[str, str]]:
    found = []
    offset = audio.offset
    worst = float(offset[np.argmax(np.abs(offset))])
    if abs(worst) > DC_OFFSET:
        said = tr_later(
            "The recording sits {worst:+.4f} of full scale off zero; the offset was taken out "
            "before measuring. The interface or a plug-in adds it.",
            worst=worst,
        )
        found.append(("dc-offset", said))
    silent_s = digital_silence_s(audio)
    if silent_s >= DIGITAL_SILENCE_S:
        said = tr_later(
            "{silent_s:.1f} s of it are digital silence (a gate, noise removal or an edit), which "
            "says nothing about hum and hiss. Record without a gate.",
            silent_s=float(silent_s),
        )
        found.append(("digital-silence", said))
    return found
