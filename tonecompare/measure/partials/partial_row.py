"""The row of partials: where f_n = n f0 sqrt(1 + B n²) lies (Fletcher 1964), found and fitted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray, median_of_few
from tonecompare.measure.signal import PluckSignal
from tonecompare.quantities.registry import N_PARTIALS

#: Highest partial as a share of the sample rate.
HIGHEST_SHARE = 0.46
#: A peak must stand this far above the quiet (power).
PEAK_OVER_NOISE = 6.0
#: Inharmonicity beyond this is no guitar string.
LARGEST_INHARMONICITY = 2e-3
#: Scatter of partials about their row that is tried, in cents, and one cent as a ratio less 1.
_SCATTER_CENTS = (0.0, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
_CENT = float(np.log(2.0) / 1200.0)
#: Tuning of the Huber weights.
_HUBER = 1.5
#: Three stretches are few to tell a variance from: B's jackknife error counts so many times.
_THIRDS_ARE_FEW = 1.3
#: First look at the row: f0 within this many cents of the note's, B among these, partials up to
#: this order and frequency; a peak counts by its decibels above this share of the strongest.
_FIRST_CENTS = np.arange(-10.5, 10.6, 1.5)
_FIRST_STRETCH = np.concatenate([[0.0], 1e-5 * 1.33 ** np.arange(19)])
_FIRST_ORDER = np.arange(1, 13)
_FIRST_TOP_HZ = 4500.0
_FIRST_FLOOR = 1e-5
_ORDER = np.arange(1, N_PARTIALS + 1)
#: The row is fitted anew after each of these groups of partials while peaks are followed upwards.
_GROUPS = tuple(
    np.arange(a, b) for a, b in ((1, 7), (7, 10), (10, 13), (13, 17), (17, 21), (21, 25))
)


def find_peaks(
    signals: Sequence[PluckSignal], f0_hz: Sequence[float]
) -> list[tuple[FloatArray, float, float]]:
    """Peaks near the partials of some plucks, with the f0 and B they give.

    Parameters
    ----------
    signals
        Plucks of which enough rang for ``long_frame``.
    f0_hz
        Pitch of each, to a few cents.

    Returns
    -------
    list
        Of each pluck peaks in Hz, (24,), NaN where none; f0 in Hz; B.
    """
    if not signals:
        return []
    spectra = _Spectra.of(signals)
    bin_hz, strongest = spectra.bin_hz, spectra.strongest
    row = [
        _first_row(power, hz, f0, last)
        for power, hz, f0, last in zip(
            spectra.of_each, bin_hz[:, 0], f0_hz, spectra.last[:, 0], strict=True
        )
    ]
    f0, stretch = np.array(row).T[:, :, np.newaxis]
    peaks = np.full((len(signals), N_PARTIALS), np.nan)
    weight = np.zeros(peaks.shape)
    for n in _GROUPS:
        expected_hz = n * f0 * np.sqrt(1.0 + stretch * n**2)
        reach_hz = np.minimum(np.maximum(0.008 * expected_hz, 2.5 * bin_hz), 0.25 * f0)
        top, shift = spectra.tops(expected_hz / bin_hz, reach_hz / bin_hz)
        power, noise = spectra.power[spectra.start + top], spectra.noise[spectra.start + top]
        found = (top > 0) & (power > PEAK_OVER_NOISE * noise)
        peaks[:, n - 1] = np.where(found, (top + shift) * bin_hz, np.nan)
        # Weak peaks may belong to something else; a strong one 30 dB up counts in full.
        tiny = np.finfo(float).tiny
        share = np.minimum(
            power / strongest, power / np.maximum(np.maximum(100.0 * noise, power), tiny)
        )
        weight[:, n - 1] = np.where(found, n**2 * np.minimum(1.0, share), 0.0)
        f0, stretch = _fit_rows(peaks, weight, f0, stretch)
    expected_hz = _ORDER * f0 * np.sqrt(1.0 + stretch * _ORDER**2)
    peaks[np.abs(peaks - expected_hz) > np.minimum(0.2 * f0, 0.015 * expected_hz)] = np.nan
    return [
        (each, float(f), float(b))
        for each, f, b in zip(peaks, f0[:, 0], stretch[:, 0], strict=True)
    ]


@dataclass(frozen=True)
class _Spectra:
    """Long frames of some plucks, one behind the other; what is of each pluck is (G, 1)."""

    of_each: list[FloatArray]
    power: FloatArray
    noise: FloatArray
    #: First place of each, its step in frequency, its last bin that is used, and the power that a
    #: partial 30 dB below its strongest has.
    start: NDArray[np.intp]
    bin_hz: FloatArray
    last: NDArray[np.intp]
    strongest: FloatArray

    @classmethod
    def of(cls, signals: Sequence[PluckSignal]) -> _Spectra:
        """Collect the long frames of plucks."""
        powers, noises, steps, lasts, strongest = [], [], [], [], []
        for signal in signals:
            assert signal.long_frame is not None
            frequency_hz, power, noise = signal.long_frame
            bin_hz = float(frequency_hz[1])
            last = min(power.size - 2, int(HIGHEST_SHARE * signal.rate_hz / bin_hz))
            powers.append(power)
            noises.append(noise)
            steps.append(bin_hz)
            lasts.append(last)
            strongest.append(max(float(np.max(power[: last + 1])) * 1e-3, np.finfo(float).tiny))
        starts = np.cumsum([0, *(power.size for power in powers[:-1])])
        return cls(
            powers, np.concatenate(powers), np.concatenate(noises), starts[:, np.newaxis],
            *(np.array(each)[:, np.newaxis] for each in (steps, lasts, strongest)),
        )  # fmt: skip

    def tops(self, centre: FloatArray, reach: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
        """Highest bins within ``reach`` bins of the centres and their peaks' offsets from them.

        0 where the range leaves the spectrum or the highest bin is no peak. The offset is that of a
        parabola through three log powers. All (G, k).
        """
        start, last = self.start, self.last
        low, high = (centre - reach).astype(np.intp), np.ceil(centre + reach).astype(np.intp)
        bins = low[..., np.newaxis] + np.arange(int(np.max(high - low)) + 1)
        most = last[..., np.newaxis]
        inside = (bins <= high[..., np.newaxis]) & (bins >= 0) & (bins <= most)
        at = start[..., np.newaxis] + np.minimum(np.maximum(bins, 0), most)
        top = low + np.argmax(np.where(inside, self.power[at], -1.0), axis=2)
        within = (low >= 1) & (high <= last)
        top = np.where(within, top, 1)
        left, here, right = (self.power[start + top + k] for k in (-1, 0, 1))
        peak = (here >= left) & (here >= right) & within
        log_left, log_here, log_right = (np.log(each + 1e-300) for each in (left, here, right))
        curve = log_left - 2.0 * log_here + log_right
        bent = curve < 0.0
        shift = np.where(bent, 0.5 * (log_left - log_right) / np.where(bent, curve, -1.0), 0.0)
        return np.where(peak, top, 0), shift


def _first_row(power: FloatArray, bin_hz: float, f0_hz: float, last: int) -> tuple[float, float]:
    """f0 and B whose row of partials collects most decibels; no single stray peak leads."""
    last = min(last, int(_FIRST_TOP_HZ / bin_hz) + 1)
    low = power[: last + 3]
    top = np.maximum(np.maximum(low[:-4], low[1:-3]), np.maximum(low[3:-1], low[4:]))
    top = np.concatenate([low[:2], np.maximum(top, low[2:-2])])
    level_db = 10.0 * np.log10(np.maximum(top / (power.max() * _FIRST_FLOOR), 1.0))
    last = level_db.size - 1
    f0 = f0_hz * 2.0 ** (_FIRST_CENTS / 1200.0)
    n = _FIRST_ORDER
    row_hz = f0[:, None, None] * n * np.sqrt(1.0 + _FIRST_STRETCH[:, None] * n**2)
    index = np.rint(row_hz / bin_hz).astype(np.intp)
    usable = (index <= last) & (row_hz < _FIRST_TOP_HZ)
    score = np.where(usable, level_db[np.minimum(index, last)], 0.0).sum(axis=2)
    # Of rows that collect the same, the least stretched and least detuned.
    score -= 1e-3 * np.arange(_FIRST_STRETCH.size) + 1e-3 * np.abs(_FIRST_CENTS)[:, None]
    best = np.unravel_index(int(np.argmax(score)), score.shape)
    return float(f0[best[0]]), float(_FIRST_STRETCH[best[1]])


def _fit_rows(
    frequency_hz: FloatArray, weight: FloatArray, f0_hz: FloatArray, stretch: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Weighted line (f/n)² = f0² + f0² B n², twice, the second time without outliers.

    Of several plucks, (G, 24) and (G, 1). A row of which nothing is known stays as it is; B does
    where fewer than three partials, or none from the fourth on, are known.
    """
    use = np.isfinite(frequency_hz) & (weight > 0.0)
    x = _ORDER.astype(np.float64) ** 2
    y = np.where(use, (frequency_hz / _ORDER) ** 2, 0.0)
    for _ in range(2):
        w = np.where(use, weight, 0.0)
        total = np.maximum(w.sum(axis=1, keepdims=True), np.finfo(float).tiny)
        mean_x = (w * x).sum(axis=1, keepdims=True) / total
        mean_y = (w * y).sum(axis=1, keepdims=True) / total
        centred = w * (x - mean_x)
        spread = (centred * (x - mean_x)).sum(axis=1, keepdims=True)
        slope = (centred * (y - mean_y)).sum(axis=1, keepdims=True)
        slope /= np.maximum(spread, np.finfo(float).tiny)
        base = np.maximum(mean_y - slope * mean_x, 1e-12)
        line = (use.sum(axis=1, keepdims=True) >= 3) & use[:, 3:].any(axis=1, keepdims=True)
        bent = np.minimum(np.maximum(slope / base, 0.0), LARGEST_INHARMONICITY)
        some = use.any(axis=1, keepdims=True)
        stretch = np.where(line, bent, stretch)
        square = (w * y / (1.0 + stretch * x)).sum(axis=1, keepdims=True) / total
        f0_hz = np.where(some, np.sqrt(square), f0_hz)
        expected = _ORDER * f0_hz * np.sqrt(1.0 + stretch * x)
        kept = use & (np.abs(frequency_hz - expected) < 0.05 * f0_hz)
        if np.array_equal(kept, use):
            break
        use = kept
    return f0_hz, stretch


