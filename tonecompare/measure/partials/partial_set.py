"""Partials of a pluck: where they are, how strong, how fast they die, and how stretched the row is.

1. Peaks near n·f0 in one Hann frame give f0 and the inharmonicity B of
   ``f_n = n f0 sqrt(1 + B n²)`` (Fletcher 1964), one after the other, so that the stretch learnt
   from the low ones leads to the high ones.
2. A narrow band around each is cut out of the long transform (``narrow_bands``)
   and fitted by one damped sinusoid (``damped_sinusoids``), with the mains lines that
   fall into the band fitted beside it.
3. Where one leaves more than the noise explains, two are fitted: two polarisations of a string
   beat. If two do not explain it either, the energy of the band itself is used.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.damped_sinusoids import DampedFit, fit_damped
from tonecompare.measure.partials.early_row import EarlyRow, early_row
from tonecompare.measure.partials.exponential_rows import exponentials
from tonecompare.measure.partials.first_guess import start_pair, start_single
from tonecompare.measure.partials.fit_state import energy_of
from tonecompare.measure.partials.narrow_bands import Bands, ThinnedBands, band_gain, cut_bands
from tonecompare.measure.partials.partial_row import HIGHEST_SHARE, find_peaks, fit_row_of_partials
from tonecompare.measure.signal import LEVEL_WINDOW_S, ComplexArray, PluckSignal
from tonecompare.quantities.registry import N_PARTIALS

#: A fit whose log amplitude is less certain than this (3 dB) is not a measurement.
LEAST_CERTAIN_LOG_AMPLITUDE = 0.35
BELOW_NOISE = "does not stand above the noise"
#: A band this far below the strongest partial (100 dB) holds what the others' bands leave over.
FAINTEST_SHARE = 1e-10
#: One damped sinusoid is enough when it leaves less than this times the noise …
ENOUGH_EXCESS = 2.0
#: A second one is tried beyond this, and taken when chi squared falls by this much for its four
#: parameters; noise alone lowers it by some 12 where the best frequency is sought.
TRIED_EXCESS = 1.2
LEAST_CHI2 = 30.0
#: … or less than this share of the band's energy (-50 dB).
ENOUGH_MISFIT = 1e-5
#: A beat is named when the weaker component has this share of the stronger one's amplitude, they
#: lie this far apart, and together they leave less than this share of what one alone leaves.
BEAT_SHARE = 0.1
SLOWEST_BEAT_HZ = 0.15
BEAT_EXPLAINS = 0.25
#: Two polarisations of one string lie closer than this; further apart it is another string.
WIDEST_BEAT_HZ = 8.0


@dataclass(frozen=True)
class PartialSet:
    """Partials 1…24 of one pluck; NaN where unmeasured, ``reason`` saying why.

    All arrays have shape (24,), ``components_*`` (24, 2) with NaN for an absent second one.
    ``power`` is the mean square over the level window (sine of amplitude A: A²/2), ``power_sd``
    its standard uncertainty relative to itself.
    """

    frequency_hz: FloatArray
    power: FloatArray
    power_sd: FloatArray
    components_amplitude: ComplexArray
    components_rate: ComplexArray
    rate_sd: FloatArray
    #: 1, 2 or 0 (no model fits: band energy used).
    n_components: FloatArray
    #: Whether the fit that a partial rests on came to rest.
    converged: NDArray[np.bool_]
    #: Beat between two components where they explain what one does not, Hz; NaN elsewhere.
    beat_hz: FloatArray
    reason: tuple[str, ...]
    bands: Bands | None
    #: Band signals without the fitted mains lines, settled part, shape (24, T).
    clean: ComplexArray
    #: Expected mean |z|² of the noise in each band.
    noise_power: FloatArray
    f0_hz: float
    f0_sd_hz: float
    inharmonicity: float
    inharmonicity_sd: float
    #: Decay rate sigma of the best single component, 1/s.
    single_sigma: FloatArray
    #: All partials of the first moment, None where too little rang.
    early: EarlyRow | None = None

    @property
    def measured(self) -> np.ndarray:
        """Which partials have a level, shape (24,), bool."""
        return np.isfinite(self.power)


def no_partials(reason: str) -> PartialSet:
    """Return a set in which nothing could be measured."""
    nan = np.full(N_PARTIALS, np.nan)
    pair = np.full((N_PARTIALS, 2), np.nan + 0j)
    return PartialSet(
        nan, nan, nan, pair, pair, nan, np.zeros(N_PARTIALS),
        np.zeros(N_PARTIALS, dtype=np.bool_), nan, (reason,) * N_PARTIALS, None,
        np.zeros((N_PARTIALS, 0), dtype=np.complex128), nan, np.nan, np.nan, np.nan, np.nan, nan,
    )  # fmt: skip


def measure_partials(signal: PluckSignal) -> PartialSet:
    """Measure partials 1…24 of a pluck.

    Returns
    -------
    PartialSet
        Unmeasured with a reason when no pitch is known or too little rang.
    """
    if signal.f0_hz is None:
        return no_partials(signal.no_pitch)
    if signal.long_frame is None:
        return no_partials(f"rang for only {signal.ring_s:.2f} s")
    peaks_hz, f0_hz, stretch = find_peaks(signal, signal.f0_hz)
    order = np.arange(1, N_PARTIALS + 1)
    expected_hz = order * f0_hz * np.sqrt(1.0 + stretch * order**2)
    centre_hz = np.where(np.isfinite(peaks_hz), peaks_hz, expected_hz)
    in_range = centre_hz < HIGHEST_SHARE * signal.rate_hz
    bands = cut_bands(signal, np.where(in_range, centre_hz, f0_hz), spacing_hz=f0_hz)
    first, last = bands.settled
    if last - first < 12:
        return no_partials(f"rang for only {signal.ring_s:.2f} s")
    z, time_s = bands.z[:, first:last], bands.time_s[first:last]
    density = signal.noise_density(bands.centre_hz)
    white = 2.0 * density * bands.rate_hz
    noise_power = 2.0 * density * bands.sigma_hz * np.sqrt(np.pi)
    line_rate, line_power = _lines_in_bands(signal, bands)

    few = ThinnedBands.of(z, time_s, bands.rate_hz)
    line_gain = few.gain(line_rate)
    white_few = white / few.thin
    noise_few = noise_power * few.noise_share(bands.sigma_hz)
    power_few = line_power * np.abs(line_gain) ** 2
    single = fit_damped(
        few.z, few.time_s, start_single(few.z, few.rate_hz), noise_density=white_few,
        noise_power=noise_few, line_rate=line_rate, line_power=power_few,
    )  # fmt: skip
    chosen = _Chosen.of(single, bands)
    poor = (single.excess > TRIED_EXCESS) & (single.misfit > ENOUGH_MISFIT) & in_range
    if np.any(poor):
        part = few.z[poor] - _lines_at(few.time_s, line_rate[poor], single.lines[poor])
        pair = fit_damped(
            few.z[poor], few.time_s, start_pair(part, few.rate_hz), noise_density=white_few[poor],
            noise_power=noise_few[poor], line_rate=line_rate[poor], line_power=power_few[poor],
        )  # fmt: skip
        chosen.take_pairs(pair, np.flatnonzero(poor), single, white_few[poor])
    chosen.amplitude /= few.gain(chosen.rate)
    clean = z - _lines_at(time_s, line_rate, single.lines / line_gain)
    found = _assemble(
        signal, bands, clean, time_s, chosen, noise_power, expected_hz, in_range, f0_hz
    )
    return replace(found, early=early_row(signal, found.f0_hz, found.inharmonicity))


def _lines_at(time_s: FloatArray, line_rate: ComplexArray, lines: ComplexArray) -> ComplexArray:
    """Mains lines of each band summed, shape (n, T); (n, 1) of zeros where there are none."""
    if not lines.shape[1]:
        return np.zeros((lines.shape[0], 1), dtype=np.complex128)
    return np.asarray((lines[:, None, :] @ exponentials(line_rate, time_s))[:, 0])


def _lines_in_bands(signal: PluckSignal, bands: Bands) -> tuple[ComplexArray, FloatArray]:
    """Mains lines that reach into each band: rates relative to the centre and expected |h|²."""
    n = bands.centre_hz.size
    noise = signal.noise
    if noise is None or noise.mains_hz is None or not np.any(noise.line_power > 0.0):
        return np.zeros((n, 0), dtype=np.complex128), np.zeros((n, 0))
    nearest = np.rint(bands.centre_hz / noise.mains_hz)
    orders = nearest[:, None] + np.array([-1.0, 0.0, 1.0])
    line_hz = orders * noise.mains_hz
    index = orders.astype(np.intp) - 1
    known = (index >= 0) & (index < noise.line_power.size)
    power = np.where(known, noise.line_power[np.clip(index, 0, noise.line_power.size - 1)], 0.0)
    offset = line_hz - bands.centre_hz[:, None]
    power = 2.0 * power * np.exp(-((offset / bands.sigma_hz) ** 2))
    floor = 2.0 * signal.noise_density(bands.centre_hz) * bands.sigma_hz * np.sqrt(np.pi)
    power = np.where(power > 0.01 * floor[:, None], power, 0.0)
    keep = np.any(power > 0.0, axis=0)
    return (2j * np.pi * offset[:, keep]), power[:, keep]


@dataclass
class _Chosen:
    """The model chosen for each band, filled in as pairs replace singles."""

    amplitude: ComplexArray
    rate: ComplexArray
    rate_sd: FloatArray
    log_amplitude_sd: FloatArray
    count: FloatArray
    converged: NDArray[np.bool_]
    beat_hz: FloatArray
    sigma_hz: float
    single_sigma: FloatArray

    @classmethod
    def of(cls, fit: DampedFit, bands: Bands) -> _Chosen:
        """Start from the single fits; 0 components where they leave too much."""
        n = fit.rate.shape[0]
        blank = np.full((n, 1), np.nan + 0j)
        good = (fit.excess <= ENOUGH_EXCESS) | (fit.misfit <= ENOUGH_MISFIT)
        return cls(
            amplitude=np.concatenate([fit.amplitude, blank], axis=1),
            rate=np.concatenate([fit.rate, blank], axis=1),
            rate_sd=fit.rate_sd[:, 0].copy(),
            log_amplitude_sd=fit.log_amplitude_sd[:, 0].copy(),
            count=good.astype(float),
            converged=fit.converged.copy(),
            beat_hz=np.full(n, np.nan),
            sigma_hz=bands.sigma_hz,
            single_sigma=-fit.rate[:, 0].real,
        )

    def take_pairs(
        self, pair: DampedFit, rows: np.ndarray, single: DampedFit, density: FloatArray
    ) -> None:
        """Use two components where they are a string's and explain what one did not."""
        apart_hz = np.abs(np.diff(pair.rate.imag, axis=1)[:, 0]) / (2.0 * np.pi)
        decaying = np.all(pair.rate.real < -0.05, axis=1)
        weaker = np.abs(pair.amplitude[:, 1]) > 0.01 * np.abs(pair.amplitude[:, 0])
        sane = (
            decaying
            & weaker
            & (apart_hz < WIDEST_BEAT_HZ)
            & np.all(np.abs(pair.amplitude) < 30.0 * np.abs(single.amplitude[rows]), axis=1)
        )
        # Near the noise the whole band's misfit cannot halve; what is left at the line can.
        helps = pair.misfit < 0.5 * single.misfit[rows]
        helps |= pair.excess < 0.6 * single.excess[rows]
        helps |= (density > 0.0) & (2.0 * (single.cost[rows] - pair.cost) > LEAST_CHI2 * density)
        explains = (pair.excess <= ENOUGH_EXCESS) | (pair.misfit <= 1e-3)
        take = sane & helps
        self.amplitude[rows[take]] = pair.amplitude[take]
        self.rate[rows[take]] = pair.rate[take]
        self.rate_sd[rows[take]] = pair.rate_sd[take, 0]
        self.log_amplitude_sd[rows[take]] = np.minimum(
            pair.log_amplitude_sd[take, 0], single.log_amplitude_sd[rows[take], 0]
        )
        self.converged[rows[take]] = pair.converged[take]
        self.count[rows[take]] = np.where(explains[take], 2.0, 0.0)
        strong = np.abs(pair.amplitude[:, 1]) > BEAT_SHARE * np.abs(pair.amplitude[:, 0])
        beats = sane & strong & (apart_hz > SLOWEST_BEAT_HZ)
        beats &= pair.misfit < BEAT_EXPLAINS * single.misfit[rows]
        self.beat_hz[rows[beats]] = apart_hz[beats]


