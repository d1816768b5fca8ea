"""How bright: the spectral centroid, and the bands of the charts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.model import Noise
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.pluck.centroid_cells import Cells, damping_along, lobe_roots
from tonecompare.measure.signal import SPECTRUM_WINDOW_S, PluckSignal, quiet_in_bins, sum_between
from tonecompare.units import power_to_db

#: Band of the centroid.
CENTROID_BAND_HZ = (60.0, 12000.0)
#: Bands of the charts: fractions of an octave about 1 kHz.
BANDS_PER_OCTAVE = 24
BAND_HZ: FloatArray = 1000.0 * 2.0 ** (np.arange(-111, 104) / BANDS_PER_OCTAVE)
_BAND_EDGES_HZ: FloatArray = BAND_HZ[0] * 2.0 ** (
    (np.arange(BAND_HZ.size + 1) - 0.5) / BANDS_PER_OCTAVE
)
#: Power of a partial's lobe over the quiet's from which its bins are summed as they are.
STRONG_OVER_NOISE = 10.0
#: The same of a bin between the lobes; less cannot be told from noise bin by bin …
SEEN_OVER_NOISE = 3.0
#: … but all such bins of a stretch together can, at this many standard deviations of their mean and
#: beyond what a quiet may change by itself (1 dB).
STRETCH_BINS = 100
STRETCH_SEEN = 5.0
QUIET_STEADY = 0.26
#: What sums over leaky lobes leave open (neighbours' skirts, two polarisations), of the centroid.
LEAKAGE = 7e-4
#: What a bent pickup puts beside the row beneath the hiss moves the centroid by up to this share of
#: what all beneath the hiss moves it by.
BENT = 0.7
#: Expected number of bins of pure noise that count as signal, per spectrum.
_FALSE_BINS_PER_SPECTRUM = 0.05


def centroid_of(frequency_hz: FloatArray, magnitude: FloatArray) -> float:
    """Magnitude-weighted mean frequency, ``sum f a / sum a`` (Peeters et al. 2011).

    Parameters
    ----------
    frequency_hz, magnitude
        Shape (F,).

    Returns
    -------
    float
        Hz; NaN for an empty spectrum.
    """
    total = float(np.sum(magnitude))
    return float(np.sum(frequency_hz * magnitude) / total) if total > 0.0 else float("nan")


def measure_centroid(signal: PluckSignal, partials: PartialSet) -> dict[str, Measured]:
    """Spectral centroid of the averaged magnitude spectrum, 0.05–1.05 s, 60 Hz–12 kHz.

    The quiet's power is subtracted bin by bin before the root, which alone is not enough: what is
    left of the noise in thousands of empty bins pulls the centroid up (white noise at -40 dB more
    than doubles it), while leaving weak bins out pulls it down. So bins count as they are where
    they stand above the quiet; elsewhere the magnitude is what the partials must leave there: the
    expected root of each lobe's power (``centroid_cells``) spread over its cell as a
    damped partial's spectrum is. What lies between the lobes below single bins' noise (a thump, a
    body, other strings) counts where a stretch of 100 bins together shows it. Without a pitch,
    bins count only where they stand above what the quiet alone would reach.

    The uncertainty holds for what the partials' row and those stretches show; something broad
    that lies wholly beneath the hiss is in neither.

    Returns
    -------
    dict
        ``centroid_hz``.
    """
    spectrum = signal.average_spectrum
    if spectrum is None:
        return {"centroid_hz": unmeasured("Hz", f"rang for only {signal.ring_s:.2f} s")}
    frequency_hz, power, noise, n_frames = spectrum
    low, high = CENTROID_BAND_HZ
    inside = slice(np.searchsorted(frequency_hz, low), np.searchsorted(frequency_hz, high, "right"))
    frequency_hz, power, noise = frequency_hz[inside], power[inside], noise[inside]
    net = power - noise
    centre_hz = _row_hz(partials, frequency_hz)
    if centre_hz.size >= 4:
        method = "averaged magnitudes, partial by partial"
        quiet_s = signal.noise.length_s if signal.noise is not None else np.inf
        averaging = _Averaging(_frame_share(n_frames), quiet_s)
        value, sd = _centroid_by_cells(frequency_hz, net, noise, averaging, partials, centre_hz)
    else:
        method = "averaged magnitudes, bins above the quiet"
        keep = net > (_gate(n_frames, frequency_hz.size) - 1.0) * noise
        value = centroid_of(frequency_hz, np.sqrt(np.where(keep, net, 0.0)))
        sd = _sd_of_bins(frequency_hz, net, noise, n_frames, value)
    if not np.isfinite(value) or not CENTROID_BAND_HZ[0] < value < CENTROID_BAND_HZ[1]:
        return {"centroid_hz": unmeasured("Hz", "does not stand above the quiet")}
    window_s = (SPECTRUM_WINDOW_S[0], min(SPECTRUM_WINDOW_S[1], signal.ring_s))
    return {"centroid_hz": Measured(value, "Hz", sd, window_s, method)}


def _sd_of_bins(
    frequency_hz: FloatArray, net: FloatArray, noise: FloatArray, n_frames: int, value: float
) -> float:
    """Return the uncertainty of a sum over bins: d c / d a_k = (f_k - c) / sum a."""
    total = float(np.sqrt(np.maximum(net, 0.0)).sum())
    if not np.isfinite(value) or total <= 0.0:
        return float("nan")
    # sd a_k = sqrt(noise / (2 frames)); it enters by its root, wider than the linear term says.
    pull = (frequency_hz - value) / total
    power = np.minimum(noise, np.maximum(net + noise, 0.0))
    random = float(np.sqrt(np.sum(pull**2 * power / (2.0 * n_frames))))
    return float(np.hypot(1.3 * random, 0.001 * value))


def _row_hz(partials: PartialSet, frequency_hz: FloatArray) -> FloatArray:
    """Where all partials within the band lie by the row's f0 and inharmonicity."""
    f0_hz = partials.f0_hz
    margin_hz = 4.0 * float(frequency_hz[1] - frequency_hz[0])
    if not np.isfinite(f0_hz) or f0_hz < 2.0 * margin_hz:
        return np.zeros(0)
    stretch = max(0.0, np.nan_to_num(partials.inharmonicity))
    order = np.arange(1, int(CENTROID_BAND_HZ[1] / f0_hz) + 1)
    row = order * f0_hz * np.sqrt((1.0 + stretch * order**2) / (1.0 + stretch))
    return np.asarray(
        row[(row > frequency_hz[0] + margin_hz) & (row < frequency_hz[-1] - margin_hz)]
    )


