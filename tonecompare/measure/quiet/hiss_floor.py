"""The floor between the lines: hiss as a smooth density, and the tones that stand out of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.special import gammainccinv, gammaincinv

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import TONE, Flag
from tonecompare.measure.quiet.quiet_frames import BIN_CORRELATION, Frames

BoolArray = NDArray[np.bool_]

#: Bands of the floor: about a sixth of an octave, never under so many bins nor over so many Hz.
BAND_SHARE = 0.122
BAND_MIN_BINS = 12
BAND_MAX_HZ = 300.0
#: A band needs this many bins free of lines and tones to give a density.
BAND_MIN_USABLE = 3
#: First look: this quantile of the bins of a band, so that lines in half of them do no harm.
FIRST_QUANTILE = 0.3
#: Relative standard deviation of that quantile of n exponential values, times sqrt(n):
#: sqrt(p/(1-p))/(-ln(1-p)), and as much again for the correlation of neighbouring Hann bins.
FIRST_QUANTILE_SE = 2.5
#: Chance that noise alone shows one tone anywhere in the spectrum.
TONE_FALSE_ALARM = 1e-3
#: A tone must also stand this far above the floor in its bin (power ratio, 10 dB).
TONE_MIN_RATIO = 10.0
#: What a line leaves beside itself however well it is taken out (power ratio), and how far off.
SKIRT = 3e-6
SKIRT_BINS = 100
#: At most this many tones are named, and none above the audible band.
MAX_TONES_NAMED = 6
TONE_TOP_HZ = 20000.0
#: Bins either side of a tone that are left out of the floor.
TONE_HALF_WIDTH = 4


@dataclass(frozen=True)
class Floor:
    """Density of the floor: the means of bands and the smooth line through them."""

    #: Bin ranges [first, last) of the bands, (B + 1,).
    edges: NDArray[np.intp]
    bin_hz: float
    #: (B,) density in (sample value)²/Hz, lines and tones left out.
    band_density: FloatArray
    #: (B,) relative standard uncertainty of each; inf where it was filled from its neighbours.
    band_relative_se: FloatArray

    @property
    def centre_hz(self) -> FloatArray:
        """Middle of each band."""
        return np.asarray(
            0.5 * (self.edges[:-1] + self.edges[1:] - 1) * self.bin_hz, dtype=np.float64
        )

    def density_at(self, frequency_hz: FloatArray) -> FloatArray:
        """Density at any frequency, linear over log frequency between the bands."""
        lowest = 0.5 * self.bin_hz
        where = np.log(np.maximum(frequency_hz, lowest))
        centre = np.log(np.maximum(self.centre_hz, lowest))
        return np.asarray(np.interp(where, centre, self.band_density), dtype=np.float64)

    def relative_se_at(self, frequency_hz: FloatArray) -> FloatArray:
        """Relative standard uncertainty of the band that holds each frequency."""
        band = np.searchsorted(self.edges, frequency_hz / self.bin_hz, side="right") - 1
        return self.band_relative_se[np.clip(band, 0, self.band_relative_se.size - 1)]

    def power(self, low_hz: float, high_hz: float) -> tuple[float, float]:
        """Mean square in a band and its standard uncertainty."""
        low = np.maximum((self.edges[:-1] - 0.5) * self.bin_hz, low_hz)
        high = np.minimum((self.edges[1:] - 0.5) * self.bin_hz, high_hz)
        share = np.maximum(high - low, 0.0) * self.band_density
        relative = np.where(np.isfinite(self.band_relative_se), self.band_relative_se, 0.5)
        return float(share.sum()), float(np.sqrt(np.square(share * relative).sum()))


def band_edges(frames: Frames) -> NDArray[np.intp]:
    """Return bin edges of the floor's bands, from bin 1 to half the rate."""
    return _band_edges(frames.spectra.shape[1], frames.bin_hz)


@lru_cache(maxsize=8)
def _band_edges(n_bins: int, bin_hz: float) -> NDArray[np.intp]:
    edges = [1]
    while edges[-1] < n_bins:
        width_hz = min(BAND_SHARE * edges[-1] * bin_hz, BAND_MAX_HZ)
        step = max(BAND_MIN_BINS, int(width_hz / bin_hz))
        nxt = edges[-1] + step
        edges.append(nxt if nxt + step <= n_bins else n_bins)
    found = np.asarray(edges, dtype=np.intp)
    found.flags.writeable = False
    return found


