"""Each partial alone: narrow bands cut from the one long transform of a pluck.

A band is a Gaussian of standard width sigma_f around a centre frequency, cut out of the transform
of the whole ring and transformed back at a low rate. For x(t) = A exp(-sigma t) cos(omega t + phi)
the band signal is z(t) = A exp(i phi) exp((-sigma + i (omega - omega_c)) t) times the complex gain
``exp(-(delta + i sigma)² / (2 (2 pi sigma_f)²))``, delta = omega - omega_c. The Gaussian is the
window with the smallest product of width in time and in frequency (Gabor 1946), so that a
neighbouring partial one fundamental away is 156 dB down while the band still answers within
about 0.7 periods (one standard width in time, 1/(2 pi sigma_f)).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import ComplexArray, PluckSignal

#: Widest band: narrower lets less noise in, wider answers faster.
WIDEST_SIGMA_HZ = 20.0
#: Fundamental over band width; 6 puts the neighbour at exp(-18).
FUNDAMENTAL_OVER_SIGMA = 6.0
#: How many standard widths in time the band's answer to the onset or the end takes to die (-80 dB).
SETTLING_WIDTHS = 4.3
#: Rate of thinned bands (two polarisations lie a few hertz apart), and how short they may be.
THINNED_HZ = 45.0
LEAST_THINNED = 24
#: The band is cut off at this many standard widths (-70 dB).
CUT_WIDTHS = 4.0


@dataclass(frozen=True)
class Bands:
    """Band signals of several centres.

    ``z`` has shape (n_bands, n_times): complex amplitude (peak, full scale 1.0) at ``time_s``
    (seconds after the onset). ``centre_hz`` (n_bands,), ``sigma_hz`` the Gaussian's width,
    ``rate_hz`` the low rate, ``settled`` (first, last) the range of times free of edge effects.
    """

    z: ComplexArray
    time_s: FloatArray
    centre_hz: FloatArray
    sigma_hz: float
    rate_hz: float
    settled: tuple[int, int]


def cut_bands(signal: PluckSignal, centre_hz: FloatArray, *, spacing_hz: float) -> Bands:
    """Cut narrow bands around ``centre_hz`` out of a pluck.

    Parameters
    ----------
    signal
        The pluck.
    centre_hz
        Centres, shape (n,); rounded to bins of the long transform.
    spacing_hz
        Distance of the nearest neighbour to be kept out (the fundamental).
    """
    sigma_hz = min(WIDEST_SIGMA_HZ, spacing_hz / FUNDAMENTAL_OVER_SIGMA)
    bin_hz = signal.rate_hz / signal.fft_size
    half = max(8, int(np.ceil(CUT_WIDTHS * sigma_hz / bin_hz)))
    size = int(scipy.fft.next_fast_len(2 * half + 1))
    centre = np.rint(np.asarray(centre_hz) / bin_hz).astype(np.intp)
    offsets = np.arange(-half, half + 1)
    values = signal.transform_at(centre, offsets)
    if centre.min() < half or centre.max() + half > signal.fft_size // 2:
        bins = centre[:, None] + offsets
        values[(bins < 0) | (bins > signal.fft_size // 2)] = 0.0
    values *= np.exp(-0.5 * (offsets * (bin_hz / sigma_hz)) ** 2)
    padded = np.zeros((centre.size, size), dtype=np.complex128)
    padded[:, : half + 1] = values[:, half:]
    padded[:, size - half :] = values[:, :half]
    z = scipy.fft.ifft(padded, axis=1) * (2.0 * size / signal.fft_size)
    rate_hz = size * bin_hz
    n_times = max(1, int(signal.ring_s * rate_hz))
    settle = SETTLING_WIDTHS / (2.0 * np.pi * sigma_hz)
    first = int(np.ceil(max(settle, 0.05 - signal.lag_s) * rate_hz))
    last = int(np.floor((signal.ring_s - settle) * rate_hz))
    time_s = np.arange(n_times) / rate_hz + signal.lag_s
    return Bands(
        z=z[:, :n_times],
        time_s=time_s,
        centre_hz=np.asarray(centre * bin_hz, dtype=np.float64),
        sigma_hz=sigma_hz,
        rate_hz=rate_hz,
        settled=(first, max(first, min(last, n_times))),
    )


def band_gain(rate_per_s: ComplexArray, sigma_hz: float) -> ComplexArray:
    """Gain of the Gaussian band for a component exp(s t), s = -sigma + i delta relative to centre.

    ``exp(-w² / (2 (2 pi sigma_f)²))`` with w = s / i.
    """
    w = rate_per_s / 1j
    return np.asarray(np.exp(-(w**2) / (2.0 * (2.0 * np.pi * sigma_hz) ** 2)))


@dataclass(frozen=True)
class ThinnedBands:
    """Means of ``thin`` neighbouring values of band signals: all that slow components need.

    A mean of neighbours keeps rates exactly and scales exp(s t) by a known gain, so that a model
    fitted to ``z`` (n, T) at ``time_s`` (T,) is exact; noise near a line loses nothing.
    """

    z: ComplexArray
    time_s: FloatArray
    thin: int
    step_s: float

    @classmethod
    def of(cls, z: ComplexArray, time_s: FloatArray, rate_hz: float) -> ThinnedBands:
        """Thin to about 45 values a second where enough of them remain."""
        thin = max(1, int(rate_hz / THINNED_HZ))
        thin = thin if z.shape[1] // thin >= LEAST_THINNED else 1
        return cls(means(z, thin), means(time_s, thin), thin, 1.0 / rate_hz)

    @property
    def rate_hz(self) -> float:
        """Values a second."""
        return 1.0 / (self.thin * self.step_s)

    def gain(self, rate: ComplexArray) -> ComplexArray:
        """Gain of exp(s t): ``sinh(N s dt / 2) / (N sinh(s dt / 2))``, N neighbours dt apart."""
        half = 0.5 * self.step_s * np.where(np.abs(rate) > 1e-6, rate, 1e-6)
        return np.asarray(np.sinh(self.thin * half) / (self.thin * np.sinh(half)))

    def noise_share(self, sigma_hz: float) -> float:
        """Share of the band noise's power that the means keep.

        The noise's spectrum has the form exp(-(f / sigma_f)²), that of the means times gain².
        """
        f = np.linspace(-4.0, 4.0, 161) * sigma_hz
        spectrum = np.exp(-((f / sigma_hz) ** 2))
        kept = np.abs(self.gain(np.asarray(2j * np.pi * f, dtype=np.complex128))) ** 2
        return float(np.sum(spectrum * kept) / np.sum(spectrum))


def means(values: np.ndarray, thin: int) -> np.ndarray:
    """Means of ``thin`` neighbours along the last axis."""
    if thin == 1:
        return values
    usable = values.shape[-1] // thin * thin
    total = values[..., 0:usable:thin].copy()
    for place in range(1, thin):
        total += values[..., place:usable:thin]
    return np.asarray(total / thin)
