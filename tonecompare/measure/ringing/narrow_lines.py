"""One second of a ringing note as a spectrum of narrow lines, to see who else sounds.

The long transform of the pluck is brought back at a low rate (up to 1.4 kHz), the time from 0.3 to
1.3 s after the onset weighted with a four-term window (Harris 1978, side lobes at −92 dB) and
transformed again. Lines 5 Hz apart are then apart in level by whatever the recording holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import PluckSignal

#: Where in the note it is looked for others: the attack is over, the note still loud.
RING_WINDOW_S = (0.3, 1.3)
#: The least of it that still tells lines apart.
LEAST_WINDOW_S = 0.5
#: Lines are looked for up to here; the band ends a little higher, and softly.
HIGHEST_LINE_HZ = 1300.0
_BAND_ENDS_HZ = 1400.0
#: Half width of a line in the window's own bins (1/length).
LOBE_BINS = 4.0
#: A line stands this much above the lowest of what lies on either side of it.
LEAST_PROMINENCE = 10.0
#: … and above the middle of its surroundings, so that hiss makes none (one in e^17).
LEAST_OVER_FLOOR = 25.0
#: The weakest line that is looked for, re the note (−85 dB; the window's side lobes are at −92).
LEAST_SHARE = 10.0**-8.5
#: What is kept of the time before the onset, ending where the pick may touch the string already.
BEFORE_S, BEFORE_ENDS_S = 0.40, 0.08
_TERMS = (0.35875, 0.48829, 0.14128, 0.01168)
_ZEROS = 2


@dataclass(frozen=True)
class RingFrame:
    """Lines of one pluck over 0.3–1.3 s.

    ``line_hz`` and ``line_share`` (lines,) are frequency and mean square re the whole note in the
    same window; ``floor_share`` the share at which a line would drown around 0.1–1.3 kHz.
    ``bin_hz`` is one over the window's length. ``before`` are samples from before the onset.
    """

    line_hz: FloatArray
    line_share: FloatArray
    line_sd: FloatArray
    floor_share: float
    bin_hz: float
    power: float
    before: FloatArray
    rate_hz: float

    def share_before(self, frequency_hz: float) -> float | None:
        """Mean square at a frequency before the onset, re the note after it; None if unknown."""
        n = self.before.size
        if n < 0.15 * self.rate_hz:
            return None
        window = four_terms(n)
        turn = np.exp(-2j * np.pi * frequency_hz / self.rate_hz * np.arange(n))
        amplitude = 2.0 * abs(complex(np.sum(self.before * window * turn))) / float(window.sum())
        return amplitude**2 / 2.0 / self.power


def ring_frame(signal: PluckSignal, before: FloatArray | None = None) -> RingFrame | None:
    """Lines of a pluck over 0.3–1.3 s; None when it did not ring long enough.

    Parameters
    ----------
    signal
        The pluck.
    before
        Samples from before the onset (see ``BEFORE_S``), if the file has any.
    """
    end_s = min(RING_WINDOW_S[1], signal.ring_s + signal.lag_s)
    if end_s - RING_WINDOW_S[0] < LEAST_WINDOW_S:
        return None
    first, last = (round((t - signal.lag_s) * signal.rate_hz) for t in (RING_WINDOW_S[0], end_s))
    power = _weighted_power(signal, first, last) - signal.noise_power()
    if not power > 0.0:
        return None
    low, low_hz = _low_rate(signal)
    first, last = (round((t - signal.lag_s) * low_hz) for t in (RING_WINDOW_S[0], end_s))
    weight = four_terms(last - first)
    size = int(scipy.fft.next_fast_len(_ZEROS * (last - first), real=True))
    spectrum = scipy.fft.rfft(low[first:last] * weight, size) * (2.0 / float(weight.sum()))
    square = (spectrum.real**2 + spectrum.imag**2) / 2.0
    step_hz = low_hz / size
    square = square[: int(HIGHEST_LINE_HZ / step_hz)]
    bin_hz = low_hz / (last - first)
    found, floor, middle = _lines(square, round(bin_hz / step_hz), least=LEAST_SHARE * power)
    place, level = _tops(square, found)
    spread = np.sqrt(2.0 * floor / np.maximum(level, 1e-300))
    return RingFrame(
        line_hz=place * step_hz,
        line_share=level / power,
        line_sd=spread,
        floor_share=middle / power,
        bin_hz=bin_hz,
        power=power,
        before=np.zeros(0) if before is None else before,
        rate_hz=signal.rate_hz,
    )


def _weighted_power(signal: PluckSignal, first: int, last: int) -> float:
    """Mean square of the whole band, weighted like the spectrum, from 256 steps."""
    step = (last - first) // 256
    steps = signal.samples[first : first + 256 * step].reshape(256, step)
    square = four_terms(256) ** 2
    return float(np.einsum("ij,ij,i->", steps, steps, square) / (step * np.sum(square)))


def _low_rate(signal: PluckSignal) -> tuple[FloatArray, float]:
    """Bring the ring back at about 2.8 kHz: its long transform up to 1.4 kHz."""
    bin_hz = signal.rate_hz / signal.fft_size
    count = min(signal.transform.size - 1, int(_BAND_ENDS_HZ / bin_hz))
    soft = max(1, int((_BAND_ENDS_HZ - HIGHEST_LINE_HZ) / bin_hz))
    band = signal.transform[: count + 1].copy()
    band[-soft:] *= np.linspace(1.0, 0.0, soft)
    size = int(scipy.fft.next_fast_len(2 * count + 2, real=True))
    return scipy.fft.irfft(band, size) * (size / signal.fft_size), size * bin_hz


def _lines(square: FloatArray, bin_: int, *, least: float) -> tuple[np.ndarray, FloatArray, float]:
    """Find peaks that stand out on both sides; return indices, floors there and in the middle."""
    side = int(LOBE_BINS * bin_)
    top = (square[1:-1] > square[:-2]) & (square[1:-1] >= square[2:]) & (square[1:-1] > least)
    peaks = np.flatnonzero(top) + 1
    peaks = peaks[(peaks > 2 * side) & (peaks < square.size - 2 * side)]
    # The lowest of a stretch of two lobes on either side: a skirt of a stronger line has none.
    offsets = np.arange(1, 2 * side + 1)
    left = square[peaks[:, None] - offsets].min(axis=1)
    right = square[peaks[:, None] + offsets].min(axis=1)
    keep = square[peaks] > LEAST_PROMINENCE * np.maximum(left, right)
    peaks = peaks[keep]
    wide = 8 * side
    stretches = np.sort(square[: square.size // wide * wide].reshape(-1, wide), axis=1)
    median = stretches[:, wide // 2]
    floor = median[np.minimum(peaks // wide, median.size - 1)]
    keep = square[peaks] > LEAST_OVER_FLOOR * floor
    return peaks[keep], floor[keep], float(np.sort(median)[median.size // 2])


def _tops(square: FloatArray, peaks: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Place and height of peaks by a parabola through the logarithm of three values."""
    low, mid, high = (np.log(np.maximum(square[peaks + k], 1e-300)) for k in (-1, 0, 1))
    bend = np.minimum(low - 2.0 * mid + high, -1e-12)
    shift = np.clip(0.5 * (low - high) / bend, -0.5, 0.5)
    return peaks + shift, np.exp(mid - 0.25 * (low - high) * shift)


@lru_cache(maxsize=16)
def four_terms(size: int) -> FloatArray:
    """Four-term window of least side lobes (Harris 1978), periodic, kept."""
    x = 2.0 * np.pi * np.arange(size) / size
    a0, a1, a2, a3 = _TERMS
    window: FloatArray = a0 - a1 * np.cos(x) + a2 * np.cos(2.0 * x) - a3 * np.cos(3.0 * x)
    window.flags.writeable = False
    return window
