"""Harmonic balance: partial levels, odd over even, tristimulus, tilt, inharmonicity."""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import (
    BELOW_NOISE,
    LEAST_CERTAIN_LOG_AMPLITUDE,
    PartialSet,
)
from tonecompare.measure.signal import LEVEL_WINDOW_S
from tonecompare.quantities.registry import N_PARTIALS

_DB = 10.0 / np.log(10.0)
#: A partial this far below the strongest (35 dB) counts half in the tilt, weaker ones less: what
#: stands in a node of pick or pickup, or near the noise, must not turn the slope.
TILT_FLOOR = 10.0**-3.5
#: Inharmonicities a string can have: thin plain steel to a thick wound one stopped at the 15th fret
#: (pi³ E d⁴ / (64 T L²), Fletcher 1964: 1e-6 to 1e-3 open, fourfold an octave up).
STRETCHES = (1e-6, 6e-3)
#: Less certain than this, as a share of itself, inharmonicity is not a measurement.
LEAST_CERTAIN_STRETCH = 1.0 / 3.0


def measure_harmonics(partials: PartialSet) -> dict[str, Measured]:
    """Harmonic balance of a pluck over 0.05–0.55 s.

    ``h_n = 10 lg(P_n / sum P)`` over the measured partials 1…24; ``odd_even_db`` = 10 lg of odd
    over even power; tristimulus in the amplitude form of Pollard & Jansson 1982
    (a1, a2 + a3 + a4, a5 + … over the sum of amplitudes); ``tilt_db_per_octave`` the weighted
    slope of partial level over log2 n with the weights ``P_n / (P_n + 10^-3.5 max P) / n``: each
    octave of partials weighs alike, and what stands in a node or near the noise hardly.

    Returns
    -------
    dict
        ``h01_db`` … ``h24_db``, ``odd_even_db``, ``tristimulus_1`` … ``_3``,
        ``tilt_db_per_octave``, ``inharmonicity``.
    """
    result: dict[str, Measured] = {}
    order = np.arange(1, N_PARTIALS + 1)
    known = partials.measured
    power = np.where(known, partials.power, 0.0)
    relative = np.where(known, partials.power_sd, 0.0)
    total = max(float(power.sum()), np.finfo(float).tiny)
    share = power / total
    level_db = _DB * np.log(np.maximum(share, np.finfo(float).tiny))
    # The sum's uncertainty that comes from the other partials.
    parts = (share * relative) ** 2
    rest = np.maximum(parts.sum() - parts, 0.0)
    sd_db = _DB * np.sqrt((relative * (1.0 - share)) ** 2 + rest)
    for index in range(N_PARTIALS):
        name = f"h{index + 1:02d}_db"
        if known[index]:
            result[name] = _measured(level_db[index], "dB", float(sd_db[index]))
        else:
            result[name] = unmeasured("dB", partials.reason[index])
    result |= _odd_even(order, power, relative, known)
    hidden = _hidden_amplitude(partials)
    result |= _tristimulus(order, power, relative, known, hidden)
    result["tilt_db_per_octave"] = _tilt(order, power, relative, known, hidden)
    result["inharmonicity"] = _inharmonicity(partials.inharmonicity, partials.inharmonicity_sd)
    return result


def _inharmonicity(stretch: float, sd: float) -> Measured:
    """Stretch of the row where the partials agree on one that a string can have.

    Harmonics that a pickup makes of the lowest partials lie at whole multiples, as if B were 0.
    """
    if not (np.isfinite(stretch) and np.isfinite(sd)):
        return unmeasured("1", "too few partials stand above the noise")
    if not STRETCHES[0] <= stretch <= STRETCHES[1]:
        return unmeasured("1", "the partials lie as no string alone has them")
    if sd > LEAST_CERTAIN_STRETCH * stretch:
        return unmeasured("1", "low and high partials do not agree on one stretch")
    return Measured(stretch, "1", sd, method="row of partials")


def _measured(value: float, unit: str, sd: float) -> Measured:
    return Measured(float(value), unit, sd, window_s=LEVEL_WINDOW_S, method="partials")


