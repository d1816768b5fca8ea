"""From modes to what a pickup puts out: drives through combs and circuits, and first arrivals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.strings.exponentials import release_gain
from tonecompare.strings.filters import circuit_filter, piezo_filter
from tonecompare.strings.model import Channel, Magnetic, Piezo, PluckSpec, StringSpec
from tonecompare.strings.modes import Modes, coil_comb, force_drive, velocity_drive

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class Path:
    """One sensor's contribution to a channel, as exponentials behind the release.

    The first ``2·partials`` entries of ``rates`` and ``amplitudes`` are the modes, shape
    (partials, 2) flattened; the rest are transients of the circuit. ``delay_s`` is electronic,
    ``arrival_s`` the string's travel time from the pick to the sensor. ``gain`` is what the
    channel mixes it with, after any clipping.
    """

    rates: ComplexArray
    amplitudes: ComplexArray
    arrival_s: float
    delay_s: float
    gain: float
    clip: float | None


def channel_paths(
    channel: Channel, string: StringSpec, modes: Modes, pluck: PluckSpec
) -> tuple[Path, ...]:
    """Paths that add up to a channel: magnetic, piezo or both."""
    level = 10 ** (channel.gain_db / 20)
    paths = []
    if channel.magnetic is not None and channel.ratio < 1.0:
        paths.append(_magnetic(channel.magnetic, string, modes, pluck, level * (1 - channel.ratio)))
    if channel.piezo is not None and channel.ratio > 0.0:
        gain = level * channel.ratio * channel.polarity
        paths.append(
            _piezo(channel.piezo, string, modes, pluck, gain, delay_s=channel.delay_us * 1e-6)
        )
    return tuple(paths)


def _magnetic(
    magnetic: Magnetic, string: StringSpec, modes: Modes, pluck: PluckSpec, gain: float
) -> Path:
    comb = np.sum([coil.sensitivity * coil_comb(modes, coil) for coil in magnetic.coils], axis=0)
    polarisation = np.array([1.0, magnetic.second_polarisation])
    drive = velocity_drive(modes) * (string.magnetic_gain * comb[:, None] * polarisation)
    rates, amplitudes = circuit_filter(magnetic.circuit).through(modes.rates.ravel(), drive.ravel())
    gaps = [
        abs(pluck.position_mm - coil.distance_mm) - (pluck.width_mm + coil.aperture_mm) / 2
        for coil in magnetic.coils
    ]
    arrival_s = max(min(gaps), 0.0) / 1000 / modes.wave_speed_m_per_s
    return Path(rates, amplitudes, arrival_s, 0.0, gain, None)


def _piezo(
    piezo: Piezo, string: StringSpec, modes: Modes, pluck: PluckSpec, gain: float, *, delay_s: float
) -> Path:
    polarisation = np.array([1.0, piezo.second_polarisation])
    drive = force_drive(modes) * (string.piezo_gain * piezo.sensitivity * polarisation)
    # The force before the release is the reference: a step of minus its value at t = 0.
    rest = -np.sum(drive.real)
    rates = np.append(modes.rates.ravel(), 0.0)
    rates, amplitudes = piezo_filter(piezo).through(rates, np.append(drive.ravel(), rest))
    arrival_s = max(pluck.position_mm - pluck.width_mm / 2, 0.0) / 1000 / modes.wave_speed_m_per_s
    return Path(rates, amplitudes, arrival_s, delay_s, gain, piezo.clip)


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
