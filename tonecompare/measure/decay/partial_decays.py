"""How long single partials ring: one damped sinusoid, two that beat, or the band's energy."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tonecompare.measure.decay.beating_pairs import pair_decays
from tonecompare.measure.decay.energy_curve import (
    LARGEST_RELATIVE_SD,
    MAIN_RANGE_DB,
    SHORT_RANGE_DB,
    SHORT_RANGE_SHARE,
    decay_curve,
    slope_time,
)
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.units import T60_TIMES_SIGMA

#: How far a second component of amplitude share r, too weak to be seen, moves T60: this times r.
HIDDEN_PULL = 0.6
_TOO_NOISY = "decays too little or too noisily to tell"


def partial_decays(partials: PartialSet, n: int) -> list[Measured]:
    """T60 of partials 1…n: from the fitted damped sinusoids, else from the band's energy."""
    index = np.arange(n)
    known = np.array([not reason for reason in partials.reason[:n]])
    paired = index[known & (partials.n_components[:n] == 2)]
    pairs = dict(zip(paired.tolist(), _pair_decays(partials, paired), strict=True))
    pull = _second_component_pull(partials, pairs)
    return [pairs[i] if i in pairs else _alone(partials, i, pull) for i in range(n)]


def _second_component_pull(
    partials: PartialSet, pairs: Mapping[int, Measured]
) -> tuple[float, float]:
    """By how much the T60 of a partial fitted by one component is off for want of a second.

    Both polarisations belong to the whole string: where partials of the pluck were fitted by two,
    mean and spread of ln(T60 of both / T60 of the single fit) say what the second one does. Where
    none was, the least amplitude share that noise could hide in any partial bounds it.

    Returns
    -------
    tuple
        Expected value and standard uncertainty of the logarithm.
    """
    ratios = [
        pair.value * partials.single_sigma[i] / T60_TIMES_SIGMA
        for i, pair in pairs.items()
        if pair.value is not None and partials.single_sigma[i] > 0.0
    ]
    if ratios:
        pull = np.log(ratios)
        return float(np.mean(pull)), float(
            np.sqrt(np.mean((pull - pull.mean()) ** 2 + pull.mean() ** 2 / pull.size))
        )
    single = np.flatnonzero(partials.measured & (partials.n_components == 1))
    share = min((_hidden_share(partials, int(i)) for i in single), default=1.0)
    return 0.0, HIDDEN_PULL * share


def _pair_decays(partials: PartialSet, index: np.ndarray) -> list[Measured]:
    if not index.size:
        return []
    out = []
    for t60, relative in zip(*pair_decays(partials, index), strict=True):
        if np.isnan(t60):
            out.append(unmeasured("s", "two components, of which one hardly decays"))
        elif not relative <= LARGEST_RELATIVE_SD:
            out.append(unmeasured("s", _TOO_NOISY))
        else:
            t60_sd = float(t60 * relative)
            out.append(Measured(float(t60), "s", t60_sd, method="two damped sinusoids"))
    return out


def _alone(partials: PartialSet, index: int, pull: tuple[float, float]) -> Measured:
    """T60 of a partial that is one damped sinusoid, or that no model fits."""
    if partials.reason[index]:
        return unmeasured("s", partials.reason[index])
    if not partials.n_components[index]:
        return _band_decay(partials, index)
    rate = -float(partials.components_rate[index, 0].real)
    relative = float(partials.rate_sd[index]) / rate if rate > 0.0 else np.inf
    if relative > LARGEST_RELATIVE_SD:
        return unmeasured("s", _TOO_NOISY)
    t60 = T60_TIMES_SIGMA / rate * float(np.exp(pull[0]))
    relative = float(np.hypot(relative, pull[1]))
    return Measured(t60, "s", t60 * relative, method="one damped sinusoid")


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
    found, share = slope_time(curve, MAIN_RANGE_DB) if curve else None, 0.05
    if found is None and curve is not None:
        found, share = slope_time(curve, SHORT_RANGE_DB), SHORT_RANGE_SHARE
    if found is None:
        return unmeasured("s", "did not fall far enough above the noise")
    return Measured(found[0], "s", float(np.hypot(found[1], share * found[0])),
                    method="band energy, backward integration, quiet subtracted")  # fmt: skip
