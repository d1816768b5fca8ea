"""Frames of a pluck on two outputs: its partials there, and the noise under them.

Frames are six periods of the fundamental under a Blackman-Harris window (Harris 1978: main lobe ±4
bins, side lobes -92 dB), so that neighbouring partials, six bins away, do not leak into each
other. Half-way between partials such a frame still shows their main lobes; the noise is therefore
read in frames of twice the length, where the half-way bins are six from either neighbour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from scipy.ndimage import median_filter
from scipy.signal.windows import blackmanharris

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.results import BlendPair, ComplexArray

#: Periods of the fundamental in one frame.
FRAME_PERIODS = 6
#: Shortest frame, so that high notes keep enough bins between partials, seconds.
_SHORTEST_FRAME_S = 0.025
#: How much of a pluck is used from its onset, seconds and frames: the longer of the two.
_USED_S = 0.35
_USED_FRAMES = 3.0
#: Variance of a mean over frames that overlap by two thirds, against frames that do not: neighbours
#: under this window correlate by 0.247.
OVERLAP = 1.5
#: The part in which partials and noise are looked for.
_EARLY_S = 0.13
#: Partials looked at, and the highest frequency.
MOST_PARTIALS = 60
HIGHEST_HZ = 14000.0
#: A partial is used when both outputs stand this far above the noise.
LEAST_SNR_DB = 8.0
#: Half-way between partials, in spacings.
_HALF_WAY = np.array([-0.54, -0.5, -0.46, 0.46, 0.5, 0.54])
#: Partials whose noise is taken together.
_NOISE_SPAN = 5


@dataclass(frozen=True)
class OutputFrames:
    """What one pluck's partials do over its frames.

    ``number`` (k,) is the partial, ``magnetic`` and ``piezo`` (frames, k) the spectra there,
    ``noise_magnetic`` and ``noise_piezo`` (k,) the noise powers in the same units, ``time_s``
    (frames,) the middle of each frame from the onset.
    """

    number: FloatArray
    frequency_hz: FloatArray
    time_s: FloatArray
    magnetic: ComplexArray
    piezo: ComplexArray
    noise_magnetic: FloatArray
    noise_piezo: FloatArray


@dataclass(frozen=True)
class _Spectra:
    magnetic: ComplexArray
    piezo: ComplexArray
    bin_hz: float
    time_s: FloatArray


def _spectra(pair: BlendPair, *, periods: int, used_s: float, least: float) -> _Spectra | None:
    """Spectra of frames of that many periods; at least ``least`` frame lengths where they rang."""
    shortest = _SHORTEST_FRAME_S * periods / FRAME_PERIODS
    length = round(pair.rate_hz * max(periods / pair.f0_hz, shortest))
    start = pair.onset_index
    used = max(round(used_s * pair.rate_hz), int(least * length))
    stop = min(pair.magnetic.size, start + used)
    if stop - start < length:
        return None
    window = blackmanharris(length, sym=False)
    window = window / window.sum()
    n_fft = 1 << int(np.ceil(np.log2(2 * length)))
    hop = max(length // 3, 1)

    def transform(samples: FloatArray) -> ComplexArray:
        cut = np.lib.stride_tricks.sliding_window_view(samples[start:stop], length)[::hop]
        return np.asarray(scipy.fft.rfft(cut * window, n_fft, axis=1))

    magnetic, piezo = transform(pair.magnetic), transform(pair.piezo)
    middle: FloatArray = np.arange(magnetic.shape[0], dtype=np.float64) * hop + 0.5 * length
    return _Spectra(magnetic, piezo, pair.rate_hz / n_fft, middle / pair.rate_hz)


def _find_partials(power: FloatArray, bin_hz: float, f0_hz: float, highest_hz: float) -> FloatArray:
    """Frequency of partials 1, 2, … by tracking peaks; stiffness is followed upwards."""
    found: list[float] = []
    stretch = 0.0
    for n in range(1, MOST_PARTIALS + 1):
        expected = n * f0_hz * np.sqrt(1.0 + stretch * n * n)
        if expected > highest_hz:
            break
        reach = 0.25 * f0_hz if n > 1 else 0.1 * f0_hz
        low = max(1, int((expected - reach) / bin_hz))
        high = min(power.size - 1, int((expected + reach) / bin_hz) + 2)
        peak = low + int(np.argmax(power[low:high]))
        offset = 0.0
        if low < peak < high - 1 and power[peak - 1] > 0 and power[peak + 1] > 0:
            a, b, c = np.log(power[peak - 1 : peak + 2])
            curvature = a - 2 * b + c
            offset = 0.5 * (a - c) / curvature if curvature < 0 else 0.0
            found.append((peak + offset) * bin_hz)
        else:
            found.append(np.nan)
        if n >= 6:
            stretch = _stretch(np.array(found), f0_hz, stretch)
    return np.array(found)


def _stretch(found_hz: FloatArray, f0_hz: float, before: float) -> float:
    """Median of B from (f_n / n f0)² = 1 + B n² over the partials found so far."""
    n = np.arange(1, found_hz.size + 1)
    good = np.isfinite(found_hz) & (n >= 4)
    if good.sum() < 3:
        return before
    values = ((found_hz[good] / (n[good] * f0_hz)) ** 2 - 1.0) / n[good] ** 2
    return float(np.clip(np.median(values), 0.0, 1e-3))


def _near_mains(frequency_hz: FloatArray, noise: Noise | None, width_hz: float) -> FloatArray:
    """Power of the mains lines within ``width_hz`` of each frequency."""
    if noise is None or noise.line_hz.size == 0:
        return np.zeros(frequency_hz.size)
    near = np.abs(frequency_hz[:, None] - noise.line_hz[None, :]) < width_hz
    return np.asarray((near * noise.line_power[None, :]).sum(axis=1))


def _noise(spectra: ComplexArray, bin_hz: float, frequency: FloatArray, f0_hz: float) -> FloatArray:
    """Noise power in one bin at each partial: the median half-way to its neighbours.

    Powers of Gaussian noise in a bin are exponential: their mean is the median over ln 2.
    """
    bins = (frequency[None, :] + f0_hz * _HALF_WAY[:, None]) / bin_hz
    index = np.clip(np.rint(bins), 1, spectra.shape[1] - 2).astype(np.int64)
    typical = np.median(np.abs(spectra[:, index]) ** 2, axis=(0, 1)) / np.log(2.0)
    return np.asarray(median_filter(typical, _NOISE_SPAN, mode="nearest") + 1e-30)


def frames_of(pair: BlendPair) -> OutputFrames | None:
    """Return the partials of one pluck that stand above the noise on both outputs, over time.

    Parameters
    ----------
    pair
        One pluck on both outputs.

    Returns
    -------
    OutputFrames or None
        None when less than a frame rang or nothing stands above the noise.
    """
    short = _spectra(pair, periods=FRAME_PERIODS, used_s=_USED_S, least=_USED_FRAMES)
    if short is None:
        return None
    early = max(1, int(np.sum(short.time_s < _EARLY_S)))
    power_m = np.mean(np.abs(short.magnetic[:early]) ** 2, axis=0)
    power_p = np.mean(np.abs(short.piezo[:early]) ** 2, axis=0)
    both = power_m / max(power_m.max(), 1e-300) + power_p / max(power_p.max(), 1e-300)
    highest = min(HIGHEST_HZ, 0.45 * pair.rate_hz)
    frequency = _find_partials(both, short.bin_hz, pair.f0_hz, highest)
    known = np.isfinite(frequency)
    number = np.arange(1.0, frequency.size + 1.0)
    frequency = np.where(known, frequency, number * pair.f0_hz)
    index = np.clip(np.rint(frequency / short.bin_hz), 1, power_m.size - 2).astype(np.int64)
    # A window of unit sum shows noise in inverse proportion to its length, and a line of mean
    # square p as p/2 at its peak.
    long = _spectra(pair, periods=2 * FRAME_PERIODS, used_s=_EARLY_S, least=2.0)
    read, share = (long, 2.0) if long is not None else (short, 1.0)
    width = 4.0 * pair.f0_hz / FRAME_PERIODS
    noise_m = share * _noise(read.magnetic, read.bin_hz, frequency, pair.f0_hz)
    noise_m += 0.5 * _near_mains(frequency, pair.noise_magnetic, width)
    noise_p = share * _noise(read.piezo, read.bin_hz, frequency, pair.f0_hz)
    noise_p += 0.5 * _near_mains(frequency, pair.noise_piezo, width)
    snr = 10.0 ** (LEAST_SNR_DB / 10.0)
    used = known & (power_p[index] > snr * noise_p)
    # On a node of the string the magnetic output is silent, which is a value, not a gap: it is
    # left out only where nothing around it stands above the noise either.
    around = np.maximum.reduce([np.roll(power_m[index], k) for k in (-1, 0, 1)])
    used &= around > snr * noise_m
    if not used.any():
        return None
    at = index[used]
    return OutputFrames(
        number[used], frequency[used], short.time_s, short.magnetic[:, at], short.piezo[:, at],
        noise_m[used], noise_p[used],
    )  # fmt: skip
