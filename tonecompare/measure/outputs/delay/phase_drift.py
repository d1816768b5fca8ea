"""How the phase between two outputs drifts while a string rings, and what it was at the pluck.

A string swings in two polarisations that start together and differ a little in frequency. An
output hears both, ``e^(λ₁t) + a e^(λ₂t)``, another mixes them otherwise, ``e^(λ₁t) + b e^(λ₂t)``.
The ratio of the outputs at partial n then turns, to first order in a and b, by

    θ_n(t) = ε sin(s ω_n t),   ε = a/(1+a) - b/(1+b),   s = Im(λ₂ - λ₁) / ω_n

which is nothing at the first moment and grows like a delay: ε s t seconds, some microseconds
within the first tenth of a second. ε and s are common to the partials of a pluck (the split comes
from the two polarisations' effective length and tension) and are fitted to how the phases change
from frame to frame; what single partials turn beyond that is taken as a slope of its own, drawn
from a spread estimated from all of them. Only the phase at t = 0 belongs to the wiring.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.delay.pluck_frames import OVERLAP, OutputFrames

#: Splits tried, relative.
_SPLITS = np.geomspace(3e-5, 3e-3, 41)
#: How far the mixes of two outputs differ: standard deviation of the prior of ε.
_MIX_SPREAD = 0.15
#: Periods of a partial within which the drift is followed, at least in the first frames.
_FOLLOWED_PERIODS = 150.0
_ALWAYS_FRAMES = 2
#: A frame tells something when its phase is known to this (variance, rad²).
_LARGEST_VARIANCE = 0.1
#: Phase errors that are left without noise (side lobes, rounding), rad².
_LEAST_VARIANCE = 1e-6
#: The drift itself is known to this share of it: unequal decay and higher orders in a and b.
DRIFT_ERROR = 0.1


@dataclass(frozen=True)
class PhaseDrift:
    """Turn of the ratio since the pluck.

    ``turn_rad`` (frames, k) is what has to be taken out; ``weight`` (frames, k) is 1 for frames
    limited by noise and falls where the error of the drift is larger; ``error_rad`` (k,) is the
    error left in the phase at the pluck by the drift alone, for the weights times power.
    """

    turn_rad: FloatArray
    weight: FloatArray
    error_rad: FloatArray


def phase_drift(frames: OutputFrames) -> PhaseDrift:
    """Return the drift of the phase between the outputs over the frames of one pluck."""
    angle = 2.0 * np.pi * np.outer(frames.time_s, frames.frequency_hz)
    followed = angle < 2.0 * np.pi * _FOLLOWED_PERIODS
    followed[:_ALWAYS_FRAMES] = True
    power_m, power_p = np.abs(frames.magnetic) ** 2, np.abs(frames.piezo) ** 2
    variance = 0.5 * frames.noise_magnetic / np.maximum(power_m, frames.noise_magnetic)
    variance = variance + 0.5 * frames.noise_piezo / np.maximum(power_p, frames.noise_piezo)
    variance = OVERLAP * variance + _LEAST_VARIANCE
    weight = np.where(followed & (variance < _LARGEST_VARIANCE), 1.0 / variance, 0.0)
    cross = frames.magnetic * frames.piezo.conj()
    common = np.angle(np.sum(weight * cross, axis=0))
    phase = np.angle(cross * np.exp(-1j * common))
    turn = _common_turn(angle, phase, weight)
    own, own_variance = _own_slopes(angle, phase - turn, weight)
    turn = turn + own * angle
    share = variance / (variance + (DRIFT_ERROR * turn) ** 2)
    share = np.where(followed, share, 0.0)
    heavy = share * power_p
    heavy = heavy / heavy.sum(axis=0)
    error = np.hypot(
        np.sqrt(own_variance) * np.sum(heavy * angle, axis=0),
        DRIFT_ERROR * np.abs(np.sum(heavy * turn, axis=0)),
    )
    return PhaseDrift(turn, share, error)


def _centred(values: FloatArray, weight: FloatArray) -> FloatArray:
    """Values less their weighted mean over the frames: each partial's phase at t = 0 is free."""
    total = np.maximum(weight.sum(axis=0), 1e-300)
    return np.asarray(values - np.sum(weight * values, axis=0) / total)


def _common_turn(angle: FloatArray, phase: FloatArray, weight: FloatArray) -> FloatArray:
    """ε sin(s ω t) that explains most of how the phases change."""
    change = _centred(phase, weight)
    best, turn = 0.0, np.zeros_like(angle)
    for split in _SPLITS:
        wave = np.sin(split * angle)
        centred = _centred(wave, weight)
        along = float(np.sum(weight * centred * change))
        size = float(np.sum(weight * centred**2)) + _MIX_SPREAD**-2
        if along**2 / size > best:
            best, turn = along**2 / size, along / size * wave
    return turn


def _own_slopes(
    angle: FloatArray, phase: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Slopes of single partials over ω t, shrunk by their own spread, and their variances.

    The spread is the moment estimate of DerSimonian & Laird (1986), iterated.
    """
    centred = _centred(angle, weight)
    information = np.sum(weight * centred**2, axis=0)
    known: NDArray[np.bool_] = information > 0.0
    noise = 1.0 / np.where(known, information, 1.0)
    slope = np.where(known, np.sum(weight * centred * phase, axis=0) * noise, 0.0)
    spread = 0.0
    for _ in range(20):
        share = np.where(known, (noise + spread) ** -2.0, 0.0)
        total = float(share.sum())
        if total <= 0.0:
            break
        spread = max(0.0, float(np.sum(share * (slope**2 - noise))) / total)
    shrunk = np.where(known, spread / (spread + noise), 0.0)
    return slope * shrunk, np.where(known, shrunk * noise, spread)
