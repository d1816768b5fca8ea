"""A near string bends a coil's output: flux falls with distance, so motion towards it counts more.

With the string at rest at the distance d from the pole and displaced by y towards it, the flux that
it brings goes with (d − y)^(−k). Its part that changes, scaled to slope 1 at rest, is

    g(y) = d/k · [(1 − y/d)^(−k) − 1] = y + (k+1)/(2d) y² + (k+1)(k+2)/(6d²) y³ + …

and the coil gives dg(y)/dt = (1 − y/d)^(−k−1) · dy/dt. A swing y = a cos ωt so brings a second
harmonic of (k+1)a/(2d) times the first (a ≪ d): even orders first, growing with the amplitude, as
measured on pickups (Horton & Moore, Am. J. Phys. 77 (2009) 144; Mustonen, Kartofelev, Stulov &
Välimäki, ISMA 2014; Novak et al., Appl. Sci. 7 (2017) 50). The law is an approximation: the three
find shapes that differ from pickup to pickup; k = 2 and d = 4 mm are assumed.

Only motion towards the coil (the first polarisation) bends it; motion along the body adds its own
small linear part. Displacement is summed from modes below :data:`BENDS_BELOW` of the sample rate
(above, a string's displacement is less than a hundredth of its first mode's), which keeps what the
bending makes below half the rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.strings.exponentials import released_exponentials
from tonecompare.strings.model import DistanceLaw, PluckSpec

ComplexArray = NDArray[np.complex128]

BENDS_BELOW = 0.05


@dataclass(frozen=True)
class BentCoil:
    """One coil with a distance law over one plucked string.

    ``rates`` (partials, 2) are the modes; ``velocity`` (partials, 2) their drive at this coil in
    sample values per m/s, ``displacement_mm`` (partials,) that of the first polarisation in mm.
    """

    law: DistanceLaw
    rates: ComplexArray
    velocity: ComplexArray
    displacement_mm: ComplexArray


def bending(law: DistanceLaw, displacement_mm: FloatArray) -> FloatArray:
    """Slope g'(y) = (1 − y/d)^(−k−1) of the flux at displacements y towards the coil.

    Raises
    ------
    InputError
        Where the string would reach the pole.
    """
    x = displacement_mm / law.distance_mm
    if np.max(x, initial=0.0) >= 1.0:
        raise InputError(
            f"distance_mm={law.distance_mm}: the string swings {np.max(displacement_mm):.1f} mm"
            " towards the pickup and would touch it; pluck softer or set it further away."
        )
    return np.asarray((1.0 - x) ** (-law.exponent - 1.0), dtype=np.float64)


def bent_voltage(
    coil: BentCoil, pluck: PluckSpec, *, first: int, n: int, rate_hz: float
) -> FloatArray:
    """Voltage of one coil before the circuit, sampled from sample ``first`` on, shape (n,)."""
    start_s = pluck.time_s - first / rate_hz
    release_s = pluck.release_ms / 1000

    def released(rates: ComplexArray, drive: ComplexArray) -> FloatArray:
        return released_exponentials(
            rates, drive, release_s=release_s, start_s=start_s, rate_hz=rate_hz, n=n
        )

    low = coil.rates[:, 0].imag < 2 * np.pi * BENDS_BELOW * rate_hz
    swing = coil.displacement_mm[low]
    # The pick holds the string aside and lets it go over the release.
    x = np.clip((np.arange(n) / rate_hz - start_s) / release_s, 0.0, 1.0)
    held = 1.0 - (x - np.sin(2 * np.pi * x) / (2 * np.pi))
    y_mm = held * float(np.sum(swing.real)) + released(coil.rates[low, 0], swing)
    towards = released(coil.rates[:, 0], coil.velocity[:, 0])
    along = released(coil.rates[:, 1], coil.velocity[:, 1])
    return bending(coil.law, y_mm) * towards + along
