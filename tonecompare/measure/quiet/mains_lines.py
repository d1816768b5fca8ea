"""Mains lines one by one: their power, taken out of the spectrum so that hiss stays clean."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainccinv

from tonecompare.arrays import FloatArray
from tonecompare.measure.quiet.hiss_floor import Floor
from tonecompare.measure.quiet.mains_drift import drift_within
from tonecompare.measure.quiet.mains_frequency import (
    HUM_TOP_HZ,
    LINE_FALSE_ALARM,
    NOMINAL_HZ,
    Mains,
    amplitude_noise,
    fit_half_width,
    line_amplitudes,
)
from tonecompare.measure.quiet.quiet_frames import (
    BIN_CORRELATION,
    ComplexArray,
    Frames,
    hann_kernel,
)

BoolArray = NDArray[np.bool_]

#: Lines are taken out of the spectrum over at most this many bins either side.
SUBTRACT_HALF_WIDTH = 40
#: Lines nearer than this many bins to each other are fitted jointly.
JOINT_BELOW_BINS = 30.0
#: The main lobe: bins either side of a line that do not count as floor.
ZONE_HALF_WIDTH = 3
#: Tones beside fewer lines than this share are foreign; beside more they are the lines themselves.
FOREIGN_SHARE = 0.2
#: The floor's relative uncertainty counts up to here (a band filled from its neighbours has none).
LARGEST_UNSURE = 0.7
#: Top of the audible band; lines above are not measured.
TOP_HZ = 20000.0


@dataclass(frozen=True)
class Lines:
    """Fitted amplitudes of the mains lines k = 1 … K in every frame."""

    #: (K,) 1, 2, …
    order: FloatArray
    #: (M, K) where each frame has them.
    frequency_hz: FloatArray
    #: (M, K) complex amplitudes.
    amplitude: ComplexArray
    #: (M, K) bins either side that belong to the line.
    zone_half_width: NDArray[np.intp]
    #: How many of them are hum (up to 1 kHz); the rest is buzz.
    n_hum: int

    @property
    def mean_square(self) -> FloatArray:
        """(K,) fitted mean square, averaged over the frames, noise still in it."""
        power = 0.5 * (np.square(self.amplitude.real) + np.square(self.amplitude.imag))
        return np.asarray(power.mean(axis=0))


def nominal_of(mains_hz: float) -> float:
    """Return 50 or 60, whichever is nearer."""
    return min(NOMINAL_HZ, key=lambda nominal: abs(nominal - mains_hz))


def fit_lines(frames: Frames, mains: Mains, floor: Floor) -> Lines:
    """Fit every line of the family up to 20 kHz (or 0.48 of the rate)."""
    top = min(TOP_HZ, 0.48 * frames.rate_hz)
    order = np.arange(1.0, np.floor(top / mains.frequency_hz) + 1.0)
    frequency = mains.track_hz[:, None] * order
    n_hum = min(order.size, int(HUM_TOP_HZ / nominal_of(mains.frequency_hz)))
    lines = Lines(
        order,
        frequency,
        np.zeros(frequency.shape, dtype=np.complex128),
        _zone_half_width(frames, mains, order, floor),
        n_hum,
    )
    half_width = fit_half_width(mains.frequency_hz, frames)
    spacing = mains.frequency_hz / frames.bin_hz
    # In short stretches lines reach into each other (and into their own mirror image below 0 Hz):
    # fit, take everything out, fit what is left, until nothing is.
    rest = frames
    for _ in range(1 if spacing > JOINT_BELOW_BINS else 4):
        step = line_amplitudes(rest, frequency, half_width=half_width)
        lines = replace(lines, amplitude=lines.amplitude + step)
        if spacing <= JOINT_BELOW_BINS:
            rest = subtract_lines(frames, lines, np.ones(order.size, dtype=bool))
    return lines


def _zone_half_width(
    frames: Frames, mains: Mains, order: FloatArray, floor: Floor
) -> NDArray[np.intp]:
    """Bins (M, K) either side: the main lobe, wider as k·f is unsure or drifts within a frame."""
    spacing = mains.frequency_hz / frames.bin_hz
    core = min(ZONE_HALF_WIDTH, max(1, int((spacing - 2.0) / 2.0)))
    m = mains.track_hz.size
    drifting = m > 1 and float(np.ptp(mains.track_hz)) > 0.0
    unsure = 2.0 * mains.uncertainty_hz * (np.sqrt(m) if drifting else 1.0)
    if drifting:
        within = np.abs(np.gradient(mains.track_hz))
    else:
        within = np.full(m, drift_within(frames, mains, floor) * frames.length_s / 2.0)
    widened = core + np.rint((within + unsure)[:, None] * order / frames.bin_hz)
    return np.asarray(np.minimum(widened, max(core, int(spacing / 3.0))), dtype=np.intp)


def line_noise(frames: Frames, lines: Lines, floor: Floor) -> FloatArray:
    """Return what the floor alone puts into each fitted line (K,), as a mean square."""
    return amplitude_noise(frames, floor.density_at(lines.frequency_hz.mean(axis=0)))


def stands_out(frames: Frames, lines: Lines, floor: Floor) -> BoolArray:
    """Return which lines (K,) noise alone would not show once in a thousand times."""
    shape = frames.independent
    bound = float(gammainccinv(shape, LINE_FALSE_ALARM)) / shape
    return np.asarray(lines.mean_square > bound * line_noise(frames, lines, floor))


def subtract_lines(frames: Frames, lines: Lines, chosen: BoolArray) -> Frames:
    """Return the frames without the chosen lines (K,), mirror images below 0 Hz included."""
    if not chosen.any():
        return frames
    frequency = lines.frequency_hz[:, chosen]
    centre = np.rint(frequency / frames.bin_hz).astype(np.intp)
    bins = centre[..., None] + np.arange(-SUBTRACT_HALF_WIDTH, SUBTRACT_HALF_WIDTH + 1)
    kernel = hann_kernel(bins - frequency[..., None] / frames.bin_hz)
    model = lines.amplitude[:, chosen, None] * kernel * (frames.n / 2.0)
    n_bins = frames.spectra.shape[1]
    rows = np.broadcast_to(np.arange(bins.shape[0])[:, None, None], bins.shape)
    spectra = frames.spectra.copy()
    inside = (bins >= 0) & (bins < n_bins)
    np.subtract.at(spectra, (rows[inside], bins[inside]), model[inside])
    mirrored = (bins <= 0) & (bins > -n_bins)
    np.subtract.at(spectra, (rows[mirrored], -bins[mirrored]), model[mirrored].conj())
    return replace(frames, spectra=spectra)


def _zone_edges(lines: Lines, frames: Frames) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First bin and one past the last (M, K) that belong to each line."""
    centre = np.rint(lines.frequency_hz / frames.bin_hz).astype(np.intp)
    n_bins = frames.spectra.shape[1]
    low = np.clip(centre - lines.zone_half_width, 1, n_bins - 1)
    high = np.clip(centre + lines.zone_half_width + 1, low + 1, n_bins)
    return low, high