def fit_row_of_partials(
    frequency_hz: FloatArray, frequency_sd_hz: FloatArray, power: FloatArray
) -> tuple[float, float, float, float]:
    """First partial's frequency and B from all partials, robustly weighted.

    Least squares of (f_n/n)² = c0 + c1 (n² - 1). Real partials stand off the row by more than
    their own uncertainty (the bridge pulls them), so a common scatter tau in cents is added to it,
    as small as lets the median residual be that of a normal distribution (a robust form of the
    random-effects model of DerSimonian & Laird 1986), and larger for partials more than 20 dB
    below the strongest, which another string may sound as well; Huber weights bound outliers.

    Neighbours stand off together (a bent coil adds sums of lower partials to the weak upper ones,
    which lie flat of their own), and then the fit is less certain than its residuals say. So what
    is stated is at least what the low, middle and high third of the row differ by: the delete-one
    jackknife over these three (Quenouille 1956; Tukey 1958).

    Returns
    -------
    tuple
        f1 = sqrt(c0) in Hz, its standard uncertainty, B, its standard uncertainty.
    """
    order = np.arange(1, N_PARTIALS + 1)
    use = np.isfinite(frequency_hz) & np.isfinite(frequency_sd_hz)
    n = order[use].astype(float)
    if n.size == 0:
        return np.nan, np.nan, np.nan, np.nan
    f, sd = frequency_hz[use], frequency_sd_hz[use]
    doubt = np.maximum(1.0, 0.1 * np.sqrt(np.nanmax(power[use]) / power[use]))
    if n.size < 3:
        best = int(np.argmin(sd / f))
        return float(f[best] / n[best]), float(sd[best] / n[best]), np.nan, np.nan
    line = _Line.through(n**2 - 1.0, (f / n) ** 2)
    for tau_cents in _SCATTER_CENTS:
        sd_y = 2.0 * f * np.hypot(sd, tau_cents * doubt * _CENT * f) / n**2
        (c0, c1), variances, left = _huber(line, sd_y)
        if median_of_few((np.abs(left) / sd_y).tolist()) <= 0.6745:
            break
    base = c0 - c1
    if c0 <= 0.0 or base <= 0.0:
        return np.nan, np.nan, np.nan, np.nan
    f1 = float(np.sqrt(c0))
    weight = np.minimum(1.0, _HUBER / np.maximum(np.abs(left) / sd_y, 1e-12)) / sd_y**2
    by_thirds = _by_thirds(line, weight, np.array([c0, c1]))
    variance = np.maximum(variances, by_thirds)
    variance[1] = max(variance[1], _THIRDS_ARE_FEW**2 * by_thirds[1])
    f1_sd = float(np.sqrt(variance[0])) / (2.0 * f1)
    return f1, f1_sd, c1 / base, float(np.sqrt(variance[1])) / base


