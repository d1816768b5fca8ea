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

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.chosen_model import (
    ENOUGH_MISFIT,
    TRIED_EXCESS,
    ChosenModel,
)
from tonecompare.measure.partials.damped_sinusoids import BandsToFit, DampedFit, fit_damped
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
    return measure_partials_of((signal,))[0]


def measure_partials_of(signals: Sequence[PluckSignal]) -> list[PartialSet]:
    """Measure partials 1…24 of several plucks: the same as one by one, but fitted together."""
    why_not = [_why_not(signal) for signal in signals]
    rang = [signal for signal, reason in zip(signals, why_not, strict=True) if not reason]
    peaks = find_peaks(rang, [signal.f0_hz or 0.0 for signal in rang])
    cuts = iter([_Cut.of(signal, *row) for signal, row in zip(rang, peaks, strict=True)])
    cut = [no_partials(reason) if reason else next(cuts) for reason in why_not]
    ready = [each for each in cut if isinstance(each, _Cut)]
    to_fit = [each.to_fit() for each in ready]
    singles = fit_damped(to_fit)
    chosen = [ChosenModel.of(fit, each.bands) for fit, each in zip(singles, ready, strict=True)]
    poor = [each.poor(fit) for fit, each in zip(singles, ready, strict=True)]
    beating = [at for at, rows in enumerate(poor) if rows.size]
    pairs = fit_damped([ready[at].as_pairs(to_fit[at], singles[at], poor[at]) for at in beating])
    for at, pair in zip(beating, pairs, strict=True):
        density = to_fit[at].noise_density[poor[at]]
        chosen[at].take_pairs(pair, poor[at], singles[at], density)
    found = iter(
        [
            each.assembled(fit, model)
            for each, fit, model in zip(ready, singles, chosen, strict=True)
        ]
    )
    return [each if isinstance(each, PartialSet) else next(found) for each in cut]


def _why_not(signal: PluckSignal) -> str:
    """Why no row of partials can be looked for, "" where it can."""
    if signal.f0_hz is None:
        return signal.no_pitch
    return "" if signal.long_frame is not None else _too_short(signal)


def _too_short(signal: PluckSignal) -> str:
    return f"rang for only {signal.ring_s:.2f} s"


@dataclass(frozen=True)
class _Cut:
    """The bands of a pluck, and what is known of them before anything is fitted."""

    signal: PluckSignal
    bands: Bands
    few: ThinnedBands
    #: Where the row of partials lets one expect each, and which of them the recording holds.
    expected_hz: FloatArray
    in_range: NDArray[np.bool_]
    f0_hz: float
    #: Expected mean |z|² of the noise, and rates and expected |h|² of the mains lines.
    noise_power: FloatArray
    line_rate: ComplexArray
    line_power: FloatArray

    @classmethod
    def of(
        cls, signal: PluckSignal, peaks_hz: FloatArray, f0_hz: float, stretch: float
    ) -> _Cut | PartialSet:
        """Cut the bands of a row of partials; a set without any where too little rang."""
        order = np.arange(1, N_PARTIALS + 1)
        expected_hz = order * f0_hz * np.sqrt(1.0 + stretch * order**2)
        centre_hz = np.where(np.isfinite(peaks_hz), peaks_hz, expected_hz)
        in_range = centre_hz < HIGHEST_SHARE * signal.rate_hz
        bands = cut_bands(signal, np.where(in_range, centre_hz, f0_hz), spacing_hz=f0_hz)
        first, last = bands.settled
        if last - first < 12:
            return no_partials(_too_short(signal))
        few = ThinnedBands.of(bands.z[:, first:last], bands.time_s[first:last], bands.rate_hz)
        noise_power = 2.0 * signal.noise_density(bands.centre_hz) * bands.sigma_hz * np.sqrt(np.pi)
        lines = _lines_in_bands(signal, bands)
        return cls(signal, bands, few, expected_hz, in_range, f0_hz, noise_power, *lines)

    def to_fit(self) -> BandsToFit:
        """Return all bands, each to be fitted by one damped sinusoid."""
        few, bands = self.few, self.bands
        white = 2.0 * self.signal.noise_density(bands.centre_hz) * bands.rate_hz
        return BandsToFit(
            few.z, few.time_s, start_single(few.z, few.rate_hz),
            noise_density=white / few.thin,
            noise_power=self.noise_power * few.noise_share(bands.sigma_hz),
            line_rate=self.line_rate,
            line_power=self.line_power * np.abs(few.gain(self.line_rate)) ** 2,
        )  # fmt: skip

    def poor(self, single: DampedFit) -> NDArray[np.intp]:
        """Return which bands one damped sinusoid leaves too much of."""
        poor = (single.excess > TRIED_EXCESS) & (single.misfit > ENOUGH_MISFIT) & self.in_range
        return np.flatnonzero(poor)

    def as_pairs(self, alone: BandsToFit, single: DampedFit, rows: NDArray[np.intp]) -> BandsToFit:
        """Return some bands, each to be fitted by two."""
        few, rate = self.few, self.line_rate[rows]
        part = few.z[rows] - _lines_at(few.time_s, rate, single.lines[rows])
        return BandsToFit(
            few.z[rows], few.time_s, start_pair(part, few.rate_hz),
            noise_density=alone.noise_density[rows], noise_power=alone.noise_power[rows],
            line_rate=rate, line_power=alone.line_power[rows],
        )  # fmt: skip

    def assembled(self, single: DampedFit, chosen: ChosenModel) -> PartialSet:
        """Return what the fits say of the partials."""
        chosen.amplitude /= self.few.gain(chosen.rate)
        settled = slice(*self.bands.settled)
        z, time_s = self.bands.z[:, settled], self.bands.time_s[settled]
        lines = single.lines / self.few.gain(self.line_rate)
        clean = z - _lines_at(time_s, self.line_rate, lines)
        found = _assemble(
            self.signal, self.bands, clean, time_s, chosen, self.noise_power, self.expected_hz,
            self.in_range, self.f0_hz,
        )  # fmt: skip
        return replace(found, early=early_row(self.signal, found.f0_hz, found.inharmonicity))


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


def _assemble(
    signal: PluckSignal,
    bands: Bands,
    clean: ComplexArray,
    time_s: FloatArray,
    chosen: ChosenModel,
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
    chosen: ChosenModel,
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