def _odd_even(
    order: np.ndarray, power: FloatArray, relative: FloatArray, known: np.ndarray
) -> dict[str, Measured]:
    odd, even = known & (order % 2 == 1), known & (order % 2 == 0)
    if not odd.any() or not even.any():
        return {"odd_even_db": unmeasured("dB", "odd or even partials are missing")}
    p_odd, p_even = float(power[odd].sum()), float(power[even].sum())
    sd = np.hypot(
        np.sqrt(np.sum((power * relative)[odd] ** 2)) / p_odd,
        np.sqrt(np.sum((power * relative)[even] ** 2)) / p_even,
    )
    return {"odd_even_db": _measured(_DB * np.log(p_odd / p_even), "dB", _DB * float(sd))}


def _hidden_amplitude(partials: PartialSet) -> FloatArray:
    """Half of the amplitude that an unmeasured partial can have, 0 for others, shape (24,).

    A partial is measured when the standard uncertainty of its log amplitude is below 3 dB. Over a
    time T, noise of density S gives an amplitude the variance 2 S / T.
    """
    if partials.bands is None:
        return np.zeros(N_PARTIALS)
    density = partials.noise_power / (partials.bands.sigma_hz * np.sqrt(np.pi))
    length_s = LEVEL_WINDOW_S[1] - LEVEL_WINDOW_S[0]
    largest = np.sqrt(density / length_s) / LEAST_CERTAIN_LOG_AMPLITUDE
    hidden = np.array([reason == BELOW_NOISE for reason in partials.reason])
    return np.asarray(np.where(hidden, 0.5 * largest / np.sqrt(2.0), 0.0))


def _tristimulus(
    order: np.ndarray,
    power: FloatArray,
    relative: FloatArray,
    known: np.ndarray,
    hidden: FloatArray,
) -> dict[str, Measured]:
    amplitude = np.sqrt(power)
    amplitude_sd = amplitude * relative / 2.0
    total = float(amplitude.sum())
    groups = (order == 1, (order >= 2) & (order <= 4), order >= 5)
    result = {}
    for number, group in enumerate(groups, start=1):
        name = f"tristimulus_{number}"
        if not known[group].any() or not known[:4].any():
            result[name] = unmeasured("1", "these partials do not stand above the noise")
            continue
        share = float(amplitude[group].sum()) / total
        # Hidden partials only add: their amplitudes sum, errors of measured ones do not.
        inside, outside = (
            float(np.hypot(np.sqrt(np.sum(amplitude_sd[some] ** 2)), np.sum(hidden[some]))) / total
            for some in (group, ~group)
        )
        result[name] = _measured(share, "1", float(np.hypot(inside * (1 - share), outside * share)))
    return result


def _tilt(
    order: np.ndarray,
    power: FloatArray,
    relative: FloatArray,
    known: np.ndarray,
    hidden: FloatArray,
) -> Measured:
    """Slope of the level over octaves; what a hidden partial would turn it by is uncertainty."""
    if np.count_nonzero(known) < 4:
        return unmeasured("dB/octave", "fewer than four partials stand above the noise")
    floor = TILT_FLOOR * float(power.max())
    octave = np.log2(order)
    level_db = _DB * np.log(np.maximum(power, np.finfo(float).tiny))
    weight = np.where(known, power / (power + floor), 0.0) / order
    share = weight / weight.sum()
    centred = octave - float(share @ octave)
    spread = float(weight @ centred**2)
    pull = weight * centred / spread
    slope = float(pull @ level_db)
    sd = np.sqrt(np.sum((pull * _DB * relative) ** 2))
    square = np.maximum(hidden**2, np.finfo(float).tiny)
    off_line_db = _DB * np.log(square) - float(share @ level_db) - slope * centred
    turned = square / (square + floor) / order * centred * off_line_db
    turned = np.where(hidden > 0.0, turned, 0.0) / spread
    sd = np.hypot(sd, np.sqrt(np.sum(turned**2)))
    return _measured(slope, "dB/octave", float(sd))
