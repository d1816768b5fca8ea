"""Faults of a whole file that can be heard in its samples: clipping, offset, doubled channels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.signal import resample_poly

from tonecompare.takes.model import Audio, FloatArray

#: Runs of this many equal samples at the largest value are a flat top.
CLIP_RUN = 3
#: Offsets above this (-60 dB re full scale) are worth a sentence.
DC_OFFSET = 1e-3
#: Below this rate partials of interest are missing.
LOW_RATE_HZ = 32_000.0

_OVERSAMPLE = 4
_NEAR_FULL_SCALE = 0.8


def clipped_times(audio: Audio) -> FloatArray:
    """Find flat tops, in seconds: runs of equal samples at the file's largest values.

    A smooth top may hold equal samples too when the steps are coarse. On a parabola a run of n
    samples within one step q is followed by a drop of at most ``q (1 + 2/n)²`` per step; a
    clipped top falls off faster.
    """
    times = [_clipped_channel(channel) for channel in audio.samples]
    return np.asarray(np.unique(np.concatenate(times)) / audio.rate_hz)


def _clipped_channel(samples: FloatArray) -> FloatArray:
    found = []
    for signed in (samples, -samples):
        top = float(signed.max())
        if top <= 0.0:
            continue
        at_top = np.flatnonzero(signed >= top * (1.0 - 2.0**-14))
        groups = np.split(at_top, np.flatnonzero(np.diff(at_top) > 1) + 1)
        runs = [group for group in groups if len(group) >= CLIP_RUN]
        found += [run for run in runs if _is_flat(signed, run, full_scale=top > 0.99)]
    return np.concatenate(found).astype(np.float64) if found else np.zeros(0)


def _is_flat(signed: FloatArray, run: np.ndarray, *, full_scale: bool) -> bool:
    """Whether the wave leaves the run faster than a smooth top would."""
    n = len(run)
    start, end = int(run[0]), int(run[-1])
    if start == 0 or end == len(signed) - 1:
        return False
    level = float(signed[start])
    spread = max(float(np.ptp(signed[run])), level * 2.0**-15)
    drop = level - max(float(signed[start - 1]), float(signed[end + 1]))
    return drop > (2.0 if full_scale else 6.0) * spread * (1.0 + 2.0 / n) ** 2


def inter_sample_peak(samples: FloatArray) -> float:
    """Largest value of the four times oversampled wave, looked at only near full scale."""
    peak = float(np.abs(samples).max())
    if peak < _NEAR_FULL_SCALE:
        return peak
    for channel in samples:
        near = np.flatnonzero(np.abs(channel) > _NEAR_FULL_SCALE)
        for group in np.split(near, np.flatnonzero(np.diff(near) > 64) + 1):
            if len(group) == 0:
                continue
            part = channel[max(0, group[0] - 64) : group[-1] + 65]
            peak = max(peak, float(np.abs(resample_poly(part, _OVERSAMPLE, 1)).max()))
    return peak


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
    first, second = audio.samples
    span = np.ptp(audio.samples, axis=1)
    if np.array_equal(first, second):
        flag, keep = "dual-mono", 0
        said = "Both channels are identical (a mono recording saved as stereo); one was used."
    elif span.min() < 1e-5 * span.max():
        flag, keep = "silent-channel", int(np.argmax(span))
        said = (
            f"Channel {2 - keep} is silent; only channel {keep + 1} was used. If two outputs "
            "were meant, check the cable and record it again."
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


def file_faults(audio: Audio, *, clipped_s: FloatArray) -> list[tuple[str, str]]:
    """Flag and sentence of each fault of the whole file."""
    found = []
    if len(clipped_s):
        seconds = sorted({round(float(t), 1) for t in clipped_s})
        where = ", ".join(f"{t:.1f}" for t in seconds[:6]) + (" …" if len(seconds) > 6 else "")
        top_db = 20.0 * float(np.log10(np.abs(audio.samples).max()))
        found.append(
            (
                "clipped",
                f"The wave is cut flat at {top_db:.1f} dBFS (at {where} s): level, peak, attack "
                "and upper partials are wrong there. Lower the input gain and record it again.",
            )
        )
    elif (over := inter_sample_peak(audio.samples)) > 1.0:
        found.append(
            (
                "inter-sample",
                f"The wave between the samples reaches {20 * float(np.log10(over)):+.1f} dB re "
                "full scale; leave more headroom.",
            )
        )
    if audio.rate_hz < LOW_RATE_HZ:
        found.append(
            (
                "low-rate",
                f"Recorded at {audio.rate_hz:g} Hz: nothing above {audio.rate_hz / 2000:g} kHz can "
                "be measured (upper partials, hiss, centroid are those of the rest). Record at "
                "44.1 kHz or more.",
            )
        )
    offset = audio.samples.mean(axis=1)
    worst = float(offset[np.argmax(np.abs(offset))])
    if abs(worst) > DC_OFFSET:
        found.append(
            (
                "dc-offset",
                f"The recording sits {worst:+.4f} of full scale off zero; the offset was taken "
                "out before measuring. The interface or a plug-in adds it.",
            )
        )
    return found
