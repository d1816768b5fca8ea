"""Two outputs of one plucked string in closed form, apart from the package's own string model.

An ideal string of modes a_n = sin(n pi p)/n seen by a velocity pickup at d and by the force on the
bridge: F = sum a_n cos(w_n t) exp(-s_n t), v = -sum a_n sin(n pi d) sin(w_n t) exp(-s_n t), which
is v(d, t) = [F(t + tau) - F(t - tau)] / 2 with tau = d/c (travelling waves; checked in the tests).
Filters and the electronic delay are applied in the frequency domain, exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.results import BlendPair

#: Open strings, Hz (12-TET, A4 = 440).
OPEN_HZ = {6: 82.4069, 5: 110.0, 4: 146.8324, 3: 195.9977, 2: 246.9417, 1: 329.6276}
NAMES = {6: "E2", 5: "A2", 4: "D3", 3: "G3", 2: "B3", 1: "E4"}
LEAD_S = 0.02


@dataclass(frozen=True)
class Wiring:
    """What stands between the string and the two channels."""

    delay_s: float = 0.0
    polarity: int = 1
    low_pass_hz: float | None = None
    low_pass_q: float = 1.4
    high_pass_hz: float | None = None
    piezo_gain: float = 1.0


def pluck(
    f0_hz: float,
    *,
    wiring: Wiring,
    position: float = 0.15,
    pick: float = 0.21,
    stiffness: float = 0.0,
    t60_s: float = 2.5,
    snr_db: float | None = 50.0,
    length_s: float = 0.3,
    rate_hz: float = 48000.0,
    note: str = "",
    string: int | None = None,
    level: float = 0.2,
    rng: np.random.Generator,
) -> BlendPair:
    """One pluck; ``position`` and ``pick`` are distances from the bridge over the length."""
    size, lead = round((length_s + LEAD_S) * rate_hz), round(LEAD_S * rate_hz)
    n = np.arange(1, 81)
    hz = n * f0_hz * np.sqrt(1 + stiffness * n**2)
    n, hz = n[hz < 0.42 * rate_hz], hz[hz < 0.42 * rate_hz]
    amplitude = np.sin(np.pi * n * pick) / n
    rates = 2j * np.pi * hz - 6.907755 / t60_s * (1 + hz / 3000.0)
    seen = amplitude * np.sin(np.pi * n * position)
    rung = _modes(rates, amplitude, rate_hz, size - lead)
    force, velocity = np.zeros(size), np.zeros(size)
    force[lead:] = rung.real - amplitude.sum()
    velocity[lead:] = -_modes(rates, seen, rate_hz, size - lead).imag
    magnetic, piezo = _wired(velocity, force, wiring, rate_hz)
    window = slice(lead + round(0.05 * rate_hz), min(size, lead + round(0.55 * rate_hz)))
    scale = level / np.sqrt(np.mean(magnetic[window] ** 2))
    magnetic, piezo = magnetic * scale, piezo * scale * wiring.piezo_gain
    if snr_db is not None:
        for samples in (magnetic, piezo):
            rms = np.sqrt(np.mean(samples[window] ** 2)) * 10 ** (-snr_db / 20)
            samples += rms * rng.standard_normal(size)
    return BlendPair(note, string, f0_hz, magnetic, piezo, lead, rate_hz, label=note)


def _modes(
    rates: NDArray[np.complex128], amplitude: FloatArray, rate_hz: float, size: int
) -> NDArray[np.complex128]:
    """Sum of amplitude exp(rate t) over the modes, at ``size`` times from 0.

    exp(rate (t1 + t2)) = exp(rate t1) exp(rate t2): a product of two small matrices.
    """
    block = 256
    begins = np.arange(0, size, block) / rate_hz
    inside = np.arange(block) / rate_hz
    whole = (np.exp(np.outer(begins, rates)) * amplitude) @ np.exp(np.outer(rates, inside))
    return whole.ravel()[:size]


def _wired(
    velocity: FloatArray, force: FloatArray, wiring: Wiring, rate_hz: float
) -> tuple[FloatArray, FloatArray]:
    size = 2 * velocity.size
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    magnetic = np.ones(hz.size, dtype=complex)
    if wiring.low_pass_hz is not None:
        x = hz / wiring.low_pass_hz
        magnetic = 1 / (1 - x**2 + 1j * x / wiring.low_pass_q)
    piezo = wiring.polarity * np.exp(-2j * np.pi * hz * wiring.delay_s)
    if wiring.high_pass_hz is not None:
        piezo = piezo * 1j * hz / (wiring.high_pass_hz + 1j * hz)
    return (
        np.fft.irfft(np.fft.rfft(velocity, size) * magnetic, size)[: velocity.size],
        np.fft.irfft(np.fft.rfft(force, size) * piezo, size)[: force.size],
    )


def open_strings(
    wiring: Wiring,
    *,
    rng: np.random.Generator,
    strings: tuple[int, ...] = (6, 5, 4, 3, 2, 1),
    position: float = 0.15,
    repeats: int = 1,
    snr_db: float | None = 50.0,
    length_s: float = 0.3,
    pick: tuple[float, float] = (0.13, 0.28),
) -> list[BlendPair]:
    """Open strings with tuning, stiffness, decay and pickup place of their own, plucks with a pick
    place and half a cent of pitch of their own."""
    pairs = []
    for string in strings:
        tuned_hz = OPEN_HZ[string] * 2 ** (rng.normal(0.0, 2.0) / 1200)
        own_position = position * (1 + rng.normal(0.0, 0.01))
        stiffness, t60_s = rng.uniform(1e-5, 1.2e-4), rng.uniform(1.5, 4.0)
        for _ in range(repeats):
            pairs.append(
                pluck(
                    tuned_hz * 2 ** (rng.normal(0.0, 0.5) / 1200), wiring=wiring,
                    position=own_position, pick=rng.uniform(*pick), stiffness=stiffness,
                    t60_s=t60_s, snr_db=snr_db, length_s=length_s, note=NAMES[string],
                    string=string, rng=rng,
                )
            )  # fmt: skip
    return pairs