def first_floor(density: FloatArray, frames: Frames) -> Floor:
    """Return a floor from a low quantile of each band, before any line is known.

    Parameters
    ----------
    density
        (F,) power spectral density averaged over the frames. Each bin is gamma distributed with
        as many degrees as there are frames, so that the quantile gives the mean.
    frames
        The frames it came from.
    """
    edges = band_edges(frames)
    shape = frames.independent
    correction = shape / float(gammaincinv(shape, FIRST_QUANTILE))
    values = np.empty(edges.size - 1)
    widths = np.diff(edges)
    # Bands of one width that stand side by side are looked at together.
    turns = np.concatenate([[0], np.flatnonzero(np.diff(widths)) + 1, [widths.size]])
    for first, last in pairwise(turns.tolist()):
        width = int(widths[first])
        rank = int(FIRST_QUANTILE * width)
        rows = density[edges[first] : edges[last]].reshape(-1, width)
        values[first:last] = np.partition(rows, rank, axis=1)[:, rank]
    tiny = np.finfo(np.float64).tiny
    relative_se = FIRST_QUANTILE_SE / np.sqrt(widths * shape)
    return Floor(edges, frames.bin_hz, np.maximum(values * correction, tiny), relative_se)


def mean_floor(density: FloatArray, weight: FloatArray, frames: Frames) -> Floor:
    """Return the floor as the mean over each band's usable bins.

    Parameters
    ----------
    density
        (F,) power spectral density with the mains lines taken out, mean over the usable frames.
    weight
        (F,) share of the frames in which the bin is usable: 0 where a line or a tone stands.
    """
    edges = band_edges(frames)
    starts = edges[:-1]
    count = np.add.reduceat(weight[: edges[-1]], starts)
    total = np.add.reduceat((density * weight)[: edges[-1]], starts)
    good = count >= BAND_MIN_USABLE
    if not good.any():
        return first_floor(density, frames)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(good, total / count, 0.0)
        relative = np.where(good, np.sqrt(BIN_CORRELATION / (count * frames.independent)), np.inf)
    index = np.arange(mean.size)
    filled = np.interp(index, index[good], mean[good])
    tiny = np.finfo(np.float64).tiny
    return Floor(edges, frames.bin_hz, np.maximum(filled, tiny), relative)


@dataclass(frozen=True)
class NoiseTone:
    """A tone that belongs to no mains family."""

    frequency_hz: float
    mean_square: float


def find_tones(
    density: FloatArray, usable: BoolArray, floor: Floor, frames: Frames, *, whole: FloatArray
) -> tuple[list[NoiseTone], BoolArray]:
    """Return the tones that stand out of the floor, strongest first, and which bins hold none.

    A bin is part of a tone when its density over the floor exceeds what noise alone reaches in
    one spectrum of a thousand (gamma distribution, all bins together; more where the floor itself
    rests on few bins), and :data:`SKIRT` of the strongest line near by.

    Parameters
    ----------
    density
        (F,) power spectral density with the mains lines taken out.
    usable
        (F,) False where a mains line stands.
    floor
        First floor of ``density``.
    whole
        (F,) the density before any line was taken out.
    """
    n_bins = density.size
    shape = frames.independent
    bound = float(gammainccinv(shape, TONE_FALSE_ALARM / n_bins)) / shape
    smooth = floor.density_at(frames.frequency_hz)
    unsure = 1.0 + 3.0 * floor.relative_se_at(frames.frequency_hz)
    above = usable & (density > np.maximum(bound, TONE_MIN_RATIO) * unsure * smooth)
    above &= density > SKIRT * maximum_filter1d(whole, 2 * SKIRT_BINS + 1, mode="nearest")
    above[: max(int(10.0 / frames.bin_hz), 2)] = False
    if not above.any():
        return [], np.ones(n_bins, dtype=bool)
    kept = np.ones(n_bins, dtype=bool)
    tones = []
    index = np.flatnonzero(above)
    for group in np.split(index, np.flatnonzero(np.diff(index) > TONE_HALF_WIDTH) + 1):
        low = max(int(group[0]) - TONE_HALF_WIDTH, 1)
        high = min(int(group[-1]) + TONE_HALF_WIDTH + 1, n_bins)
        kept[low:high] = False
        excess = np.maximum(density[low:high] - smooth[low:high], 0.0)
        power = float(excess.sum()) * frames.bin_hz
        peak = int(group[np.argmax(density[group])])
        near = slice(max(peak - 2, low), min(peak + 3, high))
        weight = excess[near.start - low : near.stop - low]
        frequency = float((weight * frames.frequency_hz[near]).sum() / weight.sum())
        tones.append(NoiseTone(frequency, power))
    return sorted(tones, key=lambda tone: -tone.mean_square), kept


def name_tones(tones: list[NoiseTone]) -> list[Flag]:
    """Return flags for the strongest audible tones.

    A whistle that wanders shows as several tones; within 1 % of a stronger one it is named once.
    """
    named: list[float] = []
    for tone in tones:
        f = tone.frequency_hz
        if f <= TONE_TOP_HZ and all(abs(f / other - 1.0) > 0.01 for other in named):
            named.append(f)
        if len(named) == MAX_TONES_NAMED:
            break
    return [Flag(TONE, (round(f),)) for f in named]
