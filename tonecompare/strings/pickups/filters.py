"""Analogue filters as poles and zeros, and their exact response to decaying modes.

A filter H(s) with simple poles p_i and residues r_i answers a mode exp(λt) switched on at t = 0
with

    H(λ) exp(λt) + Σ_i r_i/(p_i − λ) exp(p_i t),    t ≥ 0

(partial fractions): the steady gain on the mode plus the filter's own dying transients. Both are
sums of exponentials, so nothing is approximated and nothing depends on the sample rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import ArrayLike, NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.strings.model import Circuit, Piezo

ComplexArray = NDArray[np.complex128]

_SETTLES_S = 0.02


@dataclass(frozen=True)
class AnalogFilter:
    """H(s) = gain · Π(s − zeros) / Π(s − poles); simple poles, not more zeros than poles."""

    zeros: tuple[complex, ...] = ()
    poles: tuple[complex, ...] = ()
    gain: float = 1.0

    def __mul__(self, other: AnalogFilter) -> AnalogFilter:
        """Return both filters in series."""
        return AnalogFilter(
            self.zeros + other.zeros, self.poles + other.poles, self.gain * other.gain
        )

    def response(self, s: ArrayLike) -> ComplexArray:
        """H at complex frequencies ``s`` (per second), same shape."""
        s = np.asarray(s, dtype=np.complex128)
        out = np.full(s.shape, self.gain, dtype=np.complex128)
        for zero in self.zeros:
            out *= s - zero
        for pole in self.poles:
            out /= s - pole
        return out

    def residues(self) -> ComplexArray:
        """Residue r_i of H at each pole, shape (poles,)."""
        if len(set(self.poles)) < len(self.poles):
            raise InputError(f"poles={self.poles}: two poles coincide; change a value slightly.")
        out = np.empty(len(self.poles), dtype=np.complex128)
        for i, pole in enumerate(self.poles):
            rest = AnalogFilter(self.zeros, self.poles[:i] + self.poles[i + 1 :], self.gain)
            out[i] = rest.response(pole)
        return out

    def through(
        self, rates: ComplexArray, drive: ComplexArray
    ) -> tuple[ComplexArray, ComplexArray]:
        """Return (rates, amplitudes) of the response to Σ drive·exp(rates·t), t ≥ 0.

        Parameters
        ----------
        rates, drive
            Shape (modes,).

        Returns
        -------
        rates, amplitudes
            Shape (modes + poles,): the modes first, then the filter's transients.
        """
        poles = np.asarray(self.poles, dtype=np.complex128)
        steady = drive * self.response(rates)
        if poles.size == 0:
            return rates, steady
        # A mode exactly on a pole would need t·exp(λt); no physical mode is damped that much.
        transient = self.residues() * np.sum(
            drive[None, :] / (poles[:, None] - rates[None, :]), axis=1
        )
        return np.concatenate((rates, poles)), np.concatenate((steady, transient))


def filtered(samples: FloatArray, filter_: AnalogFilter, *, rate_hz: float) -> FloatArray:
    """Put band-limited samples through a filter, on the frequency axis; shape as given.

    For samples that are no sum of exponentials. They must be 0 at the start; the end is padded by
    :data:`_SETTLES_S`, longer than any pickup rings.
    """
    n = samples.size
    size = scipy.fft.next_fast_len(n + round(_SETTLES_S * rate_hz), real=True)
    s = 2j * np.pi * np.fft.rfftfreq(size, 1 / rate_hz)
    out = scipy.fft.irfft(scipy.fft.rfft(samples, size) * filter_.response(s), size)
    return np.asarray(out[:n], dtype=np.float64)


def circuit_filter(circuit: Circuit) -> AnalogFilter:
    """Return the loaded pickup H(s) = 1/[1 + (R + sL)(1/R_load + sC)], C = coil + cable."""
    c = circuit.capacitance_f + circuit.cable_f
    a2 = circuit.inductance_h * c
    a1 = circuit.resistance_ohm * c + circuit.inductance_h / circuit.load_ohm
    a0 = 1.0 + circuit.resistance_ohm / circuit.load_ohm
    poles = np.roots([a2, a1, a0]).astype(np.complex128)
    return AnalogFilter((), (complex(poles[0]), complex(poles[1])), 1.0 / a2)


def resonance(circuit: Circuit) -> tuple[float, float]:
    """Resonance f0 in Hz and Q of the loaded pickup.

    omega0 = sqrt((1 + R/R_load)/(LC)), Q = omega0/(R/L + 1/(R_load C)) (RLC theory).
    """
    c = circuit.capacitance_f + circuit.cable_f
    omega = np.sqrt((1 + circuit.resistance_ohm / circuit.load_ohm) / (circuit.inductance_h * c))
    width = circuit.resistance_ohm / circuit.inductance_h + 1 / (circuit.load_ohm * c)
    return float(omega / (2 * np.pi)), float(omega / width)


def piezo_filter(piezo: Piezo) -> AnalogFilter:
    """Piezo into its preamp: s/(s + 1/RC), then a second-order Butterworth low-pass and gain."""
    corner = 1.0 / (piezo.input_ohm * piezo.capacitance_f)
    omega = 2 * np.pi * piezo.bandwidth_hz
    half = np.sqrt(0.5)
    low_pass = AnalogFilter((), (omega * complex(-half, half), omega * complex(-half, -half)))
    high_pass = AnalogFilter((0j,), (complex(-corner),))
    gain = omega**2 * 10 ** (piezo.gain_db / 20)
    return high_pass * low_pass * AnalogFilter(gain=gain)
