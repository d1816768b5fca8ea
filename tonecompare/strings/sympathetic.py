"""Strings that ring in sympathy: what the bridge passes on from a plucked string to open ones.

The plucked string's force on the bridge, ``F = Σ F_n e^(λ_n t)`` less its value before the release,
moves the bridge with the velocity ``Y F`` (mobility Y, out of plane: first polarisation only). A
string whose end moves by u obeys, mode by mode (textbook: y = u (1 − x/L) + Σ q_m sin(mπx/L)),

    q̈_m + 2σ_m q̇_m + (ω_m² + σ_m²) q_m = −(2/mπ) ü,    q_m = q̇_m = 0 at the release

whose solution is, per λ and with s = −σ + iω of the open string's mode,

    q_m = Re G (e^(λt) − A e^(st) − (1 − A) e^(s*t)),    G = −(2/mπ) λYF / ((λ − s)(λ − s*)),
    A = (λ − s*)/(s − s*)

The first term follows the plucked string (forced), the others are the open string's own (free):
they begin by cancelling each other, so that it wakes slowly where the two nearly agree, and beats.
What the woken string gives back, and its static part u (1 − x/L), are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.strings.exponentials import released_exponentials
from tonecompare.strings.filters import AnalogFilter, circuit_filter, piezo_filter
from tonecompare.strings.model import Channel, InstrumentSpec, PluckSpec, StringSpec
from tonecompare.strings.modes import Modes, coil_comb, force_drive, string_modes

ComplexArray = NDArray[np.complex128]

#: Modes above this hardly pass the bridge; they are left out.
HIGHEST_HZ = 4000.0


@dataclass(frozen=True)
class Sympathy:
    """One open string woken by one pluck, on one channel, without noise.

    ``forced`` follows the plucked string's partials, ``free`` is the string's own ringing, both of
    shape (n,); what sounds is their sum.
    """

    pluck: int
    string: int
    forced: FloatArray
    free: FloatArray


def render_sympathy(
    instrument: InstrumentSpec,
    channel: Channel,
    plucks: Sequence[PluckSpec],
    *,
    mobility_s_per_kg: float,
    rate_hz: float,
    n: int,
    held: Sequence[int] = (),
) -> list[Sympathy]:
    """Render what open strings add to each pluck, to be added to the take.

    Parameters
    ----------
    instrument, channel, plucks
        As given to :func:`tonecompare.strings.render_recording`; the channel is magnetic or piezo.
    mobility_s_per_kg
        Velocity of the bridge per force. 1e-4 to 1e-3 brings partials that agree to some
        −40 to −20 dB of the note.
    rate_hz, n
        Sampling; n samples from the start of the recording.
    held
        Strings that a hand keeps still. Strings that are plucked at that moment are not open.

    Returns
    -------
    list of Sympathy
        One per pluck and open string. A hand that damps the pluck damps them too.

    Raises
    ------
    InputError
        For a blended channel.
    """
    if channel.magnetic is not None and channel.piezo is not None:
        raise InputError("strings in sympathy are rendered on a magnetic or a piezo channel alone.")
    found = []
    for number, pluck in enumerate(plucks, start=1):
        _, driver = string_modes(instrument, pluck, rate_hz=rate_hz)
        for string in instrument.strings:
            if string.number == pluck.string or string.number in held:
                continue
            open_pluck = PluckSpec(0.0, string.number, angle_deg=0.0)
            _, modes = string_modes(instrument, open_pluck, rate_hz=rate_hz)
            forced, free = _responses(driver, modes, mobility_s_per_kg)
            weight = _sensed(channel, string, modes)
            rates, own = _low(driver), _low(modes)
            drives = [(rates, forced @ weight), (own, free * weight)]
            if channel.magnetic is not None:  # a coil senses velocity
                drives = [(each, each * drive) for each, drive in drives]
            forced_part, free_part = (
                _ring(channel, each, drive, pluck, rate_hz=rate_hz, n=n) for each, drive in drives
            )
            found.append(Sympathy(number, string.number, forced_part, free_part))
    return found


def _low(modes: Modes) -> ComplexArray:
    """Rates of the first polarisation up to HIGHEST_HZ."""
    rates = modes.rates[:, 0]
    return rates[rates.imag < 2.0 * np.pi * HIGHEST_HZ]


def _responses(driver: Modes, modes: Modes, mobility: float) -> tuple[ComplexArray, ComplexArray]:
    """Displacement amplitudes: forced at each driving rate (N, M), free of each mode (M,)."""
    rate, s = _low(driver)[:, None], _low(modes)[None, :]
    force = force_drive(driver)[: rate.size, :1]
    order = modes.number[: s.size][None, :]
    acceleration = rate * mobility * force
    g = -(2.0 / (order * np.pi)) * acceleration / ((rate - s) * (rate - s.conj()))
    a = (rate - s.conj()) / (s - s.conj())
    free = -(g * a).sum(axis=0) - (g * (1.0 - a)).conj().sum(axis=0)
    return g, np.asarray(free, dtype=np.complex128)


def _sensed(channel: Channel, string: StringSpec, modes: Modes) -> FloatArray:
    """Return what the sensor gives per displacement or velocity of each mode, (M,)."""
    count = _low(modes).size
    if channel.magnetic is not None:
        comb = sum(c.sensitivity * coil_comb(modes, c) for c in channel.magnetic.coils)
        return np.asarray(string.magnetic_gain * comb)[:count]
    assert channel.piezo is not None
    slope = modes.tension_n * modes.number[:count] * np.pi / (modes.length_mm / 1000.0)
    return np.asarray(string.piezo_gain * channel.piezo.sensitivity * slope)


def _filter(channel: Channel) -> AnalogFilter:
    if channel.magnetic is not None:
        return circuit_filter(channel.magnetic.circuit)
    assert channel.piezo is not None
    return piezo_filter(channel.piezo)


def _ring(
    channel: Channel,
    rates: ComplexArray,
    drive: ComplexArray,
    pluck: PluckSpec,
    *,
    rate_hz: float,
    n: int,
) -> FloatArray:
    """Sample it from the release on; a hand that damps the pluck damps this too."""
    rates, amplitudes = _filter(channel).through(rates, drive)
    out = released_exponentials(
        rates,
        amplitudes,
        release_s=pluck.release_ms / 1000.0,
        start_s=pluck.time_s + (channel.delay_us * 1e-6 if channel.piezo else 0.0),
        rate_hz=rate_hz,
        n=n,
    )
    sign = channel.polarity if channel.piezo else 1
    out *= sign * 10.0 ** (channel.gain_db / 20.0)
    if pluck.damp_s is not None:
        late = np.clip(np.arange(n) / rate_hz - pluck.time_s - pluck.damp_s, 0.0, None)
        out *= np.exp(-pluck.damp_per_s * late)
    return out
