"""Which model a band is given: one damped sinusoid, two that beat, or none.

Two polarisations of a string beat, and then one sinusoid leaves more than the noise explains.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.damped_sinusoids import DampedFit
from tonecompare.measure.partials.narrow_bands import Bands
from tonecompare.measure.signal import ComplexArray

#: One damped sinusoid is enough when it leaves less than this times the noise …
ENOUGH_EXCESS = 2.0
#: A second one is tried beyond this, and taken when chi squared falls by this much for its four
#: parameters; noise alone lowers it by some 12 where the best frequency is sought.
TRIED_EXCESS = 1.2
LEAST_CHI2 = 30.0
#: … or less than this share of the band's energy (-50 dB).
ENOUGH_MISFIT = 1e-5
#: A beat is named when the weaker component has this share of the stronger one's amplitude, they
#: lie this far apart, and together they leave less than this share of what one alone leaves.
BEAT_SHARE = 0.1
SLOWEST_BEAT_HZ = 0.15
BEAT_EXPLAINS = 0.25
#: Two polarisations of one string lie closer than this; further apart it is another string.
WIDEST_BEAT_HZ = 8.0


@dataclass
class ChosenModel:
    """The model chosen for each band, filled in as pairs replace singles."""

    amplitude: ComplexArray
    rate: ComplexArray
    rate_sd: FloatArray
    log_amplitude_sd: FloatArray
    count: FloatArray
    converged: NDArray[np.bool_]
    beat_hz: FloatArray
    sigma_hz: float
    single_sigma: FloatArray

    @classmethod
    def of(cls, fit: DampedFit, bands: Bands) -> ChosenModel:
        """Start from the single fits; 0 components where they leave too much."""
        n = fit.rate.shape[0]
        blank = np.full((n, 1), np.nan + 0j)
        good = (fit.excess <= ENOUGH_EXCESS) | (fit.misfit <= ENOUGH_MISFIT)
        return cls(
            amplitude=np.concatenate([fit.amplitude, blank], axis=1),
            rate=np.concatenate([fit.rate, blank], axis=1),
            rate_sd=fit.rate_sd[:, 0].copy(),
            log_amplitude_sd=fit.log_amplitude_sd[:, 0].copy(),
            count=good.astype(float),
            converged=fit.converged.copy(),
            beat_hz=np.full(n, np.nan),
            sigma_hz=bands.sigma_hz,
            single_sigma=-fit.rate[:, 0].real,
        )

    def take_pairs(
        self, pair: DampedFit, rows: np.ndarray, single: DampedFit, density: FloatArray
    ) -> None:
        """Use two components where they are a string's and explain what one did not."""
        apart_hz = np.abs(np.diff(pair.rate.imag, axis=1)[:, 0]) / (2.0 * np.pi)
        decaying = np.all(pair.rate.real < -0.05, axis=1)
        weaker = np.abs(pair.amplitude[:, 1]) > 0.01 * np.abs(pair.amplitude[:, 0])
        sane = (
            decaying
            & weaker
            & (apart_hz < WIDEST_BEAT_HZ)
            & np.all(np.abs(pair.amplitude) < 30.0 * np.abs(single.amplitude[rows]), axis=1)
        )
        # Near the noise the whole band's misfit cannot halve; what is left at the line can.
        helps = pair.misfit < 0.5 * single.misfit[rows]
        helps |= pair.excess < 0.6 * single.excess[rows]
        helps |= (density > 0.0) & (2.0 * (single.cost[rows] - pair.cost) > LEAST_CHI2 * density)
        explains = (pair.excess <= ENOUGH_EXCESS) | (pair.misfit <= 1e-3)
        take = sane & helps
        self.amplitude[rows[take]] = pair.amplitude[take]
        self.rate[rows[take]] = pair.rate[take]
        self.rate_sd[rows[take]] = pair.rate_sd[take, 0]
        self.log_amplitude_sd[rows[take]] = np.minimum(
            pair.log_amplitude_sd[take, 0], single.log_amplitude_sd[rows[take], 0]
        )
        self.converged[rows[take]] = pair.converged[take]
        self.count[rows[take]] = np.where(explains[take], 2.0, 0.0)
        strong = np.abs(pair.amplitude[:, 1]) > BEAT_SHARE * np.abs(pair.amplitude[:, 0])
        beats = sane & strong & (apart_hz > SLOWEST_BEAT_HZ)
        beats &= pair.misfit < BEAT_EXPLAINS * single.misfit[rows]
        self.beat_hz[rows[beats]] = apart_hz[beats]
