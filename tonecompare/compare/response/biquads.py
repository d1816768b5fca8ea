"""Second-order filter sections of an equaliser: bells and shelves, minimum phase.

Analogue prototypes carried over by the bilinear transform with the centre frequency prewarped
(``K = tan(pi f0/rate)``, textbook). With ``s = (1 - z^-1)/(1 + z^-1)/K`` and ``A = 10^(gain/40)``:

- bell: ``(s² + s A/Q + 1) / (s² + s/(A Q) + 1)``,
- low shelf: ``A (s² + s sqrt(A)/Q + A) / (A s² + s sqrt(A)/Q + 1)``,
- high shelf: the same with s and 1 exchanged.

All poles and zeros lie inside the unit circle, so a cascade is minimum phase and its inverse is
the same cascade with the gains' signs changed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.signal import sosfilt

from tonecompare.arrays import FloatArray
from tonecompare.compare.model import EqualiserBand
from tonecompare.errors import InputError

KINDS = ("peak", "low-shelf", "high-shelf")


def _prototype(kind: str, gain_db: float, q: float) -> tuple[FloatArray, FloatArray]:
    """Numerator and denominator in powers s², s, 1."""
    a = 10.0 ** (gain_db / 40.0)
    if kind == "peak":
        return np.array([1.0, a / q, 1.0]), np.array([1.0, 1.0 / (a * q), 1.0])
    root = np.sqrt(a) / q
    low = a * np.array([1.0, root, a]), np.array([a, root, 1.0])
    if kind == "low-shelf":
        return low
    if kind == "high-shelf":
        return low[0][::-1], low[1][::-1]
    raise InputError(f"kind={kind!r} is no filter section; there are {', '.join(KINDS)}")


def section(band: EqualiserBand, *, rate_hz: float) -> FloatArray:
    """Return one section as (6,): b0 b1 b2 1 a1 a2.

    Raises
    ------
    InputError
        When the centre frequency does not lie below half the rate.
    """
    if not 0.0 < band.frequency_hz < rate_hz / 2.0:
        raise InputError(
            f"frequency_hz={band.frequency_hz:g} does not lie between 0 and half of "
            f"rate_hz={rate_hz:g}: did you give kHz?"
        )
    k = np.tan(np.pi * band.frequency_hz / rate_hz)
    b, a = (_bilinear(c, k) for c in _prototype(band.kind, band.gain_db, band.q))
    return np.concatenate((b / a[0], a / a[0]))


def _bilinear(powers: FloatArray, k: float) -> FloatArray:
    square, linear, constant = powers[0], powers[1] * k, powers[2] * k * k
    return np.array(
        [square + linear + constant, 2.0 * (constant - square), square - linear + constant]
    )


def gain_db(bands: Sequence[EqualiserBand], frequency_hz: FloatArray, *, rate_hz: float
            ) -> FloatArray:  # fmt: skip
    """Return the cascade's gain in dB at ``frequency_hz`` (any shape)."""
    z = np.exp(-2j * np.pi * np.asarray(frequency_hz, dtype=np.float64) / rate_hz)
    total = np.zeros(z.shape)
    for band in bands:
        b0, b1, b2, _, a1, a2 = section(band, rate_hz=rate_hz)
        total += 20.0 * np.log10(np.abs((b0 + z * (b1 + z * b2)) / (1.0 + z * (a1 + z * a2))))
    return total


def impulse_response(
    bands: Sequence[EqualiserBand], *, overall_gain_db: float, rate_hz: float, n: int
) -> FloatArray:
    """Return the first ``n`` samples of the cascade's impulse response, overall gain included."""
    impulse = np.zeros(n)
    impulse[0] = 10.0 ** (overall_gain_db / 20.0)
    if not bands:
        return impulse
    sections = np.stack([section(band, rate_hz=rate_hz) for band in bands])
    return np.asarray(sosfilt(sections, impulse), dtype=np.float64)
