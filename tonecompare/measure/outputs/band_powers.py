"""Power of both outputs and their cross power in third-octave bands.

From frames of 0.1 s (Hann, half overlapped, 0.05…1.05 s after the onset)::

    S_mm = mean |M|²,  S_pp = mean |P|²,  S_mp = mean M conj P      per bin, then summed per band

Only the real part of S_mp changes a sum: |a M + q b P|² = a² S_mm + b² S_pp + 2 q a b Re S_mp.
For an ideal string M and P are in quadrature (Re S_mp = 0): a sum of both is then exactly the
power sum, and a correlation of zero is no fault. Taking out a delay D of the piezo turns S_mp
by exp(-j 2 pi f D). The coherence of a band is the share of the magnetic power that the piezo
output predicts, sum |S_mp|² / S_pp over sum S_mm (Bendat & Piersol's coherent output power).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.results import BandCross, BlendPair, ComplexArray

_FRAME_S = 0.1
_USED_S = (0.05, 1.05)
#: Third-octave bands (IEC 61260-1 base ten: 1000 * 10^(n/10) Hz), 63 Hz to 16 kHz.
BAND_HZ = 1000.0 * 10.0 ** (np.arange(-12, 13) / 10.0)
LOW_HZ = BAND_HZ * 10.0**-0.05
HIGH_HZ = BAND_HZ * 10.0**0.05
#: A band counts where the power without the quiet is at least this share of the power with it.
_LEAST_ABOVE_QUIET = 0.5


@dataclass(frozen=True)
class _Spectra:
    frequency_hz: FloatArray
    magnetic: FloatArray
    piezo: FloatArray
    cross: ComplexArray
    noise_magnetic: FloatArray
    noise_piezo: FloatArray


def _noise_in_bins(noise: Noise | None, frequency_hz: FloatArray, bin_hz: float) -> FloatArray:
    """Mean square of the quiet in each bin, mains lines put into their nearest bins."""
    if noise is None:
        return np.zeros(frequency_hz.size)
    floor = np.interp(frequency_hz, noise.frequency_hz, noise.density) * bin_hz
    if noise.line_hz.size:
        index = np.rint(noise.line_hz / bin_hz).astype(np.intp)
        inside = index < frequency_hz.size
        np.add.at(floor, index[inside], noise.line_power[inside])
    return np.asarray(floor)


def _frames(samples: FloatArray, pair: BlendPair) -> ComplexArray | None:
    """Spectra of the frames of one output, (frames, bins); None when too little rang.

    One-sided, so that the mean over frames of |.|², summed over bins, is the mean square.
    """
    length = round(_FRAME_S * pair.rate_hz)
    start, stop = (pair.onset_index + round(edge * pair.rate_hz) for edge in _USED_S)
    stop = min(samples.size, stop)
    if stop - start < length:
        return None
    window = np.hanning(length + 1)[:-1]
    gain = np.sqrt(2.0 / (length * np.sum(window**2)))
    cut = np.lib.stride_tricks.sliding_window_view(samples[start:stop], length)
    return np.asarray(scipy.fft.rfft(cut[:: length // 2] * (window * gain), axis=1))


def _bins(pair: BlendPair, count: int) -> FloatArray:
    step_hz = pair.rate_hz / round(_FRAME_S * pair.rate_hz)
    return np.arange(count, dtype=np.float64) * step_hz


def _spectra(pair: BlendPair) -> _Spectra | None:
    m, p = _frames(pair.magnetic, pair), _frames(pair.piezo, pair)
    if m is None or p is None:
        return None
    frequency = _bins(pair, m.shape[1])
    bin_hz = float(frequency[1])
    return _Spectra(
        frequency,
        np.mean(np.abs(m) ** 2, axis=0),
        np.mean(np.abs(p) ** 2, axis=0),
        np.mean(m * p.conj(), axis=0),
        _noise_in_bins(pair.noise_magnetic, frequency, bin_hz),
        _noise_in_bins(pair.noise_piezo, frequency, bin_hz),
    )


def _in_bands(values: FloatArray, frequency_hz: FloatArray) -> FloatArray:
    """Sum of bins per band; a bin across an edge is shared by its overlap."""
    bin_hz = float(frequency_hz[1])
    total = np.concatenate([[0.0], np.cumsum(values)])
    edges = np.concatenate([frequency_hz - 0.5 * bin_hz, [frequency_hz[-1] + 0.5 * bin_hz]])
    return np.asarray(np.interp(HIGH_HZ, edges, total) - np.interp(LOW_HZ, edges, total))


def band_cross(pair: BlendPair, *, delay_s: float | None = None) -> BandCross | None:
    """Return both powers and the cross power of one pluck per third octave.

    Parameters
    ----------
    pair
        One pluck on both outputs.
    delay_s
        The electronic delay of the piezo output, for ``cross_aligned``; None when unknown.

    Returns
    -------
    BandCross or None
        Bands that do not stand above the quiet on both outputs are NaN; None when
        less than 0.15 s rang.
    """
    spectra = _spectra(pair)
    if spectra is None:
        return None
    frequency = spectra.frequency_hz
    raw_m, raw_p = _in_bands(spectra.magnetic, frequency), _in_bands(spectra.piezo, frequency)
    magnetic = raw_m - _in_bands(spectra.noise_magnetic, frequency)
    piezo = raw_p - _in_bands(spectra.noise_piezo, frequency)
    with np.errstate(invalid="ignore", divide="ignore"):
        predicted = np.abs(spectra.cross) ** 2 / np.maximum(spectra.piezo, 1e-300)
        coherence = _in_bands(predicted, frequency) / np.maximum(raw_m, 1e-300)
    inside = 0.5 * pair.rate_hz > HIGH_HZ
    good = inside & (magnetic > _LEAST_ABOVE_QUIET * raw_m) & (piezo > _LEAST_ABOVE_QUIET * raw_p)
    gap = np.where(good & (raw_m > 0) & (raw_p > 0), 1.0, np.nan)
    aligned = np.full(BAND_HZ.size, np.nan)
    if delay_s is not None:
        turned = spectra.cross * np.exp(-2j * np.pi * frequency * delay_s)
        aligned = _in_bands(turned.real, frequency)
    return BandCross(
        BAND_HZ, magnetic * gap, piezo * gap,
        _in_bands(spectra.cross.real, frequency) * gap, aligned * gap, np.clip(coherence, 0, 1),
    )  # fmt: skip


def output_bands(samples: FloatArray, noise: Noise | None, pair: BlendPair) -> FloatArray | None:
    """Power of one output of a pluck per third octave, quiet subtracted, NaN where not above it."""
    frames = _frames(samples, pair)
    if frames is None:
        return None
    frequency = _bins(pair, frames.shape[1])
    raw = _in_bands(np.mean(np.abs(frames) ** 2, axis=0), frequency)
    quiet = _noise_in_bins(noise, frequency, float(frequency[1]))
    power = raw - _in_bands(quiet, frequency)
    good = (0.5 * pair.rate_hz > HIGH_HZ) & (power > _LEAST_ABOVE_QUIET * raw) & (raw > 0)
    return np.where(good, power, np.nan)


def mean_cross(bands: Sequence[BandCross], *, equal_weight: bool) -> BandCross:
    """Average bands over plucks or notes.

    ``equal_weight`` scales each to the same total power first (both outputs by the same factor,
    so their difference stays), so that a loud note does not rule; the mean level is kept.
    """
    if not bands:
        gap = np.full(BAND_HZ.size, np.nan)
        return BandCross(BAND_HZ, gap, gap, gap, gap, gap)
    totals = np.array([float(np.nansum(band.magnetic) + np.nansum(band.piezo)) for band in bands])
    good = totals > 0
    typical = float(np.exp(np.mean(np.log(totals[good])))) if good.any() else 1.0
    scale = np.where(good, typical / np.where(good, totals, 1.0), 0.0)
    if not equal_weight:
        scale = np.where(good, 1.0, 0.0)

    def mean(name: str) -> FloatArray:
        values = np.array([getattr(band, name) * s for band, s in zip(bands, scale, strict=True)])
        known = np.isfinite(values)
        total = np.where(known, values, 0.0).sum(axis=0)
        return np.asarray(np.where(known.any(axis=0), total / len(bands), np.nan))

    weight = np.array(
        [np.nan_to_num(band.magnetic) * s for band, s in zip(bands, scale, strict=True)]
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        coherence = np.sum(weight * [band.coherence for band in bands], axis=0) / weight.sum(axis=0)
    return BandCross(
        BAND_HZ, mean("magnetic"), mean("piezo"), mean("cross"),
        mean("cross_aligned"), np.asarray(coherence),
    )  # fmt: skip


def total_coherence(bands: BandCross) -> float | None:
    """Share of the magnetic power, over the bands both outputs carry, that the piezo predicts."""
    known = np.isfinite(bands.magnetic) & np.isfinite(bands.coherence)
    power = bands.magnetic[known]
    if power.size == 0 or power.sum() <= 0:
        return None
    return float(np.sum(power * bands.coherence[known]) / power.sum())
