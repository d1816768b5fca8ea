"""Two pickups into one output: in parallel (a middle position) or in series.

In parallel every pickup is a voltage E_i behind Z_i = R_i + sL_i; all share one load with all
their capacitances and the cable's (Y = 1/R_load + sC), so that (Millman's theorem)

    V = Σ E_i/Z_i / (Σ 1/Z_i + Y).

Of two pickups, one alone sees H_1 = Z_2/(Z_1 + Z_2 + Z_1 Z_2 Y): two equal ones give the mean of
their voltages through a circuit of half the inductance and resistance and twice the capacitance.
In series voltages, inductances and resistances add; each coil's capacitance lies across its own
coil, and two in series are taken as C_1 C_2/(C_1 + C_2) across both.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tonecompare.errors import InputError
from tonecompare.strings.model import Circuit, Magnetic, Parallel
from tonecompare.strings.pickups.filters import AnalogFilter


def in_parallel(first: Magnetic, second: Magnetic) -> Parallel:
    """Both pickups on, as in a middle position; cable and load are those of the first."""
    return Parallel((first, second))


def in_series(first: Magnetic, second: Magnetic) -> Magnetic:
    """One pickup after the other; cable, load and polarisation are those of the first."""
    a, b = first.circuit, second.circuit
    circuit = replace(
        a,
        inductance_h=a.inductance_h + b.inductance_h,
        resistance_ohm=a.resistance_ohm + b.resistance_ohm,
        capacitance_f=1.0 / (1.0 / a.capacitance_f + 1.0 / b.capacitance_f),
    )
    return replace(first, coils=(*first.coils, *second.coils), circuit=circuit)


def parallel_filters(circuits: tuple[Circuit, ...]) -> tuple[AnalogFilter, AnalogFilter]:
    """H_1 and H_2 from the voltage of each of two pickups to their common output.

    Raises
    ------
    InputError
        When there are not two.
    """
    if len(circuits) != 2:
        raise InputError(f"{len(circuits)} pickups in parallel: allowed are 2.")
    a, b = circuits
    capacitance_f = a.capacitance_f + b.capacitance_f + a.cable_f
    z_a, z_b = ((c.inductance_h, c.resistance_ohm) for c in circuits)
    load = np.polymul(np.polymul(z_a, z_b), (capacitance_f, 1.0 / a.load_ohm))
    whole = np.polyadd(load, np.polyadd(z_a, z_b))
    poles = tuple(complex(pole) for pole in np.roots(whole))
    return (_of_other(b, poles, float(whole[0])), _of_other(a, poles, float(whole[0])))


def _of_other(other: Circuit, poles: tuple[complex, ...], leading: float) -> AnalogFilter:
    zero = complex(-other.resistance_ohm / other.inductance_h)
    return AnalogFilter((zero,), poles, other.inductance_h / leading)
