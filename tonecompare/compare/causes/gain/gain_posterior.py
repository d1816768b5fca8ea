"""By how much the gain moved between two stages: one likelihood over hiss, level and hum.

Hiss from before the gain, the strings and the hum all pass the gain, so a gain ``g`` moves all of
them alike. Each may have been moved by something else as well: hiss by another coil, level by the
work or the hand, hum by shielding or another place. So each difference ``x`` with standard error
``s`` is a mixture of what was moved by the gain alone and what something else moved too:

    p(x | g) = (1 - e) N(x; g, s² + t²) + e N(x; g, s² + w²)

with a share ``e``, a small wander ``t`` and a wide scale ``w`` of its own (:data:`HISS`,
:data:`LEVEL`, :data:`HUM`; from what such work does, common practice). The gain itself stays where
it was more often than not (:data:`STAYED`) or was set anew; where ``session.toml`` states it, it
lies there. The posterior is worked out on a grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray

#: dB; a knob is turned by tens of decibels at most.
_GRID_DB: FloatArray = np.arange(-40.0, 40.005, 0.01)
#: Prior chance that nobody touched the gain, and how far a turned one goes (standard deviation).
STAYED, TURNED_SD_DB = 0.6, 6.0
#: An untouched gain drifts by hundredths of a decibel (temperature; assumed).
_UNTOUCHED_SD_DB = 0.03
#: A stated gain may be wrong or misread this often; read off a dial, it is good to this.
STATED_WRONG, STATED_SD_DB = 0.03, 0.2
#: A smaller gain than this is not named: hiss wanders by a tenth of a decibel by itself.
LEAST_GAIN_DB = 0.25


@dataclass(frozen=True)
class Kind:
    """How a kind of evidence moves with the gain: ``e``, ``t`` and ``w`` of the module."""

    share: float
    wander_db: float
    wide_db: float

    def log_likelihood(self, difference_db: float, se_db: float) -> FloatArray:
        """Return the logarithm of ``p(x | g)`` on the grid, (G,)."""
        off = difference_db - _GRID_DB
        near = (1.0 - self.share) * _normal(off, float(np.hypot(se_db, self.wander_db)))
        far = self.share * _normal(off, float(np.hypot(se_db, self.wide_db)))
        return np.asarray(np.log(near + far))


HISS = Kind(share=0.25, wander_db=0.1, wide_db=4.0)
LEVEL = Kind(share=0.5, wander_db=0.4, wide_db=5.0)
HUM = Kind(share=0.6, wander_db=0.7, wide_db=8.0)

Evidence = tuple[Kind, float, float]


@dataclass(frozen=True)
class GainPosterior:
    """What the evidence says of a gain.

    ``moved`` is the probability that it moved by :data:`LEAST_GAIN_DB` or more; ``gain_db`` and
    ``sd_db`` are the mean and standard deviation around the likeliest place (within 1 dB), which
    holds the probability ``in_one_place``.
    """

    gain_db: float
    sd_db: float
    moved: float
    in_one_place: float


def gain_posterior(
    evidence: Sequence[Evidence], *, stated_db: float | None = None
) -> GainPosterior:
    """Weigh all evidence of one gain.

    Parameters
    ----------
    evidence
        Kind, difference and standard error in dB of each; not finite ones are left out.
    stated_db
        By how much session.toml says the gain was turned, None where it does not.

    Returns
    -------
    GainPosterior

    Examples
    --------
    >>> found = gain_posterior([(HISS, -3.0, 0.1), (LEVEL, -3.1, 0.3), (HISS, -2.9, 0.1)])
    >>> round(found.gain_db, 1), found.moved > 0.99
    (-3.0, True)
    """
    log = np.log(_prior(stated_db))
    for kind, difference_db, se_db in evidence:
        if np.isfinite(difference_db) and np.isfinite(se_db):
            log = log + kind.log_likelihood(difference_db, se_db)
    p = np.exp(log - log.max())
    p /= p.sum()
    near = np.abs(_GRID_DB - _GRID_DB[np.argmax(p)]) <= 1.0
    held = float(p[near].sum())
    mean = float((p * _GRID_DB)[near].sum()) / held
    sd = float(np.sqrt((p * (_GRID_DB - mean) ** 2)[near].sum() / held))
    return GainPosterior(mean, sd, float(p[np.abs(_GRID_DB) >= LEAST_GAIN_DB].sum()), held)


def _prior(stated_db: float | None) -> FloatArray:
    turned = _normal(_GRID_DB, TURNED_SD_DB)
    if stated_db is None:
        return np.asarray(STAYED * _normal(_GRID_DB, _UNTOUCHED_SD_DB) + (1.0 - STAYED) * turned)
    stated = _normal(_GRID_DB - stated_db, STATED_SD_DB)
    return np.asarray((1.0 - STATED_WRONG) * stated + STATED_WRONG * turned)


def _normal(off: FloatArray, sd: float) -> FloatArray:
    """Density, never quite 0 so that its logarithm is finite."""
    return np.asarray(np.exp(-0.5 * (off / sd) ** 2) / (sd * np.sqrt(2.0 * np.pi)) + 1e-300)