def _assemble(
    signal: PluckSignal,
    bands: Bands,
    clean: ComplexArray,
    time_s: FloatArray,
    chosen: _Chosen,
    noise_power: FloatArray,
    expected_hz: FloatArray,
    in_range: np.ndarray,
    f0_hz: float,
) -> PartialSet:
    """Levels over the window, frequencies, the row's f0 and stretch, and reasons."""
    two = np.isfinite(chosen.rate.real[:, 1])
    rate = np.where(np.isfinite(chosen.rate), chosen.rate, -1.0)
    amplitude = np.where(np.isfinite(chosen.amplitude), chosen.amplitude, 0.0)
    amplitude = amplitude / band_gain(rate, bands.sigma_hz)
    frequency_hz = bands.centre_hz + _mean_offset_hz(amplitude, rate)
    power, power_sd = _window_power(signal, amplitude, rate, clean, time_s, chosen, noise_power)

    wandered = np.abs(frequency_hz - expected_hz) > np.maximum(0.03 * expected_hz, 0.1 * f0_hz)
    wandered |= np.abs(frequency_hz - expected_hz) > 0.3 * f0_hz
    reason = np.full(N_PARTIALS, "", dtype=object)
    weak = (chosen.log_amplitude_sd > LEAST_CERTAIN_LOG_AMPLITUDE) | wandered
    weak |= ~(power > FAINTEST_SHARE * np.max(power[in_range], initial=0.0))
    reason[weak] = BELOW_NOISE
    reason[~in_range] = "above the band of the recording"
    bad = reason != ""
    nan = np.where(bad, np.nan, 1.0)
    frequency_sd = chosen.rate_sd / (2.0 * np.pi)
    fit = fit_row_of_partials(frequency_hz * nan, frequency_sd, power)
    return PartialSet(
        frequency_hz=frequency_hz * nan,
        power=power * nan,
        power_sd=power_sd * nan,
        components_amplitude=np.where(two[:, None] | np.array([[True, False]]), amplitude, np.nan)
        * nan[:, None],
        components_rate=np.where(two[:, None] | np.array([[True, False]]), rate, np.nan)
        * nan[:, None],
        rate_sd=chosen.rate_sd * nan,
        n_components=chosen.count,
        converged=chosen.converged,
        beat_hz=chosen.beat_hz * nan,
        reason=tuple(str(text) for text in reason),
        bands=replace(bands, z=bands.z[:, :0].copy()),
        clean=clean,
        noise_power=noise_power,
        f0_hz=fit[0],
        f0_sd_hz=fit[1],
        inharmonicity=fit[2],
        inharmonicity_sd=fit[3],
        single_sigma=chosen.single_sigma * nan,
    )


