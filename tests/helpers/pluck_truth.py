"""Plucks of known content for tests of the measures, written apart from code and string model."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.signal import PluckSignal

RATE_HZ = 48000.0


def partials(
    hz: Sequence[float] | FloatArray,
    amplitude: Sequence[float] | FloatArray,
    t60_s: Sequence[float] | FloatArray | float,
    *,
    length_s: float = 4.0,
    rate_hz: float = RATE_HZ,
    seed: int = 1,
) -> FloatArray:
    """Return sum A exp(-sigma t) cos(2 pi f t + phase), sigma = 3 ln 10 / T60, random phases."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(length_s * rate_hz)) / rate_hz
    x = np.zeros(t.size)
    for f, a, t60 in zip(hz, amplitude, np.broadcast_to(t60_s, len(hz)), strict=True):
        phase = rng.uniform(0.0, 2.0 * np.pi)
        x += a * np.exp(-3.0 * np.log(10.0) / t60 * t) * np.cos(2.0 * np.pi * f * t + phase)
    return x


def series(
    f0_hz: float,
    *,
    n: int = 10,
    slope: float = 1.0,
    stretch: float = 0.0,
    t60_s: float = 4.0,
    gain: float = 0.1,
    length_s: float = 4.0,
    seed: int = 1,
) -> FloatArray:
    """Return partials of amplitude gain/n**slope at n f0 sqrt((1 + B n²)/(1 + B))."""
    order = np.arange(1, n + 1)
    hz = order * f0_hz * np.sqrt((1.0 + stretch * order**2) / (1.0 + stretch))
    return partials(hz, gain / order**slope, t60_s, length_s=length_s, seed=seed)


def white_noise(density: float, *, rate_hz: float = RATE_HZ, mains_hz: float | None = None,
                line_power: Sequence[float] = ()) -> Noise:  # fmt: skip
    """Return the noise model of a white floor of known density and known mains lines."""
    hz = np.linspace(0.0, rate_hz / 2.0, 2001)
    lines = np.asarray(line_power, dtype=np.float64)
    line_hz = (mains_hz or 50.0) * np.arange(1, lines.size + 1)
    return Noise(rate_hz, hz, np.full(hz.size, density), mains_hz, line_hz, lines, 2.0)


def signal(
    x: FloatArray,
    f0_hz: float | None,
    *,
    snr_db: float | None = None,
    seed: int = 2,
    rate_hz: float = RATE_HZ,
) -> PluckSignal:
    """Return a pluck, with white noise ``snr_db`` below its mean square over 0.05–0.55 s."""
    if snr_db is None:
        return PluckSignal(x, rate_hz, f0_hz, None)
    window = slice(round(0.05 * rate_hz), round(0.55 * rate_hz))
    power = float(np.mean(x[window] ** 2)) * 10.0 ** (-snr_db / 10.0)
    noisy = x + np.random.default_rng(seed).normal(0.0, np.sqrt(power), x.size)
    return PluckSignal(noisy, rate_hz, f0_hz, white_noise(power / (rate_hz / 2.0), rate_hz=rate_hz))
