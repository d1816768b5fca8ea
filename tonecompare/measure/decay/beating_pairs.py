"""How long two beating components ring together, for all such partials of a pluck at once.

Closed form of their backward-integrated energy, ``int_t^inf |sum_p a_p exp(s_p u)|² du
= - sum_pq a_p a_q* exp(s_pq t) / s_pq``, s_pq = s_p + s_q*.
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.decay.energy_curve import LEAST_RELATIVE_SD, MAIN_RANGE_DB
from tonecompare.measure.partials.exponential_rows import exponentials
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.signal import ComplexArray

#: Points at which the closed form is evaluated, and what its slope is good for at best.
PAIR_POINTS = 400
MODEL_SHARE = 0.005
#: The evaluation reaches until the slower component has fallen by this much.
_DEPTH_DB = 32.0
_DB_PER_NEPER = 20.0 / np.log(10.0)


def pair_decays(partials: PartialSet, index: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """T60 from -5 to -25 dB of pairs of components, and its relative standard uncertainty.

    Parameters
    ----------
    partials
        The pluck's partials.
    index
        Which of them, shape (m,), all with two components.

    Returns
    -------
    tuple of ndarray
        Each (m,); NaN where the energy does not fall that far.
    """
    amplitude, rate = partials.components_amplitude[index], partials.components_rate[index]
    slowest = np.maximum(np.min(-rate.real, axis=1), 1e-3)
    step_s = _DEPTH_DB / _DB_PER_NEPER / slowest / (PAIR_POINTS - 1)
    place = np.arange(float(PAIR_POINTS))
    z = exponentials(rate * step_s[:, None], place, amplitude)
    across = -2.0 / (rate[:, 0] + rate[:, 1].conj())
    left = ((z[:, 0] * across[:, None]) * z[:, 1].conj()).real
    left -= np.einsum("mpt,mp->mt", z.real**2 + z.imag**2, 0.5 / rate.real)
    left = np.maximum(left, left[:, :1] * 1e-12)
    level_db = 10.0 * np.log10(left / left[:, :1])

    first, last = (np.argmax(level_db <= db, axis=1) for db in MAIN_RANGE_DB)
    found = (last - first >= 3) & (rate.real < 0.0).all(axis=1)
    inside = ((place >= first[:, None]) & (place <= last[:, None])).astype(float)
    count = np.maximum(inside.sum(axis=1), 1.0)
    centred = inside * (place - ((inside @ place) / count)[:, None])
    spread = np.maximum(np.sum(centred**2, axis=1), 1e-300)
    slope = np.sum(centred * level_db, axis=1) / spread / step_s
    found &= slope < 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        t60 = np.where(found, -60.0 / slope, np.nan)
        relative = _relative_sd(partials, index, z, step_s, left, (first, last))
    relative = np.hypot(np.hypot(relative, MODEL_SHARE), LEAST_RELATIVE_SD)
    return t60, np.where(found, relative, np.nan)


def _relative_sd(
    partials: PartialSet,
    index: np.ndarray,
    z: ComplexArray,
    step_s: FloatArray,
    left: FloatArray,
    ends: tuple[np.ndarray, np.ndarray],
) -> FloatArray:
    """Relative uncertainty of the T60: the model's, carried to the energies at -5 and -25 dB.

    The covariance of (ln a_1, ln a_2, s_1, s_2) in noise of density D is ``D (int c* c^T dt)^-1``
    over what rang, c = (z_1, z_2, t z_1, t z_2); D is as large as the fit's own uncertainty says.
    """
    bands = partials.bands
    assert bands is not None
    place = np.arange(PAIR_POINTS)
    time_s = step_s[:, None] * place
    columns: ComplexArray = np.concatenate([z, z * time_s[:, None, :]], axis=1)
    turned = columns.conj()
    rang = time_s <= partials.clean.shape[1] / bands.rate_hz
    normal = (turned * rang[:, None, :] if not rang.all() else turned) @ columns.transpose(0, 2, 1)
    normal = normal * step_s[:, None, None]
    diagonal = np.arange(4)
    size = np.sqrt(np.maximum(normal[:, diagonal, diagonal].real, 1e-300))
    scale = size[:, :, None] * size[:, None, :]
    covariance = np.linalg.inv(normal / scale + 1e-11 * np.eye(4)) / scale
    density = partials.rate_sd[index] ** 2 / np.maximum(covariance[:, 2, 2].real / 2.0, 1e-300)
    density = np.maximum(density, partials.noise_power[index] / (bands.sigma_hz * np.sqrt(np.pi)))
    # d ln E(t) / d theta = 2 int_t^inf z* c dt / E(t), from t to the end of the grid.
    row = np.arange(index.size)
    weight = sum(
        (place >= end[:, None]) * (sign * step_s / left[row, end])[:, None]
        for sign, end in zip((-2.0, 2.0), ends, strict=True)
    )
    gradient = (columns @ ((z[:, 0] + z[:, 1]).conj() * weight)[:, :, None])[..., 0]
    variance = np.einsum("mi,mij,mj->m", gradient, covariance, gradient.conj()).real * density / 2.0
    fall = (MAIN_RANGE_DB[0] - MAIN_RANGE_DB[1]) / 10.0 * np.log(10.0)
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)) / fall)
