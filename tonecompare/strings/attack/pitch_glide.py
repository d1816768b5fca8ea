"""A hard pluck starts sharp: a string that swings wide is longer, so its tension is higher.

A string of tension T pulled aside to a triangle of height h is longer by h²/(2Lβ(1−β)), and its
tension rises by EA/(2L)·∫y'² dx = EA·h²/(2L²β(1−β)). Once it swings, half of its energy is motion,
so that on average half of that is left; frequency goes with √T (Legge & Fletcher, J. Acoust. Soc.
Am. 76 (1984) 5):

    f(t) = f·(1 + δ e^(−2σt)),    δ = (EA/T)·h²/(8L²β(1−β)),

with σ of the first mode: tension goes with the energy, and the pitch relaxes exponentially, as
measured (Lee, Smith, Abel & Berners, DAFx-09). All partials rise alike, for they share the tension.
Phase is the integral of frequency, so every mode runs on a clock of its own string,

    τ(t) = t + δ (1 − e^(−2σt))/(2σ),

which warps the samples; decay rates run on t, but for a time of τ − t that never exceeds δ/(2σ),
below a millisecond. Partial frequencies in the truth are those at rest.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
import scipy.ndimage

from tonecompare.arrays import FloatArray
from tonecompare.strings.model import PluckSpec, StringSpec
from tonecompare.strings.modes import Modes

_TIMES, _MARGIN = 2, 256


def first_sharpness(string: StringSpec, pluck: PluckSpec, modes: Modes) -> float:
    """δ: by how much a pluck starts sharp, as a share of its frequency."""
    beta = pluck.position_mm / modes.length_mm
    pull = 10 ** (pluck.strength_db / 20) / modes.length_mm
    return string.stretch * pull**2 / (8.0 * beta * (1.0 - beta))


def glided(
    samples: FloatArray, *, sharpness: float, sigma_per_s: float, start_s: float, rate_hz: float
) -> FloatArray:
    """Read samples that begin with a release at ``start_s`` on the clock τ(t), shape as given."""
    n = samples.size
    t = np.arange(n) / rate_hz - start_s
    late = sharpness * -np.expm1(-2.0 * sigma_per_s * np.clip(t, 0.0, None)) / (2.0 * sigma_per_s)
    # Twice the rate (band-limited) brings the highest partials well below what splines blur.
    size = scipy.fft.next_fast_len(n + 2 * _MARGIN, real=True)
    finer = scipy.fft.irfft(scipy.fft.rfft(samples, size), _TIMES * size) * _TIMES
    at = (np.arange(n) + late * rate_hz) * _TIMES
    read = scipy.ndimage.map_coordinates(finer, at[None, :], order=5, mode="nearest")
    return np.asarray(read, dtype=np.float64)
