"""The sensitivity d′ behind a share of right answers: how far apart two sounds are for a listener.

In units of the spread of what one sound is heard as. The share of right answers rises with d′ by a
law of each task; a share below guessing has d′ 0.
"""

from __future__ import annotations

import math

import numpy as np
import scipy  # its parts load when they are first asked for

#: What a guesser gets right.
CHANCE = {"abx": 1.0 / 2.0, "triangle": 1.0 / 3.0}
#: Beyond this d′ every answer is right.
_MOST = 12.0


def share_right(d_prime: float, task: str) -> float:
    """Return the share of right answers of a listener.

    ABX by differencing, where X is held against A and B in turn (Macmillan & Creelman,
    *Detection Theory*, table A5.3; Hautus & Meng 2002):
    ``Φ(d′/√2) Φ(d′/√6) + Φ(-d′/√2) Φ(-d′/√6)``. Triangle (Ennis 1993; ISO 4120):
    ``2 ∫₀^∞ [Φ(-z√3 + d′√(2/3)) + Φ(-z√3 - d′√(2/3))] φ(z) dz``.
    """
    phi = scipy.stats.norm.cdf
    if task == "abx":
        far, near = d_prime / math.sqrt(2.0), d_prime / math.sqrt(6.0)
        return float(phi(far) * phi(near) + phi(-far) * phi(-near))
    shift = d_prime * math.sqrt(2.0 / 3.0)

    def density(z: float) -> float:
        odd = phi(-z * math.sqrt(3.0) + shift) + phi(-z * math.sqrt(3.0) - shift)
        return float(2.0 * odd * scipy.stats.norm.pdf(z))

    return float(scipy.integrate.quad(density, 0.0, np.inf)[0])


def d_prime_of(share: float, task: str) -> float:
    """Return the d′ whose share of right answers is ``share``; infinite where all are right."""
    if share <= CHANCE[task]:
        return 0.0
    if share >= share_right(_MOST, task):
        return math.inf
    return float(scipy.optimize.brentq(lambda d: share_right(d, task) - share, 0.0, _MOST))
