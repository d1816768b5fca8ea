"""Ready-made strings, pickups and note names for renderings.

Masses per length are the plain-steel and unit-weight values of check-values section 5, B the
values computed there; damping is chosen so that T60 falls from about 10 s at h1 to below 1 s at
5 kHz. They are plausible, invented numbers, not measurements of any product.
"""

from __future__ import annotations

import math

from tonecompare.strings.model import Circuit, Coil, InstrumentSpec, Magnetic, StringSpec

_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
#: mass per length, B, (b0, b1, b2), magnetic gain, frequency split, damping ratio; string 1 first.
_STRINGS = (
    (3.98e-4, 1.32e-5, (0.80, 0.55, 0.12), 0.27, 3.0e-4, 0.60),
    (6.72e-4, 3.98e-5, (0.75, 0.60, 0.13), 0.36, 4.5e-4, 0.65),
    (1.15e-3, 1.08e-4, (0.70, 0.70, 0.15), 0.50, 3.5e-4, 0.55),
    (2.26e-3, 4.5e-5, (0.60, 1.10, 0.22), 0.65, 5.0e-4, 0.60),
    (4.28e-3, 7.2e-5, (0.52, 1.25, 0.26), 0.82, 4.0e-4, 0.62),
    (6.83e-3, 1.3e-4, (0.45, 1.40, 0.30), 1.00, 6.0e-4, 0.58),
)
_OPEN_MIDI = (64, 59, 55, 50, 45, 40)


def note_hz(midi: float) -> float:
    """Equal temperament, 440·2^((m − 69)/12) Hz (ISO 16)."""
    return float(440.0 * 2 ** ((midi - 69) / 12))


def note_name(frequency_hz: float) -> str:
    """Scientific pitch name of the nearest semitone ("E2", "F#3")."""
    midi = round(69 + 12 * math.log2(frequency_hz / 440.0))
    return f"{_NAMES[midi % 12]}{midi // 12 - 1}"


def standard_strings() -> tuple[StringSpec, ...]:
    """Six strings E4 B3 G3 D3 A2 E2, number 1 first; h1 is in tune (ideal f lowered by √(1+B))."""
    return tuple(
        StringSpec(
            number=number,
            open_hz=note_hz(midi) / math.sqrt(1 + b),
            mass_kg_per_m=mass,
            inharmonicity=b,
            damping=damping,
            magnetic_gain=gain,
            split=split,
            damping_ratio=ratio,
        )
        for number, midi, (mass, b, damping, gain, split, ratio) in zip(
            range(1, 7), _OPEN_MIDI, _STRINGS, strict=True
        )
    )


def standard_instrument(name: str = "plover", *, scale_length_mm: float = 648.0) -> InstrumentSpec:
    """Six-string guitar in standard tuning."""
    return InstrumentSpec(name, standard_strings(), scale_length_mm)


def single_coil(
    distance_mm: float, *, sensitivity: float = 0.6, circuit: Circuit | None = None
) -> Magnetic:
    """One coil at this distance from the bridge."""
    return Magnetic((Coil(distance_mm, sensitivity=sensitivity),), circuit or Circuit())


HUMBUCKER_CIRCUIT = Circuit(4.4, 8000.0, 120e-12, 200e3, 360e-12)


def humbucker(
    distance_mm: float,
    *,
    spacing_mm: float = 18.0,
    sensitivity: float = 0.5,
    mismatch: float = 0.02,
    circuit: Circuit = HUMBUCKER_CIRCUIT,
) -> Magnetic:
    """Two coils in series around ``distance_mm``; ``mismatch`` = |a − b| over their mean."""
    a, b = 1 + mismatch / 2, 1 - mismatch / 2
    near = Coil(distance_mm - spacing_mm / 2, sensitivity=sensitivity * a, hum=a)
    far = Coil(distance_mm + spacing_mm / 2, sensitivity=sensitivity * b, hum=-b)
    return Magnetic((near, far), circuit)


def split_coil(pickup: Magnetic, *, coil: str = "far") -> Magnetic:
    """One coil of a humbucker ("near" or "far" from the bridge): half of its L and R."""
    chosen = pickup.coils[0 if coil == "near" else 1]
    old = pickup.circuit
    circuit = Circuit(
        old.inductance_h / 2,
        old.resistance_ohm / 2,
        old.capacitance_f,
        old.load_ohm,
        old.cable_f,
    )
    return Magnetic((chosen,), circuit, pickup.second_polarisation)
