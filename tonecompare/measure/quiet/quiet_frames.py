"""Quiet stretches as Hann-windowed frames; interference bursts found and stepped around.

Everything else about noise is worked out on these spectra. A frame's time origin is its middle, so
a steady sinusoid ``A cos(2 pi f t + phi)`` shows in bin j as ``N A/2 e^(i phi) W((f_j - f)/df)``
with the real kernel ``W(d) = sinc(d) / (2 (1 - d²))`` (Harris, Proc. IEEE 66 (1978): Hann).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.signal import butter, sosfilt

from tonecompare.arrays import FloatArray

ComplexArray = NDArray[np.complex128]

#: Frames are this long where the stretch allows; short enough for mains drift, long enough for
#: lines to stand clear of the floor.
FRAME_S = 2.0
#: A stretch up to this long is one frame.
SINGLE_FRAME_S = 3.0
#: Mean of w² and of w⁴ of the Hann window.
MEAN_W2 = 3.0 / 8.0
MEAN_W4 = 35.0 / 128.0
#: Noise power per bin sum: the variance of summed Hann bins is that of n / this independent ones.
BIN_CORRELATION = MEAN_W4 / MEAN_W2**2
#: Energies are compared in slots this long to find bursts.
BURST_SLOT_S = 0.005
#: A burst stands this far above the loudest slot of a usual mains cycle (power ratio, 5 dB).
BURST_RATIO = 3.2


@dataclass(frozen=True)
class Frames:
    """Spectra (M, F) of M Hann frames of ``n`` samples, time origin in the middle of each."""

    spectra: ComplexArray
    n: int
    rate_hz: float
    #: First sample of each frame; half overlap when left out.
    starts: tuple[int, ...] = ()

    @property
    def bin_hz(self) -> float:
        """Distance of the bins in Hz."""
        return self.rate_hz / self.n

    @property
    def frequency_hz(self) -> FloatArray:
        """Bin frequencies (F,) in Hz."""
        return np.arange(self.spectra.shape[1], dtype=np.float64) * self.bin_hz

    @property
    def length_s(self) -> float:
        """Length of one frame in seconds."""
        return self.n / self.rate_hz

    @property
    def independent(self) -> float:
        """How many independent frames the overlapping ones are worth for a mean of powers."""
        return 1.0 / self.variance_of_mean("power")

    def variance_of_mean(self, what: str) -> float:
        """Variance of a mean over the frames, over that of one frame.

        ``sum_ij rho(|s_i - s_j|/n) / M²`` with rho the correlation of what two overlapping frames
        give: of noise powers ("power", Welch 1967), of noise beating with a line ("line"), of
        line frequencies ("frequency", negative: one frame's end is the next one's middle).
        """
        count = int(self.spectra.shape[0])
        starts = np.asarray(self.starts or np.arange(count) * (self.n // 2), dtype=np.float64)
        lag = np.abs(starts[:, None] - starts) / self.n
        grid, rho = _overlap(what)
        total = float(np.interp(lag, grid, rho, right=0.0).sum())
        # A mean over half-overlapping frames never beats the whole stretch in one.
        return max(total, 0.1 * count) / count**2

    def density(self) -> FloatArray:
        """One-sided power spectral density (M, F) in (sample value)²/Hz."""
        power = np.square(self.spectra.real) + np.square(self.spectra.imag)
        return np.asarray(power * (2.0 / (self.rate_hz * self.n * MEAN_W2)))


@lru_cache(maxsize=3)
def _overlap(what: str) -> tuple[FloatArray, FloatArray]:
    """Correlation (L,) of two Hann frames over their lag (L,) in frames, see variance_of_mean.

    Noise enters a frame's power by w, a line's power and phase by w², its frequency by w² u.
    """
    size = 512
    u = (np.arange(size) + 0.5) / size - 0.5
    w = 0.5 + 0.5 * np.cos(2.0 * np.pi * u)
    kernel = {"power": w, "line": w**2, "frequency": w**2 * u}[what]
    correlation = np.correlate(kernel, kernel, mode="full")[size - 1 :]
    correlation /= correlation[0]
    return np.arange(size) / size, correlation**2 if what == "power" else correlation


def hann_kernel(distance_bins: FloatArray) -> FloatArray:
    """Return W(d) of the Hann window, 1/2 at 0, 1/4 at ±1, 0 at all other whole bins."""
    d2 = np.square(distance_bins)
    near_one = np.abs(d2 - 1.0) < 1e-6
    with np.errstate(divide="ignore", invalid="ignore"):
        w = np.sin(np.pi * distance_bins) / (2.0 * np.pi * distance_bins * (1.0 - d2))
    w[near_one] = 0.25
    w[distance_bins == 0.0] = 0.5
    return w


def find_bursts(samples: FloatArray, rate_hz: float) -> NDArray[np.bool_]:
    """Return which slots of :data:`BURST_SLOT_S` hold a burst of interference above 1.5 kHz.

    A slot is a burst when its energy exceeds :data:`BURST_RATIO` times the median over time of
    the loudest slot within one mains cycle, so that mains-synchronous buzz is none. Also an
    extreme of Gaussian noise is none: the bound is at least its 1e-6 quantile.
    """
    slot = max(round(BURST_SLOT_S * rate_hz), 8)
    n_slots = samples.size // slot
    if n_slots < 12:
        return np.zeros(n_slots, dtype=bool)
    low_hz = min(1500.0, 0.25 * rate_hz)
    high = sosfilt(_high_pass(low_hz, rate_hz), samples - samples[0])
    energy = np.square(high[: n_slots * slot]).reshape(n_slots, slot).sum(axis=1)
    # The filter's own start is no burst.
    energy[:2] = energy[2]
    usual_peak = float(np.median(maximum_filter1d(energy, 5, mode="nearest")))
    if usual_peak <= 0.0:
        return np.asarray(energy > 0.0)
    bursts = energy > BURST_RATIO * usual_peak
    # The slots beside a burst carry its edges.
    return np.asarray(maximum_filter1d(bursts.astype(np.uint8), 3, mode="constant") > 0)


@lru_cache(maxsize=8)
def _high_pass(low_hz: float, rate_hz: float) -> FloatArray:
    """Second-order sections of a Butterworth high-pass of order 4."""
    return np.asarray(butter(4, low_hz, "highpass", fs=rate_hz, output="sos"), dtype=np.float64)


def burst_free_runs(bursts: NDArray[np.bool_], *, n: int, rate_hz: float) -> list[tuple[int, int]]:
    """Return the sample ranges (start, end) between bursts, in order; all when there is none."""
    if not bursts.any():
        return [(0, n)]
    slot = max(round(BURST_SLOT_S * rate_hz), 8)
    padded = np.concatenate(([True], bursts, [True]))
    edges = np.flatnonzero(np.diff(padded.astype(np.int8)))
    starts, ends = edges[0::2] * slot, edges[1::2] * slot
    ends[ends >= bursts.size * slot] = n
    return [(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]


def _starts(run: tuple[int, int], n: int) -> list[int]:
    free = run[1] - run[0] - n
    if free < 0:
        return []
    count = 1 + int(np.ceil(free / (n / 2))) if free >= n // 4 else 1
    return [run[0] + round(k * free / max(count - 1, 1)) for k in range(count)]


@lru_cache(maxsize=8)
def fast_length(longest: int) -> int:
    """Largest even length of a fast transform that is not above ``longest``."""
    n = longest
    while n > 256 and scipy.fft.next_fast_len(n, real=True) != n:
        n -= 1
    return n - n % 2


@lru_cache(maxsize=8)
def periodic_hann(n: int) -> FloatArray:
    """Hann window of one whole period."""
    window: FloatArray = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(n) / n)
    window.flags.writeable = False
    return window


def make_frames(samples: FloatArray, *, rate_hz: float, runs: list[tuple[int, int]]) -> Frames:
    """Cut the runs into Hann frames of equal length, about half overlapping, and transform them.

    Parameters
    ----------
    samples
        (n,) one channel, DC removed.
    rate_hz
        Sampling rate.
    runs
        Sample ranges to use (:func:`burst_free_runs`). The frames are as long as the longest run
        up to :data:`SINGLE_FRAME_S`, else :data:`FRAME_S`; shorter runs are left out.
    """
    longest = max(end - start for start, end in runs)
    n = longest if longest <= SINGLE_FRAME_S * rate_hz else round(FRAME_S * rate_hz)
    n = fast_length(n)
    starts = [start for run in runs for start in _starts(run, n)]
    window = periodic_hann(n)
    spectra = np.stack([scipy.fft.rfft(samples[s : s + n] * window) for s in starts])
    spectra[:, 1::2] *= -1.0
    # What is left at 0 Hz under the window; a plain mean would add one where the hum's cycles do
    # not fill the stretch.
    offset = spectra[:, 0].copy()
    spectra[:, 0] -= offset
    spectra[:, 1] -= 0.5 * offset
    return Frames(np.asarray(spectra, dtype=np.complex128), n, rate_hz, tuple(starts))