def between_lines(lines: Lines, frames: Frames) -> BoolArray:
    """Return which bins (M, F) belong to no line."""
    low, high = _zone_edges(lines, frames)
    steps = np.zeros((low.shape[0], frames.spectra.shape[1] + 1), dtype=np.int32)
    rows = np.broadcast_to(np.arange(low.shape[0])[:, None], low.shape)
    np.add.at(steps, (rows, low), 1)
    np.add.at(steps, (rows, high), -1)
    return np.asarray(np.cumsum(steps[:, :-1], axis=1) == 0)


@dataclass(frozen=True)
class LinePower:
    """Mean squares with the floor's share taken off, (K,), and their standard uncertainties."""

    mean_square: FloatArray
    uncertainty: FloatArray
    stands_out: BoolArray
    #: What a line would need to stand out.
    limit: FloatArray


def hum_powers(frames: Frames, lines: Lines, floor: Floor) -> LinePower:
    """Return the hum lines' powers: ``mean |c|²/2 - floor's share``.

    The variance is that of a steady line in Gaussian noise, ``2 P N v + N² / M`` (v and M: what
    overlapping frames are worth), or the scatter over the frames when that is larger, and what the
    floor's own uncertainty r leaves of its share. N is itself an estimate: with r² = 1/k the
    result is t-distributed with 2 k degrees of freedom, whose variance is larger by
    ``k/(k - 1) = 1/(1 - r²)``.
    """
    n = lines.n_hum
    noise = line_noise(frames, lines, floor)[:n]
    raw = lines.mean_square[:n]
    power = raw - noise
    m, overlap = frames.independent, frames.variance_of_mean("line")
    unsure = np.minimum(floor.relative_se_at(lines.frequency_hz.mean(axis=0)[:n]), LARGEST_UNSURE)
    variance = 2.0 * np.maximum(power, 0.0) * noise * overlap + noise**2 / m
    variance = variance / (1.0 - unsure**2) + (unsure * noise) ** 2
    if lines.amplitude.shape[0] >= 4:
        each = 0.5 * np.square(np.abs(lines.amplitude[:, :n]))
        variance = np.maximum(variance, each.var(axis=0, ddof=1) * overlap)
    bound = float(gammainccinv(m, LINE_FALSE_ALARM)) / m
    return LinePower(power, np.sqrt(variance), raw > bound * noise, (bound - 1.0) * noise)


def buzz_powers(
    frames: Frames, lines: Lines, density: FloatArray, floor: Floor, kept: BoolArray
) -> LinePower:
    """Return the buzz lines' powers: what stands in each line's bins over the floor between lines.

    Summing bins instead of fitting keeps the power of lines that mains jitter has broadened.

    Parameters
    ----------
    density
        (M, F) power spectral density of each frame with the lines in it.
    kept
        (F,) False where a foreign tone stands. A few lines beside such tones are given no power,
        or a whistle that wanders across them would count as buzz.
    """
    low, high = (edge[:, lines.n_hum :] for edge in _zone_edges(lines, frames))
    if low.shape[1] == 0:
        none = np.zeros(0)
        return LinePower(none, none, none.astype(bool), none)
    cumulative = np.concatenate((np.zeros((low.shape[0], 1)), np.cumsum(density, axis=1)), axis=1)
    rows = np.arange(low.shape[0])[:, None]
    total = ((cumulative[rows, high] - cumulative[rows, low]) * frames.bin_hz).mean(axis=0)
    share = floor.density_at(lines.frequency_hz.mean(axis=0)[lines.n_hum :]) * frames.bin_hz
    width = (high - low).mean(axis=0)
    beside = ~(kept[low - 1] & kept[np.minimum(high, kept.size - 1)]).all(axis=0)
    if beside.mean() < FOREIGN_SHARE:
        width = np.where(beside, 0.0, width)
        total = np.where(beside, 0.0, total)
    power = total - share * width
    m = frames.independent
    noise_variance = np.square(share) * width * BIN_CORRELATION / m
    overlap = frames.variance_of_mean("line")
    line_variance = 2.0 * np.maximum(power, 0.0) * share * BIN_CORRELATION * overlap
    uncertainty = np.sqrt(noise_variance + line_variance)
    limit = 4.0 * np.sqrt(noise_variance)
    return LinePower(power, uncertainty, power > np.maximum(limit, 0.0), limit)
