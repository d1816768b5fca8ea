"""The coil's resonance as far as plucks can show it: a bump in what all partials share.

What is left of the partials once both combs, 1/n and a gain and slope per pluck are taken out is
compared with a loaded coil's second-order low-pass (resonance f_r, quality Q):

    20 lg | 1 / (1 - (f/f_r)² + i f / (Q f_r)) |

A slope over log frequency is free in every pluck, since pick and string have one too; so only the
bend and the bump speak. A pickup whose resonance lies above the partials that sound, or whose bump
is no larger than their scatter, is "not determinable".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.measure.model import FloatArray, Measured, unmeasured

RESONANCE_GRID_HZ: FloatArray = np.geomspace(1000.0, 9000.0, 67)
Q_GRID: FloatArray = np.geomspace(0.5, 5.0, 20)
#: The bump must lower the scaled cost at least by this against no resonance at all.
LEAST_EVIDENCE = 16.0
#: A resonance less certain than this (share of itself) is not a measurement.
LEAST_CERTAIN = 0.2
LEAST_POINTS = 40
_SCATTER_DB = 2.0
#: What pick, coil width and a second coil add to the bend, as a share of the frequency and of Q.
_MODEL_SHARE = 0.12
_MODEL_SHARE_Q = 0.25


@dataclass(frozen=True)
class Resonance:
    """Resonance frequency (Hz) and quality of a voice's response, measured or with the reason."""

    frequency_hz: Measured
    q: Measured


def low_pass_db(frequency_hz: FloatArray, resonance_hz: float, q: float) -> FloatArray:
    """Level of a second-order low-pass at some frequencies, dB re its level at 0 Hz."""
    ratio = frequency_hz / resonance_hz
    return np.asarray(-10.0 * np.log10((1.0 - ratio**2) ** 2 + (ratio / q) ** 2))


def find_resonance(frequency_hz: FloatArray, level_db: FloatArray) -> Resonance:
    """Fit a coil resonance to the partials of many plucks.

    Parameters
    ----------
    frequency_hz, level_db
        Partials with the combs taken out, shape (n_plucks, 24); NaN where not usable.

    Returns
    -------
    Resonance
    """
    known = np.isfinite(level_db) & np.isfinite(frequency_hz)
    if np.count_nonzero(known) < LEAST_POINTS:
        return _none("too few partials of too few notes")
    weight = np.where(known, 1.0 / _SCATTER_DB**2, 0.0)
    f = np.where(known, frequency_hz, 1000.0)
    y = _free_of_slopes(np.where(known, level_db, 0.0)[None], weight, f)[0]
    top_hz = float(np.quantile(f[known], 0.98))
    shapes = np.stack([low_pass_db(f, r, q) for r in RESONANCE_GRID_HZ for q in Q_GRID])
    shapes = _free_of_slopes(shapes, weight, f)
    costs = np.sum((y[None] - shapes) ** 2, axis=(1, 2)).reshape(RESONANCE_GRID_HZ.size, -1)
    best = np.unravel_index(int(np.argmin(costs)), costs.shape)
    spread = max(0.3, 1.4826 * float(np.median(np.abs((y - _at(shapes, best))[known]))))
    scaled = (costs - costs[best]) / spread**2
    nothing = (float(np.sum(y**2)) - float(costs[best])) / spread**2
    if nothing < LEAST_EVIDENCE:
        return _none("no bump stands out of the partials' scatter")
    # Marginal likelihood over the grid gives mean and spread of both at once.
    like = np.exp(-0.5 * np.minimum(scaled, 200.0))
    log_r, log_q = np.log(RESONANCE_GRID_HZ), np.log(Q_GRID)
    mean_r, sd_r = _moments(log_r, like.sum(axis=1))
    mean_q, sd_q = _moments(log_q, like.sum(axis=0))
    resonance_hz = float(np.exp(mean_r))
    sd_r = float(np.hypot(sd_r, _MODEL_SHARE))
    if resonance_hz > top_hz or sd_r > LEAST_CERTAIN or best[0] in (0, costs.shape[0] - 1):
        return _none(f"it lies outside what the partials show (up to {top_hz / 1000.0:.1f} kHz)")
    frequency = Measured(resonance_hz, "Hz", resonance_hz * sd_r, method="partials of many notes")
    sd_q = float(np.hypot(sd_q, _MODEL_SHARE_Q))
    if sd_q > 0.5 or best[1] in (0, costs.shape[1] - 1):
        return Resonance(frequency, unmeasured("1", "the height of the bump is not determinable"))
    q = float(np.exp(mean_q))
    return Resonance(frequency, Measured(q, "1", q * sd_q, method="partials of many notes"))


def _none(reason: str) -> Resonance:
    text = f"not determinable: {reason}"
    return Resonance(unmeasured("Hz", text), unmeasured("1", text))


def _at(shapes: FloatArray, best: tuple[np.intp, ...]) -> FloatArray:
    return np.asarray(shapes[int(best[0]) * Q_GRID.size + int(best[1])])


def _free_of_slopes(rows: FloatArray, weight: FloatArray, frequency_hz: FloatArray) -> FloatArray:
    """Scale rows (K, n_plucks, 24) by root weight; take gain and slope out of every pluck."""
    root = np.sqrt(weight)
    octave = np.log2(frequency_hz / 1000.0)
    out = rows * root
    for i in range(weight.shape[0]):
        columns = np.stack([np.ones(octave.shape[1]), octave[i]], axis=1)
        q, _ = np.linalg.qr(columns * root[i][:, None])
        out[:, i, :] -= (out[:, i, :] @ q) @ q.T
    return out


def _moments(grid: FloatArray, like: FloatArray) -> tuple[float, float]:
    weight = like / like.sum()
    mean = float(np.sum(weight * grid))
    return mean, float(np.sqrt(np.sum(weight * (grid - mean) ** 2)))
