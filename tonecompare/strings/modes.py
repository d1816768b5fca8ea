"""One plucked string as modes: frequencies, decay rates, velocity and bridge-force drives.

A string of sounding length L = L0 2^(−k/12), pulled aside by h at the distance p from the bridge
and let go from rest, moves as (textbook; Fletcher 1964 for the stiffness)

    y(x, t) = Σ_n a_n sin(nπx/L) e^(−σ_n t) [cos ω_n t + (σ_n/ω_n) sin ω_n t]
    a_n     = 2h / (n²π² β(1 − β)) · sin(nπβ) · W(n),   β = p/L
    ω_n     = 2π n f √(1 + B n²)

so that the velocity is zero everywhere at the release. Two polarisations share the a_n with
cos/sin of the pick's angle and differ slightly in frequency and decay, which makes them beat. W is
the rounding by the pick, a raised cosine of full width w: W = sin(u)/u / (1 − (u/π)²), u = nπw/2L.

Sensors (check-values sections 5 and 7): a coil at d sees velocity averaged over its aperture,
sin(nπd/L) · sinc(n·aperture/2L); the saddle sees the force T ∂y/∂x at x = 0 less its value before
the release (that is long gone through the piezo's high-pass), so it has no comb.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.strings.model import Coil, InstrumentSpec, PluckSpec, StringSpec

ComplexArray = NDArray[np.complex128]

#: Partials are faded out over this range of the sample rate, as a converter's filter would.
FADE_FROM, FADE_TO = 0.40, 0.45


@dataclass(frozen=True)
class Modes:
    """The modes of one plucked note, shape (partials, 2 polarisations) or (partials,).

    ``rates`` = −σ + jω per second; ``shape_m`` the a_n with W, per polarisation.
    """

    number: NDArray[np.int64]
    rates: ComplexArray
    shape_m: FloatArray
    length_mm: float
    wave_speed_m_per_s: float
    tension_n: float
    inharmonicity: float


def string_modes(
    instrument: InstrumentSpec, pluck: PluckSpec, *, rate_hz: float
) -> tuple[StringSpec, Modes]:
    """Modes of a pluck up to 0.45 of the sample rate.

    Raises
    ------
    InputError
        When the pick is not between the bridge and the fret.
    """
    string = instrument.string(pluck.string)
    length_mm = instrument.scale_length_mm * 2 ** (-pluck.fret / 12)
    if not 0.0 < pluck.position_mm < length_mm:
        raise InputError(
            f"position_mm={pluck.position_mm}: the pick must lie between the bridge (0) and the"
            f" fret ({length_mm:.1f} mm)."
        )
    if pluck.release_ms <= 0.0:
        raise InputError(f"release_ms={pluck.release_ms}: must be above 0 (0.02 is very hard).")
    ideal_hz = string.open_hz * 2 ** (pluck.fret / 12 + pluck.detune_cents / 1200)
    b = string.inharmonicity * 4 ** (pluck.fret / 12)
    n = np.arange(1, int(rate_hz * FADE_TO / ideal_hz) + 1)
    hz = n * ideal_hz * np.sqrt(1 + b * n**2)
    n, hz = n[hz < FADE_TO * rate_hz], hz[hz < FADE_TO * rate_hz]
    khz = hz / 1000
    sigma = (string.damping[0] + string.damping[1] * khz + string.damping[2] * khz**2) / (
        pluck.decay_factor
    )
    rates = np.stack(
        (
            -sigma + 2j * np.pi * hz,
            -sigma * string.damping_ratio + 2j * np.pi * hz * (1 + string.split),
        ),
        axis=1,
    )
    shape = _shape(n, pluck, length_mm) * _fade(hz, rate_hz)
    angle = np.deg2rad(pluck.angle_deg)
    speed = 2 * length_mm / 1000 * ideal_hz
    return string, Modes(
        number=n,
        rates=rates,
        shape_m=shape[:, None] * np.array([np.cos(angle), np.sin(angle)]),
        length_mm=length_mm,
        wave_speed_m_per_s=speed,
        tension_n=string.mass_kg_per_m * speed**2,
        inharmonicity=b,
    )


def _shape(n: NDArray[np.int64], pluck: PluckSpec, length_mm: float) -> FloatArray:
    beta = pluck.position_mm / length_mm
    pull_m = 1e-3 * 10 ** (pluck.strength_db / 20)
    ideal = 2 * pull_m / (n**2 * np.pi**2 * beta * (1 - beta)) * np.sin(n * np.pi * beta)
    # Transform of a raised cosine of full width w at wavenumber nπ/L; removable point at u = π.
    x = n * pluck.width_mm / (2 * length_mm)
    edge = np.abs(x - 1.0) < 1e-9
    rounding = np.where(edge, 0.5, np.sinc(x) / np.where(edge, 1.0, 1 - x**2))
    return np.asarray(ideal * rounding, dtype=np.float64)


def _fade(hz: FloatArray, rate_hz: float) -> FloatArray:
    x = np.clip((hz / rate_hz - FADE_FROM) / (FADE_TO - FADE_FROM), 0.0, 1.0)
    return np.asarray(0.5 * (1 + np.cos(np.pi * x)), dtype=np.float64)


def coil_comb(modes: Modes, coil: Coil) -> FloatArray:
    """sin(nπd/L) · sinc(n·aperture/2L) of one coil, shape (partials,)."""
    x = modes.number / modes.length_mm
    return np.asarray(
        np.sin(np.pi * x * coil.distance_mm) * np.sinc(x * coil.aperture_mm / 2), dtype=np.float64
    )


def velocity_drive(modes: Modes) -> ComplexArray:
    """V in v_n(t) = Re V e^(λt), m/s, without the comb; shape (partials, 2).

    d/dt of the mode above: V = j a (ω² + σ²)/ω.
    """
    omega, sigma = modes.rates.imag, -modes.rates.real
    return np.asarray(1j * modes.shape_m * (omega**2 + sigma**2) / omega, dtype=np.complex128)


def displacement_drive(modes: Modes) -> ComplexArray:
    """Y in y_n(t) = Re Y e^(λt), m, without the comb; shape (partials, 2): Y = a (1 − jσ/ω)."""
    omega, sigma = modes.rates.imag, -modes.rates.real
    return np.asarray(modes.shape_m * (1 - 1j * sigma / omega), dtype=np.complex128)


def force_drive(modes: Modes) -> ComplexArray:
    """F in F_n(t) = Re F e^(λt), newton, bridge force T ∂y/∂x at 0; shape (partials, 2)."""
    omega, sigma = modes.rates.imag, -modes.rates.real
    slope = modes.tension_n * modes.number * np.pi / (modes.length_mm / 1000)
    return np.asarray(
        slope[:, None] * modes.shape_m * (1 - 1j * sigma / omega), dtype=np.complex128
    )
