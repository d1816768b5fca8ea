"""How bright: the spectral centroid, and the bands of the charts."""

from __future__ import annotations

import numpy as np

from tonecompare.measure.model import FloatArray, Measured, unmeasured
from tonecompare.measure.partials import PartialSet
from tonecompare.measure.signal import SPECTRUM_WINDOW_S, PluckSignal
from tonecompare.units import power_to_db

#: Band of the centroid.
CENTROID_BAND_HZ = (60.0, 12000.0)
#: Bands of the charts: fractions of an octave about 1 kHz.
BANDS_PER_OCTAVE = 24
BAND_HZ: FloatArray = 1000.0 * 2.0 ** (np.arange(-111, 104) / BANDS_PER_OCTAVE)
#: Power of a partial's main lobe (±2 bins of a Hann frame) over the quiet's from which the cell's
#: bins are summed as they are.
STRONG_OVER_NOISE = 3000.0
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
    than doubles it), while leaving weak bins out pulls it down. So the spectrum is taken cell by
    cell, a cell reaching half-way to the neighbouring partials: where a partial's lobe stands 35 dB
    above the quiet the cell's bins are summed as they are; in a weaker cell the lobe's power, a sum
    in which noise cancels, is turned into the magnitude sum that the strong cells show for that
    power. Without a pitch, bins count only where they stand above what the quiet alone would reach.

    Returns
    -------
    dict
        ``centroid_hz``.
    """
    spectrum = signal.average_spectrum
    if spectrum is None:
        return {"centroid_hz": unmeasured("Hz", f"rang for only {signal.ring_s:.2f} s")}
    frequency_hz, power, noise, n_frames = spectrum
    inside = (frequency_hz >= CENTROID_BAND_HZ[0]) & (frequency_hz <= CENTROID_BAND_HZ[1])
    frequency_hz, power, noise = frequency_hz[inside], power[inside], noise[inside]
    net = power - noise
    centre_hz = _row_hz(partials, frequency_hz)
    if centre_hz.size >= 4:
        method = "averaged magnitudes, partial by partial"
        value, spread = _centroid_by_cells(frequency_hz, net, noise, centre_hz)
    else:
        method = "averaged magnitudes, bins above the quiet"
        keep = net > (_gate(n_frames, frequency_hz.size) - 1.0) * noise
        value, spread = centroid_of(frequency_hz, np.sqrt(np.where(keep, net, 0.0))), 0.0
    if not np.isfinite(value) or not CENTROID_BAND_HZ[0] < value < CENTROID_BAND_HZ[1]:
        return {"centroid_hz": unmeasured("Hz", "does not stand above the quiet")}
    total = float(np.sqrt(np.maximum(net, 0.0)).sum())
    # d centroid / d a_k = (f_k - c) / sum a, and sd a_k = sqrt(noise / (2 frames)).
    pull = (frequency_hz - value) / total
    random = float(np.sqrt(np.sum(pull**2 * np.minimum(noise, power) / (2.0 * n_frames))))
    # Noise in a cell enters by its root, which is wider than the linear term says.
    sd = float(np.sqrt((1.3 * random) ** 2 + spread**2 + (0.001 * value) ** 2))
    window_s = (SPECTRUM_WINDOW_S[0], min(SPECTRUM_WINDOW_S[1], signal.ring_s))
    return {"centroid_hz": Measured(value, "Hz", sd, window_s, method)}


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


def _centroid_by_cells(
    frequency_hz: FloatArray, net: FloatArray, noise: FloatArray, centre_hz: FloatArray
) -> tuple[float, float]:
    """Centroid from cells about the partials, and how far another division would move it."""
    bin_hz = float(frequency_hz[1] - frequency_hz[0])
    position = (centre_hz - frequency_hz[0]) / bin_hz
    lobe = np.rint(position).astype(np.intp)[:, None] + np.arange(-2, 3)
    lobe_power, lobe_noise = net[lobe].sum(axis=1), noise[lobe].sum(axis=1)
    edges = np.concatenate([[0], np.rint((position[1:] + position[:-1]) / 2.0).astype(np.intp)])
    magnitude = np.sqrt(np.maximum(net, 0.0))
    cell = np.add.reduceat(magnitude, edges)
    cell_moment = np.add.reduceat(magnitude * frequency_hz, edges)
    values = []
    for over_noise in (STRONG_OVER_NOISE, STRONG_OVER_NOISE / 10.0):
        strong = (lobe_power > over_noise * lobe_noise) & (lobe_power > 0.0)
        if np.count_nonzero(strong) < 2:
            strong = lobe_power >= 0.5 * lobe_power.max()
        ratio = cell[strong] / np.sqrt(np.maximum(lobe_power[strong], 1e-300))
        if np.count_nonzero(strong) > 4:
            line = np.polyfit(centre_hz[strong], ratio, 2, w=lobe_power[strong] ** 0.25)
            expected = np.clip(np.polyval(line, centre_hz), ratio.min(), ratio.max())
        else:
            expected = np.full(centre_hz.size, float(np.median(ratio)))
        weak = expected * np.sign(lobe_power) * np.sqrt(np.abs(lobe_power))
        total = float(np.where(strong, cell, weak).sum())
        moment = float(np.where(strong, cell_moment, weak * centre_hz).sum())
        values.append(moment / total if total > 0.0 else float("nan"))
    return values[0], abs(values[0] - values[1])


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
    frequency_hz, power, noise = frame
    bin_hz = float(frequency_hz[1])
    edges_hz = BAND_HZ[0] * 2.0 ** ((np.arange(BAND_HZ.size + 1) - 0.5) / BANDS_PER_OCTAVE)
    first, last = signal.window(SPECTRUM_WINDOW_S) or (0, 1)
    # 1.5 bins of a Hann window's own length, in bins of this transform.
    bandwidth = 1.5 * (signal.rate_hz / (last - first)) / bin_hz
    whole, quiet = (
        _sum_between(values, edges_hz / bin_hz) / bandwidth for values in (power, noise)
    )
    net = whole - quiet
    shown = (net > quiet) & (net > 0.0) & (edges_hz[1:] < 0.49 * signal.rate_hz)
    # power is A² for a sine of amplitude A; its level re a full-scale sine is 10 lg A².
    level = np.full(BAND_HZ.size, np.nan)
    level[shown] = power_to_db(net[shown])
    return BAND_HZ, level


def _sum_between(values: FloatArray, edges: FloatArray) -> FloatArray:
    """Sum of bins between fractional edges, bins being boxes of width 1 about their index."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.interp(np.clip(edges + 0.5, 0.0, values.size), np.arange(values.size + 1), total)
    return np.asarray(np.diff(at))