@dataclass(frozen=True)
class _Line:
    """Points x, y (n,) that a line ``c0 + c1 x`` is drawn through."""

    x: FloatArray
    y: FloatArray
    #: Columns 1, x, x², y, x y, whose weighted sums are all that a line needs.
    products: FloatArray

    @classmethod
    def through(cls, x: FloatArray, y: FloatArray) -> _Line:
        return cls(x, y, np.stack([np.ones_like(x), x, x * x, y, x * y], axis=1))

    def weighted(
        self, weight: FloatArray
    ) -> tuple[tuple[float, float], tuple[float, float], FloatArray]:
        """Weighted least squares: coefficients, their variances, residuals."""
        a, b, d, right, across = (weight @ self.products).tolist()
        determinant = max(a * d - b * b, 1e-300)
        c0, c1 = (d * right - b * across) / determinant, (a * across - b * right) / determinant
        return (c0, c1), (d / determinant, a / determinant), self.y - c0 - c1 * self.x


def _by_thirds(line: _Line, weight: FloatArray, coefficients: FloatArray) -> FloatArray:
    """Jackknife variance of both coefficients over three stretches of the row, (2,).

    Zeros for fewer than six partials.
    """
    if line.y.size < 6:
        return np.zeros(2)
    without = []
    for stretch in np.array_split(np.arange(line.y.size), 3):
        some = weight.copy()
        some[stretch] = 0.0
        without.append(line.weighted(some)[0])
    return np.asarray(2.0 / 3.0 * np.sum((np.array(without) - coefficients) ** 2, axis=0))


def _huber(
    line: _Line, sd: FloatArray
) -> tuple[tuple[float, float], tuple[float, float], FloatArray]:
    """Huber-weighted least squares from a least-squares start."""
    weight = 1.0 / sd**2
    coefficients, variances, left = line.weighted(weight)
    for round_ in range(8):
        size = np.abs(left) / sd
        scale = max(1.0, 1.4826 * median_of_few(size.tolist())) if round_ < 4 else 1.0
        down = np.minimum(1.0, _HUBER * scale / np.maximum(size, 1e-12))
        coefficients, variances, left = line.weighted(weight * down)
    return coefficients, variances, left