@dataclass(frozen=True)
class _Averaging:
    """How far noise averages out: over the frames of the pluck and over the quiet before it.

    ``frame_share`` is the variance of noise averaged over the frames over that of one frame.
    """

    frame_share: float
    quiet_s: float

    def stretch_variance(self, bin_hz: float) -> float:
        """Variance of the mean of a stretch of bins of noise of power 1, less the quiet's.

        Neighbouring bins of a Hann frame correlate: 1 + 2 ((2/3)² + (1/6)²). The quiet's floor is
        a median, which is half as efficient as a mean.
        """
        pluck = (1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0)) * self.frame_share / STRETCH_BINS
        return pluck + 2.0 / (STRETCH_BINS * bin_hz * self.quiet_s)


def _centroid_by_cells(
    frequency_hz: FloatArray,
    net: FloatArray,
    noise: FloatArray,
    averaging: _Averaging,
    partials: PartialSet,
    centre_hz: FloatArray,
) -> tuple[float, float]:
    """Centroid from cells about the partials, and its standard uncertainty."""
    cells = Cells.of(frequency_hz, net, noise, centre_hz)
    lobes = lobe_roots(cells, averaging.frame_share)
    damping = damping_along(*_damping_of(partials), centre_hz)
    bin_hz = float(frequency_hz[1] - frequency_hz[0])
    shape = cells.shape(damping, bin_hz)
    expected = shape * lobes.root[cells.owner]
    strong = cells.lobe_power > STRONG_OVER_NOISE * 5.0 * cells.bin_noise
    seen = np.where(cells.in_lobe, strong[cells.owner], net > SEEN_OVER_NOISE * noise)
    magnitude = np.where(seen, np.sqrt(np.maximum(net, 0.0)), expected)
    row_only = centroid_of(frequency_hz, magnitude)
    between = ~(seen | cells.in_lobe)
    spread = averaging.stretch_variance(bin_hz)
    left = _left_in_stretches(net - expected**2, noise, between, spread)
    magnitude[between] = np.sqrt(expected**2 + left)[between]
    value = centroid_of(frequency_hz, magnitude)
    # d centroid / d root of a lobe; the run moves many roots together.
    pull = cells.sums(shape * (frequency_hz - value)) / max(float(magnitude.sum()), 1e-300)
    by_run = np.where(strong, 0.0, pull) @ lobes.by_run
    variance = float(np.sum(pull**2 * lobes.variance) + by_run @ lobes.run_covariance @ by_run)
    # Where something lies between the partials, more of it lies beneath the noise.
    more = 0.5 * (value - row_only)
    # A pickup that bends adds sums of partials beside the row, which the expected lobes lack.
    bent = BENT * (value - centroid_of(frequency_hz, np.where(seen, magnitude, 0.0)))
    return value, float(np.sqrt(variance + more**2 + bent**2 + (LEAKAGE * value) ** 2))


