"""How far hum, buzz and hiss wander while they are listened to, from the stretch's own blocks.

A steady line in noise has a known variance. Mains that comes and goes, a dimmer, a hand that moves
add to it, and neighbouring blocks then resemble each other, so that the scatter of blocks over the
root of their number says too little. The series of block powers is therefore laid out in slow
cosines (the first eight half-waves over the stretch): the mean square of their coefficients is the
variance of the mean whatever the autocorrelation (equal-weighted cosines; Lazarus, Lewis, Stock &
Watson, J. Business & Economic Statistics 36 (2018) 541-559, from memory). Where the slowest of
them stand out, the level was on its way somewhere when the stretch ended, and the variance is
widened by how far such a drift goes on: see :data:`GOES_ON`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.stats import chi2

from tonecompare.arrays import FloatArray
from tonecompare.measure.measured import Measured
from tonecompare.measure.quiet.a_weighting import a_weighting_gain
from tonecompare.measure.quiet.quiet_frames import MEAN_W2, fast_length, periodic_hann

#: Blocks are a fifteenth of the stretch long, but within these: lines 50 Hz apart stay apart.
SHORTEST_BLOCK_S, LONGEST_BLOCK_S = 0.08, 0.2
#: Fewer blocks show no wander; the steady line's variance then stands alone.
FEWEST_BLOCKS = 10
#: Hiss is looked at this many bins above the highest line of hum.
HUM_REACH_BINS = 10
#: Cosines in all, and how many of them are slow.
COSINES, SLOW = 8, 3
#: Chance that a steady level shows wander.
FALSE_ALARM = 0.01
#: Slow coefficients beyond this many times the others are a drift under way …
STEEP = 1.5
#: … and add this many times themselves to the variance of the mean: chosen on first-order wander
#: of 0.1 to 1 s seen for 2 and 4 s; tests/calibration/quiet_wander.py proves it on other kinds.
GOES_ON = 6.0
#: What a mains that drifts by 0.01 Hz does to the fit of a line, dB.
LEAST_DB = 0.002
_DB = 10.0 / np.log(10.0)


@dataclass(frozen=True)
class Steady:
    """What a steady quiet carries, to tell wander from the noise's own scatter.

    ``line_hz`` and ``line_power`` (K,), the first ``n_hum`` of them hum, the rest buzz;
    ``density`` (F,) of the floor at ``frequency_hz`` (F,) in (sample value)²/Hz.
    """

    line_hz: FloatArray
    line_power: FloatArray
    n_hum: int
    frequency_hz: FloatArray
    density: FloatArray


def with_wander(
    found: Mapping[str, Measured],
    samples: FloatArray,
    *,
    rate_hz: float,
    runs: list[tuple[int, int]],
    steady: Steady,
    band_hz: tuple[float, float],
) -> dict[str, Measured]:
    """Return the quantities of a quiet with what they wandered added to their uncertainty.

    Parameters
    ----------
    found
        By column; what is unmeasured stays as it is.
    samples
        (n,) one channel without its mean.
    rate_hz
        Sampling rate.
    runs
        Sample ranges free of bursts.
    steady
        What was measured of the lines and the floor.
    band_hz
        Band of hiss and of the weighted noise.

    Returns
    -------
    dict
        Standard uncertainties in dB, ``sqrt(u² + (10/ln 10)² v + LEAST_DB²)`` with v the relative
        variance that wander adds to the mean.
    """
    length_s = sum(end - start for start, end in runs) / rate_hz
    block_s = float(np.clip(length_s / 15.0, SHORTEST_BLOCK_S, LONGEST_BLOCK_S))
    n = fast_length(round(block_s * rate_hz))
    starts = [at for start, end in runs for at in range(start, end - n + 1, n // 2)]
    if len(starts) < FEWEST_BLOCKS:
        return dict(found)
    spectra = scipy.fft.rfft(
        np.stack([samples[at : at + n] for at in starts]) * periodic_hann(n), axis=1
    )
    power = (spectra.real**2 + spectra.imag**2) * (2.0 / (n**2 * MEAN_W2))
    bin_hz = rate_hz / n
    floor = np.interp(np.arange(power.shape[1]) * bin_hz, steady.frequency_hz, steady.density)
    columns, weights = _weights(power.shape[1], bin_hz, steady, band_hz)
    series = power @ weights.T
    line_bin = np.minimum(np.rint(steady.line_hz / bin_hz).astype(int), power.shape[1] - 1)
    beat = 2.0 * np.square(weights[:, line_bin]) @ (steady.line_power * floor[line_bin])
    own = (beat + np.square(weights) @ np.square(floor) * bin_hz) / length_s
    level = series.mean(axis=0) - weights @ floor * bin_hz * _on_floor(columns)
    added = added_variance(series.T, own)
    out = dict(found)
    for column, mean, variance in zip(columns, level, added, strict=True):
        measured = found[column]
        if measured.value is None or measured.uncertainty is None or mean <= 0.0:
            continue
        least = 0.0 if column == "hiss_dbfs" else LEAST_DB
        total = float(np.hypot(measured.uncertainty, _DB * np.sqrt(variance) / mean))
        total = float(np.hypot(total, least))
        out[column] = replace(measured, uncertainty=total)
    return out


def added_variance(series: FloatArray, own: FloatArray) -> FloatArray:
    """Return what wander adds to the variance of each series' mean.

    With ``c_j = sqrt(2) mean(x_m cos(pi j (m + 1/2) / M))``: ``mean c_j²`` over j = 1 … 8 less the
    steady variance, and :data:`GOES_ON` times what c_1 … c_3 exceed :data:`STEEP` times the faster
    ones; each only where its sum of squares is larger than a steady level shows in one of a hundred
    stretches.

    Parameters
    ----------
    series
        (Q, M) powers of M successive blocks.
    own
        (Q,) variance of the mean of each if it were steady.
    """
    m = series.shape[1]
    phase = np.pi * np.outer((np.arange(m) + 0.5) / m, np.arange(1, COSINES + 1))
    squares = 2.0 * np.square(series @ np.cos(phase) / m)
    every, slow = squares.mean(axis=1), squares[:, :SLOW].mean(axis=1)
    fast = squares[:, SLOW:].mean(axis=1)
    wandering = every > own * _steady_limit(COSINES)
    drifting = slow > own * _steady_limit(SLOW)
    added = np.where(wandering, every - own, 0.0)
    goes_on = GOES_ON * np.maximum(slow - STEEP * fast, 0.0)
    return np.asarray(added + np.where(drifting, goes_on, 0.0), dtype=np.float64)


@lru_cache(maxsize=2)
def _steady_limit(count: int) -> float:
    """Mean of squared coefficients that a steady level exceeds once in a hundred stretches."""
    return float(chi2.isf(FALSE_ALARM, count)) / count


def _on_floor(columns: list[str]) -> FloatArray:
    """1 for what stands on the floor, 0 for what the floor is part of."""
    return np.array([0.0 if column in ("hiss_dbfs", "noise_a_dbfs") else 1.0 for column in columns])


def _weights(
    n_bins: int, bin_hz: float, steady: Steady, band_hz: tuple[float, float]
) -> tuple[list[str], FloatArray]:
    """Return the columns and, for each, what every bin of a block counts (Q, F)."""
    hz = np.arange(n_bins) * bin_hz
    band = (hz >= band_hz[0]) & (hz <= band_hz[1])
    centre = np.rint(steady.line_hz / bin_hz).astype(int)

    def at(some: NDArray[np.intp]) -> FloatArray:
        """1 in the bins of some lines, and beside them."""
        near = some[:, np.newaxis] + np.arange(-1, 2)
        marked = np.zeros(n_bins)
        marked[near[(near >= 0) & (near < n_bins)]] = 1.0
        return marked

    hum, buzz = at(centre[: steady.n_hum]), at(centre[steady.n_hum :])
    weighted = np.zeros(n_bins)
    weighted[band] = np.square(a_weighting_gain(hz[band]))
    columns = [f"hum_{k:02d}_dbfs" for k in range(1, min(steady.n_hum, 10) + 1)]
    rows = [at(centre[k : k + 1]) for k in range(min(steady.n_hum, 10))]
    if steady.line_hz.size:
        columns += ["hum_dbfs", "buzz_dbfs"]
        rows += [hum, buzz]
    # Lines reach into the bins beside them; hiss is looked at above the strong ones only.
    taken = maximum_filter1d(np.maximum(hum, buzz), 3)
    taken[: np.flatnonzero(hum).max(initial=0) + HUM_REACH_BINS] = 1.0
    columns += ["hiss_dbfs", "noise_a_dbfs"]
    rows += [band * (1.0 - taken), weighted]
    return columns, np.stack(rows)
