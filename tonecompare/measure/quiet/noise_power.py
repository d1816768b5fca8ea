"""Working with :class:`~tonecompare.measure.model.Noise`: density, uncertainty, pooling."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.measure.model import Noise
from tonecompare.measure.quiet.quiet_frames import BIN_CORRELATION


def density_at(noise: Noise, frequency_hz: ArrayLike) -> FloatArray:
    """Return the floor's density at ``frequency_hz`` (any shape) in (sample value)²/Hz, no lines.

    Linear between the grid's points; 0 above half the rate.
    """
    return np.asarray(
        np.interp(
            np.asarray(frequency_hz, dtype=np.float64), noise.frequency_hz, noise.density, right=0.0
        )
    )


@lru_cache(maxsize=8)
def noise_power_sd(noise: Noise) -> float:
    """Return the standard uncertainty of the noise's mean square, floor and lines together.

    A floor of density S seen for T seconds through Hann frames has the variance
    ``c int S² df / T`` (Bendat & Piersol), a line of power P in it ``2 c P S / T``, c = 1.94 for
    one frame (Harris 1978: mean w⁴ over squared mean w²), less for overlapping ones.
    """
    step = float(noise.frequency_hz[1] - noise.frequency_hz[0])
    floor = float(np.sum(noise.density**2)) * step
    lines = 2.0 * float(np.sum(noise.line_power * density_at(noise, noise.line_hz)))
    return float(np.sqrt(BIN_CORRELATION * (floor + lines) / noise.length_s))


def pool_noise(noises: Sequence[Noise]) -> Noise:
    """Return one noise for several quiets of one channel and gain, weighted by their lengths.

    Serves a recording whose file has no quiet of its own: pool those of its neighbours.

    Raises
    ------
    InputError
        When there is nothing to pool or the rates differ.
    """
    if not noises:
        raise InputError("no quiet stretch to pool: record some quiet with the strings damped")
    first = noises[0]
    if len(noises) == 1:
        return first
    rates = {noise.rate_hz for noise in noises}
    if len(rates) > 1:
        raise InputError(
            f"quiet stretches at different rates ({', '.join(f'{r:g} Hz' for r in sorted(rates))}) "
            "cannot be pooled: pool only recordings of one sampling rate"
        )
    weights = np.array([noise.length_s for noise in noises])
    weights /= weights.sum()
    each = np.stack([density_at(noise, first.frequency_hz) for noise in noises])
    humming = [(w, n) for w, n in zip(weights, noises, strict=True) if n.mains_hz is not None]
    mains_hz: float | None = None
    line_hz, line_power = first.line_hz[:0], first.line_power[:0]
    if humming:
        total = sum(w for w, _ in humming)
        mains_hz = float(sum(w * (n.mains_hz or 0.0) for w, n in humming) / total)
        count = max(n.line_power.size for _, n in humming)
        line_hz = np.asarray(mains_hz * np.arange(1, count + 1), dtype=np.float64)
        line_power = np.zeros(count)
        for w, n in humming:
            line_power[: n.line_power.size] += w * n.line_power
    return Noise(
        rate_hz=first.rate_hz,
        frequency_hz=first.frequency_hz,
        density=np.asarray(weights @ each, dtype=np.float64),
        mains_hz=mains_hz,
        line_hz=line_hz,
        line_power=line_power,
        length_s=float(sum(noise.length_s for noise in noises)),
    )
