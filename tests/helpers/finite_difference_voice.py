"""What pickups make of finite-difference strings: a pole's field, a loaded network, a converter.

Shares nothing with ``tonecompare.strings`` but the numbers of pickups and circuits.

Flux
    On the axis of a magnet of radius a and length l the field is
    B(z) ∝ (z + l)/√((z + l)² + a²) − z/√(z² + a²) (textbook; a pole seen as two charged discs,
    as Horton & Moore, Am. J. Phys. 77 (2009) 144, have it); a string is magnetised in proportion
    and seen back in proportion: flux ∝ B². Scaled to slope 1 at rest.
Network
    Every pickup is a voltage behind R + jωL with its own C across it, all in parallel to cable and
    load: V = Σ E/Z / (Σ 1/Z + jωC + 1/R_load).
Converter
    A raised cosine between 0.40 and 0.45 of the rate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tonecompare import strings as st

Floats = NDArray[np.float64]

_RADIUS_MM, _LENGTH_MM = 2.4, 18.0
#: From the string at rest to the pole's face.
GAP_MM = 2.8


def pole_flux_mm(towards_mm: Floats, gap_mm: float = GAP_MM) -> Floats:
    """Flux against displacement towards the pole, mm of a linear pickup, 0 and slope 1 at rest."""
    step = 1e-4
    slope = (_squared_field(gap_mm - step) - _squared_field(gap_mm + step)) / (2.0 * step)
    return np.asarray((_squared_field(gap_mm - towards_mm) - _squared_field(gap_mm)) / slope)


def _squared_field(z_mm: Floats | float) -> Floats | float:
    far = z_mm + _LENGTH_MM
    return (far / np.hypot(far, _RADIUS_MM) - z_mm / np.hypot(z_mm, _RADIUS_MM)) ** 2


def network_response(circuits: Sequence[st.Circuit], hz: Floats) -> list[NDArray[np.complex128]]:
    """From the voltage of each pickup to their common output."""
    s = 2j * np.pi * hz
    inner = [1.0 / (c.resistance_ohm + s * c.inductance_h) for c in circuits]
    first = circuits[0]
    capacitance_f = first.cable_f + sum(c.capacitance_f for c in circuits)
    total = sum(inner) + s * capacitance_f + 1.0 / first.load_ohm
    return [one / total for one in inner]


def voice_signal(
    motion: Mapping[float, Floats],
    magnetic: st.Magnetic | st.Parallel,
    *,
    string_gain: float,
    rate_hz: float,
) -> Floats:
    """Output of a voice for one pluck, sample values, shape (n,).

    Parameters
    ----------
    motion
        Displacement in metres by the coil's distance in mm, (2 polarisations, n); the first is
        towards the coil.
    magnetic
        Pickups; what the string model's law says is not used.
    string_gain
        How strongly the string is sensed.
    rate_hz
        Sample rate.
    """
    pickups = (magnetic,) if isinstance(magnetic, st.Magnetic) else magnetic.pickups
    n = next(iter(motion.values())).shape[1]
    size = scipy.fft.next_fast_len(n + 2048, real=True)
    hz = scipy.fft.rfftfreq(size, 1.0 / rate_hz)
    faded = np.clip((hz / rate_hz - 0.40) / 0.05, 0.0, 1.0)
    converter = 0.5 * (1.0 + np.cos(np.pi * faded))
    responses = network_response([pickup.circuit for pickup in pickups], hz)
    out = np.zeros(hz.size, dtype=np.complex128)
    for pickup, response in zip(pickups, responses, strict=True):
        flux = np.zeros(n)
        for coil in pickup.coils:
            towards, along = motion[coil.distance_mm]
            bent = pole_flux_mm(1e3 * towards) / 1e3
            flux += coil.sensitivity * (bent + pickup.second_polarisation * along)
        out += scipy.fft.rfft(flux, size) * response
    spectrum = out * (2j * np.pi * hz) * converter * string_gain
    return np.asarray(scipy.fft.irfft(spectrum, size)[:n], dtype=np.float64)