def _left_in_stretches(
    left: FloatArray, noise: FloatArray, between: NDArray[np.bool_], variance: float
) -> FloatArray:
    """Mean power left between the lobes by stretches of 100 bins, 0 where noise explains it.

    ``variance`` is that of the mean of a whole stretch of noise of power 1.
    """
    starts = np.arange(0, left.size, STRETCH_BINS)
    count = np.maximum(np.add.reduceat(between.astype(np.float64), starts), 1.0)
    mean = np.add.reduceat(np.where(between, left, 0.0), starts) / count
    square = np.add.reduceat(np.where(between, noise**2, 0.0), starts) / count
    sd = np.sqrt(variance * square * STRETCH_BINS / count)
    shown = (mean > STRETCH_SEEN * sd) & (mean > QUIET_STEADY * np.sqrt(square))
    return np.repeat(np.where(shown, mean, 0.0), np.diff(np.append(starts, left.size)))


def _damping_of(partials: PartialSet) -> tuple[FloatArray, FloatArray]:
    """Frequency and decay rate of the partials fitted, two components weighed by their power."""
    power = np.abs(partials.components_amplitude) ** 2
    known = np.isfinite(power)
    power = np.where(known, power, 0.0)
    total = power.sum(axis=1)
    rate = (power * np.where(known, -partials.components_rate.real, 0.0)).sum(axis=1)
    good = (rate > 0.0) & np.isfinite(partials.frequency_hz)
    return partials.frequency_hz[good], rate[good] / total[good]


def _frame_share(n_frames: int) -> float:
    """Variance of noise averaged over half-overlapped Hann frames, over that of one (Welch 1967).

    Neighbouring frames correlate by 1/6.
    """
    return (1.0 + 2.0 * (n_frames - 1) / n_frames / 36.0) / n_frames


def _gate(n_frames: int, n_bins: int) -> float:
    """Power over the noise mean that pure noise exceeds in one bin of one spectrum of twenty.

    Averages of overlapped Hann frames follow chi-square with about 2·(0.5 + 0.5 n) degrees of
    freedom (Welch 1967); Wilson–Hilferty gives the quantile without a table.
    """
    degrees = 2.0 * (0.5 + 0.5 * n_frames)
    tail = _FALSE_BINS_PER_SPECTRUM / n_bins
    # Normal quantile of a small upper tail (Abramowitz & Stegun 26.2.23).
    t = np.sqrt(-2.0 * np.log(tail))
    z = t - (2.515517 + 0.802853 * t + 0.010328 * t**2) / (
        1.0 + 1.432788 * t + 0.189269 * t**2 + 0.001308 * t**3
    )
    part = 2.0 / (9.0 * degrees)
    return float((1.0 - part + z * np.sqrt(part)) ** 3)


def band_levels(signal: PluckSignal) -> tuple[FloatArray, FloatArray]:
    """Band levels of 0.05–1.05 s on the 1/24-octave grid, quiet subtracted.

    The long Hann frame's power is summed over each band (bins cut in proportion), divided by the
    window's noise bandwidth, so that a sine reads its own level wherever it falls.

    Returns
    -------
    band_hz, band_dbfs
        Shape (B,) each; NaN where the band does not stand 3 dB above the quiet.
    """
    frame = signal.long_frame
    if frame is None:
        return BAND_HZ, np.full(BAND_HZ.size, np.nan)
    frequency_hz, power, _ = frame
    bin_hz = float(frequency_hz[1])
    edges_hz = _BAND_EDGES_HZ
    first, last = signal.window(SPECTRUM_WINDOW_S) or (0, 1)
    # 1.5 bins of a Hann window's own length, in bins of this transform.
    bandwidth = 1.5 * (signal.rate_hz / (last - first)) / bin_hz
    whole = sum_between(power, edges_hz / bin_hz) / bandwidth
    n_fft = round(signal.rate_hz / bin_hz)
    quiet = _quiet_in_bands(signal.noise, signal.rate_hz, last - first, n_fft) / bandwidth
    net = whole - quiet
    shown = (net > quiet) & (net > 0.0) & (edges_hz[1:] < 0.49 * signal.rate_hz)
    # power is A² for a sine of amplitude A; its level re a full-scale sine is 10 lg A².
    level = np.full(BAND_HZ.size, np.nan)
    level[shown] = power_to_db(net[shown])
    return BAND_HZ, level


@lru_cache(maxsize=8)
def _quiet_in_bands(noise: Noise | None, rate_hz: float, size: int, n_fft: int) -> FloatArray:
    """Sum over each band of the charts of what the quiet leaves in the bins of a long frame."""
    quiet = quiet_in_bins(noise, rate_hz, size, n_fft)
    found = sum_between(quiet, _BAND_EDGES_HZ / (rate_hz / n_fft))
    found.flags.writeable = False
    return found
