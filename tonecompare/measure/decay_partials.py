"""How long single partials ring: one damped sinusoid, two that beat, or the band's energy."""

from __future__ import annotations

import numpy as np

from tonecompare.measure.decay_curve import (
    LARGEST_RELATIVE_SD,
    MAIN_RANGE_DB,
    SHORT_RANGE_DB,
    DecayCurve,
    decay_curve,
    slope_time,
)
from tonecompare.measure.model import FloatArray, Measured, unmeasured
from tonecompare.measure.partials import PartialSet
from tonecompare.units import T60_TIMES_SIGMA

#: Points at which a pair's closed form is evaluated, and what its slope is good for at best.
PAIR_POINTS = 400
MODEL_SHARE = 0.005
#: How far a second component of amplitude share r, too weak to be seen, moves T60: this times r.
HIDDEN_PULL = 0.6


def partial_decay(partials: PartialSet, index: int) -> Measured:
    """T60 of one partial: from the fitted damped sinusoids, else from its band's energy."""
    if partials.reason[index]:
        return unmeasured("s", partials.reason[index])
    count = int(partials.n_components[index])
    if count == 1:
        rate = -float(partials.components_rate[index, 0].real)
        relative = float(partials.rate_sd[index]) / rate if rate > 0.0 else np.inf
        if relative > LARGEST_RELATIVE_SD:
            return unmeasured("s", "decays too little or too noisily to tell")
        t60 = T60_TIMES_SIGMA / rate
        relative = float(np.hypot(relative, HIDDEN_PULL * _hidden_share(partials, index)))
        return Measured(t60, "s", t60 * relative, method="one damped sinusoid")
    if count == 2:
        return _pair_decay(partials, index)
    return _band_decay(partials, index)


def _pair_decay(partials: PartialSet, index: int) -> Measured:
    """T60 of two beating components, from the closed form of their backward-integrated energy.

    ``int_t^inf |sum_p a_p exp(s_p u)|² du = - sum_pq a_p a_q* exp(s_pq t) / s_pq``,
    s_pq = s_p + s_q*.
    """
    amplitude, rate = partials.components_amplitude[index], partials.components_rate[index]
    slowest = float(np.min(-rate.real))
    time_s = np.linspace(0.0, 32.0 / 8.68 / slowest, PAIR_POINTS)
    sums = rate[:, None] + rate.conj()[None, :]
    products = amplitude[:, None] * amplitude.conj()[None, :] / -sums
    left = (products.ravel() @ np.exp(sums.reshape(-1, 1) * time_s)).real
    left = np.maximum(left, left[0] * 1e-12)
    level_db = 10.0 * np.log10(left / left[0])
    blank = np.zeros_like(level_db)
    found = slope_time(DecayCurve(time_s, level_db, blank, blank), MAIN_RANGE_DB)
    if found is None:
        return unmeasured("s", "two components, of which one hardly decays")
    relative = float(np.hypot(MODEL_SHARE, _pair_relative_sd(partials, index, time_s, left)))
    if relative > LARGEST_RELATIVE_SD:
        return unmeasured("s", "decays too little or too noisily to tell")
    return Measured(found[0], "s", found[0] * relative, method="two damped sinusoids")


def _pair_relative_sd(
    partials: PartialSet, index: int, time_s: FloatArray, left: FloatArray
) -> float:
    """Relative uncertainty of a pair's T60: its model's, carried to the energies at -5 and -25 dB.

    The covariance of (ln a_1, ln a_2, s_1, s_2) in noise of density D is ``D (int c* c^T dt)^-1``
    over what rang, c = (z_1, z_2, t z_1, t z_2); D is as large as the fit's own uncertainty says.
    """
    bands = partials.bands
    assert bands is not None
    amplitude, rate = partials.components_amplitude[index], partials.components_rate[index]
    z = amplitude[:, None] * np.exp(rate[:, None] * time_s)
    columns = np.concatenate([z, z * time_s])
    step_s = float(time_s[1])
    rang = time_s <= partials.clean.shape[1] / bands.rate_hz
    normal = columns[:, rang].conj() @ columns[:, rang].T * step_s
    size = np.sqrt(np.maximum(np.diagonal(normal).real, 1e-300))
    covariance = np.linalg.inv(normal / np.outer(size, size) + 1e-11 * np.eye(4))
    covariance = covariance / np.outer(size, size)
    density = partials.rate_sd[index] ** 2 / max(covariance[2, 2].real / 2.0, 1e-300)
    density = max(density, partials.noise_power[index] / (bands.sigma_hz * np.sqrt(np.pi)))
    # d ln E(t) / d theta = 2 int_t^inf z* c dt / E(t), backward from the end of the grid.
    pull = np.cumsum((z.sum(axis=0).conj() * columns)[:, ::-1], axis=1)[:, ::-1] * step_s
    first, last = (int(np.argmax(left <= left[0] * 10.0 ** (db / 10.0))) for db in MAIN_RANGE_DB)
    gradient = 2.0 * (pull[:, last] / left[last] - pull[:, first] / left[first])
    variance = float((gradient @ covariance @ gradient.conj()).real) * density / 2.0
    fall = (MAIN_RANGE_DB[0] - MAIN_RANGE_DB[1]) / 10.0 * np.log(10.0)
    return float(np.sqrt(max(variance, 0.0))) / float(fall)


def _hidden_share(partials: PartialSet, index: int) -> float:
    """Amplitude share of a second component that the noise near the line could hide.

    A fit of one is kept while what is left within ±4 Hz is at most twice the noise's.
    """
    bands = partials.bands
    assert bands is not None
    density = partials.noise_power[index] / (bands.sigma_hz * np.sqrt(np.pi))
    span_s = partials.clean.shape[1] / bands.rate_hz
    energy = float(np.abs(partials.components_amplitude[index, 0])) ** 2 / (
        2.0 * float(-partials.components_rate[index, 0].real)
    )
    return float(np.sqrt(8.0 * span_s * density / max(energy, 1e-300)).item())


def _band_decay(partials: PartialSet, index: int) -> Measured:
    """T60 of a band that no model fits, from its energy."""
    bands = partials.bands
    assert bands is not None
    z = partials.clean[index]
    thin = max(1, round(0.02 * bands.rate_hz))
    usable = z.size // thin * thin
    energy = (np.abs(z[:usable]) ** 2).reshape(-1, thin).mean(axis=1)
    noise = float(partials.noise_power[index])
    independent = max(1.0, thin / bands.rate_hz * bands.sigma_hz * 2.0 * np.sqrt(np.pi))
    curve = decay_curve(
        energy, step_s=thin / bands.rate_hz, noise=noise, noise_sd=noise / np.sqrt(independent)
    )
    found = slope_time(curve, MAIN_RANGE_DB) if curve else None
    if found is None and curve is not None:
        found = slope_time(curve, SHORT_RANGE_DB)
    if found is None:
        return unmeasured("s", "did not fall far enough above the noise")
    return Measured(found[0], "s", float(np.hypot(found[1], 0.05 * found[0])),
                    method="band energy, backward integration, quiet subtracted")  # fmt: skip
