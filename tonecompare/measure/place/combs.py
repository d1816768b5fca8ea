"""Closed forms that shape the partials of a plucked string under a pickup, all in decibels.

Those of the place (comb, aperture, two coils) depend on the partial's wave number u = n / L, those
of the circuit on its frequency: the same partial of two strings or frets has another u or another
frequency, so that they can be told apart. Combs and aperture: Paiva, Pakarinen & Välimäki, JAES 60
(2012) 768-782; low-pass: the loaded coil's RLC network.

Nulls are filled (two polarisations, unequal coils, a pick of finite width): every factor x enters
as 10 lg(x² + fill). A pickup near the strings bends, and the sums of partials that it adds fill
nulls much further: by how much is found with the places.
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.quantities.registry import N_PARTIALS

#: Power left at a null, and where a pickup's bent flux fills it.
NULL_FILL = 10.0**-2.6
BENT_FILLS = (10.0**-1.5, 10.0**-1.0)
#: How uncertain that is: a standard factor of e^1.5 either way, in dB of the fill alone.
FILL_SD_DB = 6.5

ORDER: FloatArray = np.arange(1.0, N_PARTIALS + 1.0)

_DB = 20.0 / np.log(10.0)


def filled_db(factor: FloatArray, fill: float = NULL_FILL) -> FloatArray:
    """Level of a factor whose nulls are filled, 10 lg(factor² + fill)."""
    return np.asarray(10.0 * np.log10(factor**2 + fill))


def _slope(factor: FloatArray, derivative: FloatArray, fill: float) -> FloatArray:
    return np.asarray(_DB * factor * derivative / (factor**2 + fill))


def comb_db(share: FloatArray, fill: float = NULL_FILL) -> FloatArray:
    """Level of partials 1…24 from a comb: 10 lg(sin²(n pi x) + fill), shape (…, 24)."""
    return filled_db(np.sin(np.pi * ORDER * np.asarray(share)[..., None]), fill)


def comb_parts(
    wave: FloatArray, place: float | FloatArray, fill: float = NULL_FILL
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Comb sin(pi u x): level, its derivative by x, and the standard uncertainty from the fill."""
    angle = np.pi * wave * place
    factor = np.sin(angle)
    doubt = FILL_SD_DB * fill / (factor**2 + fill)
    return (
        filled_db(factor, fill),
        _slope(factor, np.pi * wave * np.cos(angle), fill),
        np.asarray(doubt),
    )


def two_coil_parts(
    wave: FloatArray, spacing: float, fill: float = NULL_FILL
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Two equal coils ``spacing`` apart, cos(pi u s/2): level, derivative by s, doubt."""
    angle = 0.5 * np.pi * wave * spacing
    factor = np.cos(angle)
    doubt = FILL_SD_DB * fill / (factor**2 + fill)
    return (
        filled_db(factor, fill),
        _slope(factor, -0.5 * np.pi * wave * np.sin(angle), fill),
        np.asarray(doubt),
    )


def aperture_parts(
    wave: FloatArray, squared: float, fill: float = NULL_FILL
) -> tuple[FloatArray, FloatArray]:
    """Aperture of width w, sinc(u w/2): level and its derivative by w² (``squared``).

    The pick's own width rounds the string in nearly the same way, so this is both together.
    """
    x = 0.5 * wave * np.sqrt(squared)
    factor = np.sinc(x)
    by_x = np.where(x > 1e-4, (np.cos(np.pi * x) - factor) / np.maximum(x, 1e-4), 0.0)
    return filled_db(factor, fill), _slope(factor, by_x * x / (2.0 * squared), fill)


def low_pass_parts(
    frequency_hz: FloatArray, resonance_hz: float, q: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Low-pass: level, derivatives by the logarithms of resonance frequency and of Q."""
    square = (frequency_hz / resonance_hz) ** 2
    power = (1.0 - square) ** 2 + square / q**2
    half = 0.5 * _DB / power
    by_log_resonance = half * (2.0 * square / q**2 - 4.0 * (1.0 - square) * square)
    return -10.0 * np.log10(power), by_log_resonance, np.asarray(half * 2.0 * square / q**2)
