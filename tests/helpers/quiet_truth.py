"""Quiet stretches with known hum, buzz and hiss, written apart from the code that measures them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray


def sine(
    frequency_hz: float, level_dbfs: float, *, n: int, rate_hz: float, phase: float = 0.3
) -> FloatArray:
    """Return a sine whose RMS reads ``level_dbfs`` (AES17: amplitude 1 is 0 dBFS)."""
    amplitude = 10.0 ** (level_dbfs / 20.0)
    return amplitude * np.sin(2.0 * np.pi * frequency_hz * np.arange(n) / rate_hz + phase)


def white(level_dbfs: float, rng: np.random.Generator, *, n: int, rate_hz: float) -> FloatArray:
    """Return white noise whose 20 Hz–20 kHz part reads ``level_dbfs`` in the long run."""
    band_hz = min(20000.0, rate_hz / 2.0) - 20.0
    mean_square = 0.5 * 10.0 ** (level_dbfs / 10.0) * (rate_hz / 2.0) / band_hz
    return rng.standard_normal(n) * np.sqrt(mean_square)


def family(
    orders: NDArray[np.int_],
    levels_dbfs: FloatArray,
    rng: np.random.Generator,
    *,
    mains_hz: float,
    n: int,
    rate_hz: float,
    drift_hz_per_s: float = 0.0,
) -> FloatArray:
    """Return mains lines of given levels and random phases; ``mains_hz`` holds at the middle."""
    t = (np.arange(n) - n / 2.0) / rate_hz
    turns = mains_hz * t + 0.5 * drift_hz_per_s * t * t
    x = np.zeros(n)
    for order, level in zip(orders, levels_dbfs, strict=True):
        phase = rng.uniform(0.0, 2.0 * np.pi)
        x += 10.0 ** (level / 20.0) * np.cos(2.0 * np.pi * order * turns + phase)
    return x


def falling_hum(
    total_dbfs: float,
    rng: np.random.Generator,
    *,
    mains_hz: float,
    n: int,
    rate_hz: float,
    lines: int = 10,
    drift_hz_per_s: float = 0.0,
) -> FloatArray:
    """Return lines 1 … ``lines`` with amplitudes 1/k and the power sum ``total_dbfs``."""
    orders = np.arange(1, lines + 1)
    amplitude = 1.0 / orders
    levels = 20.0 * np.log10(amplitude / np.sqrt((amplitude**2).sum())) + total_dbfs
    return family(
        orders, levels, rng, mains_hz=mains_hz, n=n, rate_hz=rate_hz, drift_hz_per_s=drift_hz_per_s
    )
