"""From modes to what a pickup puts out: drives through combs and circuits, and first arrivals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.errors import InputError
from tonecompare.strings.exponentials import release_gain
from tonecompare.strings.model import Channel, Magnetic, Parallel, Piezo, PluckSpec, StringSpec
from tonecompare.strings.modes import (
    Modes,
    coil_comb,
    displacement_drive,
    force_drive,
    velocity_drive,
)
from tonecompare.strings.pickups.distance_law import BentCoil
from tonecompare.strings.pickups.filters import AnalogFilter, circuit_filter, piezo_filter
from tonecompare.strings.pickups.together import parallel_filters

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Path:
    """One sensor's contribution to a channel, as exponentials behind the release.

    The first ``2·partials`` entries of ``rates`` and ``amplitudes`` are the modes, shape
    (partials, 2) flattened; the rest are transients of the circuit. ``delay_s`` is electronic,
    ``arrival_s`` the string's travel time from the pick to the sensor. ``gain`` is what the
    channel mixes it with, after any clipping. ``filter`` is the circuit between sensor and
    channel, ``per_velocity`` what the sensor gives of 1 m/s of the string before it. ``bent`` are
    the coils that a distance law bends, whose voltages replace those of ``rates``: these then
    stand for what very small motion would give.
    """

    rates: ComplexArray
    amplitudes: ComplexArray
    arrival_s: float
    delay_s: float
    gain: float
    clip: float | None
    filter: AnalogFilter
    per_velocity: float
    bent: tuple[BentCoil, ...] = ()


def channel_paths(
    channel: Channel, string: StringSpec, modes: Modes, pluck: PluckSpec
) -> tuple[Path, ...]:
    """Paths that add up to a channel: magnetic, piezo or both."""
    level = 10 ** (channel.gain_db / 20)
    paths = []
    if channel.magnetic is not None and channel.ratio < 1.0:
        gain = level * (1 - channel.ratio)
        paths += [
            _magnetic(pickup, circuit, string, modes, pluck, gain)
            for pickup, circuit in pickups_of(channel.magnetic)
        ]
    if channel.piezo is not None and channel.ratio > 0.0:
        gain = level * channel.ratio * channel.polarity
        paths.append(
            _piezo(channel.piezo, string, modes, pluck, gain, delay_s=channel.delay_us * 1e-6)
        )
    return tuple(paths)


def pickups_of(magnetic: Magnetic | Parallel) -> list[tuple[Magnetic, AnalogFilter]]:
    """Pickups of a channel, each with the circuit between its voltage and the output."""
    if isinstance(magnetic, Magnetic):
        return [(magnetic, circuit_filter(magnetic.circuit))]
    filters = parallel_filters(tuple(pickup.circuit for pickup in magnetic.pickups))
    return list(zip(magnetic.pickups, filters, strict=True))


def _magnetic(
    magnetic: Magnetic,
    circuit: AnalogFilter,
    string: StringSpec,
    modes: Modes,
    pluck: PluckSpec,
    gain: float,
) -> Path:
    combs = [coil.sensitivity * coil_comb(modes, coil) for coil in magnetic.coils]
    comb = np.sum(combs, axis=0)
    polarisation = np.array([1.0, magnetic.second_polarisation])
    velocity = velocity_drive(modes)
    drive = velocity * (string.magnetic_gain * comb[:, None] * polarisation)
    rates, amplitudes = circuit.through(modes.rates.ravel(), drive.ravel())
    gaps = [
        abs(pluck.position_mm - coil.distance_mm) - (pluck.width_mm + coil.aperture_mm) / 2
        for coil in magnetic.coils
    ]
    arrival_s = max(min(gaps), 0.0) / 1000 / modes.wave_speed_m_per_s
    laws = [coil.law for coil in magnetic.coils]
    bent = tuple(
        BentCoil(
            law,
            modes.rates,
            velocity * (string.magnetic_gain * one[:, None] * polarisation),
            1000.0 * displacement_drive(modes)[:, 0] * coil_comb(modes, coil),
        )
        for coil, law, one in zip(magnetic.coils, laws, combs, strict=True)
        if law is not None
    )
    if bent and None in laws:
        raise InputError("law: give every coil of a pickup one, or none.")
    sensitivity = string.magnetic_gain * sum(coil.sensitivity for coil in magnetic.coils)
    return Path(rates, amplitudes, arrival_s, 0.0, gain, None, circuit, sensitivity, bent)


def _piezo(
    piezo: Piezo, string: StringSpec, modes: Modes, pluck: PluckSpec, gain: float, *, delay_s: float
) -> Path:
    polarisation = np.array([1.0, piezo.second_polarisation])
    drive = force_drive(modes) * (string.piezo_gain * piezo.sensitivity * polarisation)
    # The force before the release is the reference: a step of minus its value at t = 0.
    rest = -np.sum(drive.real)
    rates = np.append(modes.rates.ravel(), 0.0)
    circuit = piezo_filter(piezo)
    rates, amplitudes = circuit.through(rates, np.append(drive.ravel(), rest))
    arrival_s = max(pluck.position_mm - pluck.width_mm / 2, 0.0) / 1000 / modes.wave_speed_m_per_s
    # A wave of velocity v brings twice the force Z·v at the saddle, which hardly moves.
    impedance = modes.tension_n / modes.wave_speed_m_per_s
    per_velocity = 2.0 * impedance * string.piezo_gain * piezo.sensitivity
    return Path(rates, amplitudes, arrival_s, delay_s, gain, piezo.clip, circuit, per_velocity)


def mode_amplitudes(paths: tuple[Path, ...], modes: Modes, pluck: PluckSpec) -> ComplexArray:
    """Complex amplitude of each mode in the channel at the pluck's ``time_s``.

    The channel carries Re Σ A exp(λ (t − time_s)) once the release is over and the circuit's
    transients are gone (release weight and electronic delay are inside A; clipping is not).

    Returns
    -------
    amplitudes
        Shape (partials, 2), sample values.
    """
    count = modes.rates.size
    total = np.zeros(count, dtype=np.complex128)
    for path in paths:
        rates = path.rates[:count]
        shift = np.exp(-rates * path.delay_s)
        total += path.gain * path.amplitudes[:count] * shift
    total *= release_gain(modes.rates.ravel(), pluck.release_ms / 1000)
    return total.reshape(modes.rates.shape)
