"""What all plucks of a voice have in common: pickup, coil and circuit as a few numbers.

Each is known beforehand only within what instruments have (priors below); a factor can be left
out, held or fitted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.place.combs import (
    aperture_parts,
    comb_parts,
    low_pass_parts,
    two_coil_parts,
)
from tonecompare.measure.place.plucks_as_arrays import RESPONSE_HZ, BoolArray, Data

#: Indices of the five numbers: pickup d, log resonance, log Q, width², spacing.
PICKUP, RESONANCE, Q, WIDTH2, SPACING = range(5)
#: Pick and coil width together, squared share of the scale: 12 mm of 648, from none to 30.
_WIDTH2, _WIDTH2_SD = 3.4e-4, 1e-3
#: Loaded resonances lie from 2 to 8 kHz, their Q from 0.7 to 4 (RLC of common coils and cables).
_LOG_RESONANCE, _LOG_RESONANCE_SD = np.log(4000.0), 0.7
_LOG_Q, _LOG_Q_SD = np.log(1.6), 0.6
#: Coil spacings, share of the scale: 18 mm of 648, from 6 to 45.
_SPACING, _SPACING_SD = 0.028, 0.012
#: Bounds of the five.
_LOWEST: FloatArray = np.array([0.02, np.log(700.0), np.log(0.3), 1e-6, 0.01])
_HIGHEST: FloatArray = np.array([0.45, np.log(6e4), np.log(8.0), 3.5e-3, 0.07])
#: Common slope (dB/octave), release bend (dB/kHz²; 0.15 ms bend by -0.13, 0.3 ms by -0.5) and its
#: next order (dB/kHz⁴).
_LINEAR_SD = (6.0, 0.4, 0.004)
#: Linear common numbers: those three and the hats.
N_LINEAR = 3 + RESPONSE_HZ.size


@dataclass(frozen=True)
class Shape:
    """The common parameters that enter as they are; None leaves a factor out.

    ``pickup`` and ``spacing`` are shares of the scale length, ``width2`` the square of one.
    ``pickup_mean`` and ``pickup_sd`` are what is known of the pickup's place beforehand.
    """

    pickup: float | None
    log_resonance: float | None = float(_LOG_RESONANCE)
    log_q: float = float(_LOG_Q)
    width2: float = _WIDTH2
    spacing: float | None = None
    pickup_mean: float = 0.2
    pickup_sd: float = 10.0

    def values(self) -> FloatArray:
        """Return all five, with stand-ins for those left out."""
        return np.array([
            0.2 if self.pickup is None else self.pickup,
            _LOG_RESONANCE if self.log_resonance is None else self.log_resonance,
            self.log_q,
            self.width2,
            _SPACING if self.spacing is None else self.spacing,
        ])  # fmt: skip

    @property
    def free(self) -> BoolArray:
        """Which of the five are fitted."""
        magnetic = self.pickup is not None
        electric = self.log_resonance is not None
        return np.array([magnetic, electric, electric, magnetic, self.spacing is not None])

    def moved(self, step: FloatArray) -> Shape:
        """Return the shape after a step, kept within its bounds."""
        v = [float(x) for x in np.clip(self.values() + step, _LOWEST, _HIGHEST)]
        return replace(
            self,
            pickup=None if self.pickup is None else v[PICKUP],
            log_resonance=None if self.log_resonance is None else v[RESONANCE],
            log_q=v[Q],
            width2=v[WIDTH2],
            spacing=None if self.spacing is None else v[SPACING],
        )

    def two_coils(self) -> Shape:
        """Return the same with a pair of coils to start from."""
        return replace(self, spacing=_SPACING, width2=2e-4)


@dataclass(frozen=True)
class Parts:
    """Level of what is common (I, 24), its derivatives (I, 24, 5), what filled nulls leave open."""

    level: FloatArray
    jacobian: FloatArray
    variance: FloatArray


def common_parts(data: Data, shape: Shape) -> Parts:
    """Return everything common but the linear part."""
    level = np.zeros_like(data.y)
    variance = np.zeros_like(data.y)
    jacobian = np.zeros((*data.y.shape, 5))
    if shape.pickup is not None:
        comb, jacobian[..., PICKUP], doubt = comb_parts(data.wave, shape.pickup, data.fill)
        width, jacobian[..., WIDTH2] = aperture_parts(data.wave, shape.width2, data.fill)
        level += comb + width
        variance += doubt**2
    if shape.spacing is not None:
        coils, jacobian[..., SPACING], doubt = two_coil_parts(data.wave, shape.spacing, data.fill)
        level += coils
        variance += doubt**2
    if shape.log_resonance is not None:
        low, jacobian[..., RESONANCE], jacobian[..., Q] = low_pass_parts(
            data.frequency_hz, float(np.exp(shape.log_resonance)), float(np.exp(shape.log_q))
        )
        level += low
    return Parts(level, jacobian * shape.free, variance)


def hat_size(scatter_db: float) -> float:
    """Return how far a real coil may depart from the low-pass, dB: as far as partials scatter."""
    return float(np.clip(scatter_db, 0.4, 1.5))


def prior(shape: Shape, scatter_db: float) -> tuple[FloatArray, FloatArray]:
    """Precision (K, K) and mean (K,) of the common numbers: linear ones, then steps of the five."""
    n_hats = RESPONSE_HZ.size
    precision = np.zeros((N_LINEAR + 5, N_LINEAR + 5))
    mean = np.zeros(N_LINEAR + 5)
    at = np.arange(3)
    precision[at, at] = np.array(_LINEAR_SD) ** -2.0
    hats = slice(3, 3 + n_hats)
    bend = np.diff(np.eye(n_hats), n=2, axis=0)
    # With a circuit in the model the hats are its faults; without one they are the response.
    size = turn = hat_size(scatter_db)
    if shape.log_resonance is None:
        size, turn = 10.0, 4.0
    precision[hats, hats] = np.eye(n_hats) / size**2 + bend.T @ bend / turn**2
    at = N_LINEAR + np.arange(5)
    sd = np.array([shape.pickup_sd, _LOG_RESONANCE_SD, _LOG_Q_SD, _WIDTH2_SD, _SPACING_SD])
    middle = np.array([shape.pickup_mean, _LOG_RESONANCE, _LOG_Q, _WIDTH2, _SPACING])
    precision[at, at] = np.where(shape.free, sd**-2.0, 1e12)
    mean[at] = np.where(shape.free, middle - shape.values(), 0.0)
    return precision, mean