def _mean_offset_hz(amplitude: ComplexArray, rate: ComplexArray) -> FloatArray:
    """Energy-weighted mean frequency of the components, relative to the centre."""
    energy = np.abs(amplitude) ** 2 / np.maximum(-rate.real, 0.05)
    total = np.maximum(energy.sum(axis=1), np.finfo(float).tiny)
    return np.asarray((energy * rate.imag).sum(axis=1) / total / (2.0 * np.pi))


def _window_power(
    signal: PluckSignal,
    amplitude: ComplexArray,
    rate: ComplexArray,
    clean: ComplexArray,
    time_s: FloatArray,
    chosen: _Chosen,
    noise_power: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Mean square over the level window and its relative standard uncertainty.

    From the model where it explains the band, from the band's energy less the noise otherwise.
    """
    last_s = min(LEVEL_WINDOW_S[1], signal.ring_s + signal.lag_s)
    grid = np.linspace(LEVEL_WINDOW_S[0], last_s, 129)
    model = exponentials(rate, grid, amplitude)
    whole = model[:, 0] + model[:, 1]
    ends = np.abs(whole[:, [0, -1]]) ** 2
    square = 0.5 * (energy_of(whole) - 0.5 * ends.sum(axis=1)) / (grid.size - 1)
    relative = 2.0 * np.where(np.isfinite(chosen.log_amplitude_sd), chosen.log_amplitude_sd, 1.0)

    inside = (time_s >= LEVEL_WINDOW_S[0]) & (time_s <= last_s)
    if np.count_nonzero(inside) >= 4:
        gain = np.abs(band_gain(rate[:, :1], chosen.sigma_hz))[:, 0]
        band = np.mean(np.abs(clean[:, inside]) ** 2, axis=1)
        direct = np.maximum(band - noise_power, 0.0) / gain**2 / 2.0
        use = chosen.count == 0.0
        square = np.where(use, direct, square)
        count = max(1.0, np.count_nonzero(inside) * chosen.sigma_hz * 2.0 * np.sqrt(np.pi)
                    / (1.0 / (time_s[1] - time_s[0])))  # fmt: skip
        share = noise_power / np.maximum(band, 1e-300)
        relative = np.where(use, np.sqrt((2.0 * share + share**2) / count), relative)
    return square, relative
