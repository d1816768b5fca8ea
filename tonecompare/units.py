"""Decibels, cents and percent: the conversions every module shares, written down once.

Conventions (AES17): the RMS of a full-scale sine is 0 dBFS, so a mean square ``p`` in
(sample value)² reads ``10 lg p + 3.0103`` dBFS; a peak is re 1.0, so ``20 lg |x|``.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: T60 of exp(-sigma t) is this over sigma: 3 ln 10.
T60_TIMES_SIGMA = float(3.0 * np.log(10.0))


def _scalar_or_array(values: NDArray[np.float64], like: ArrayLike) -> Any:
    return float(values) if np.ndim(like) == 0 else values


def power_to_db(power: ArrayLike) -> Any:
    """10 lg(power); zero gives -inf, without a warning."""
    with np.errstate(divide="ignore"):
        return _scalar_or_array(10.0 * np.log10(np.asarray(power, dtype=np.float64)), power)


def amplitude_to_db(amplitude: ArrayLike) -> Any:
    """20 lg(amplitude); zero gives -inf, without a warning."""
    with np.errstate(divide="ignore"):
        return _scalar_or_array(20.0 * np.log10(np.asarray(amplitude, dtype=np.float64)), amplitude)


def db_to_amplitude(level_db: ArrayLike) -> Any:
    """10^(dB/20)."""
    return _scalar_or_array(10.0 ** (np.asarray(level_db, dtype=np.float64) / 20.0), level_db)


def mean_square_to_dbfs(mean_square: ArrayLike) -> Any:
    """RMS level in dBFS (AES17) of a mean square in (sample value)²."""
    return power_to_db(2.0 * np.asarray(mean_square, dtype=np.float64))


def dbfs_to_mean_square(level_dbfs: ArrayLike) -> Any:
    """Mean square in (sample value)² of an RMS level in dBFS (AES17)."""
    return _scalar_or_array(
        0.5 * 10.0 ** (np.asarray(level_dbfs, dtype=np.float64) / 10.0), level_dbfs
    )


def ratio_to_cents(ratio: ArrayLike) -> Any:
    """1200 log2(ratio) (Ellis)."""
    return _scalar_or_array(1200.0 * np.log2(np.asarray(ratio, dtype=np.float64)), ratio)


def t60_to_decay_rate(t60_s: ArrayLike) -> Any:
    """Return sigma = 3 ln 10 / T60, per second."""
    return _scalar_or_array(T60_TIMES_SIGMA / np.asarray(t60_s, dtype=np.float64), t60_s)
