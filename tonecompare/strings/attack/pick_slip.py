"""The scrape of a pick over a string before it lets go.

The pick holds the string aside and slides over it: a short noise of string velocity that grows up
to the release and ends within :data:`_LEAVES_S` after it (plectrum and string, e.g. Germain &
Evangelista, WASPAA 2009). It reaches the sensor once, as the release's wave front does; what of it
rings on in the string is left out. Its band is that of scrapes, 1 to 6 kHz with gentle slopes.
Level and length are plausible, not measured.

The wave that a release starts has the velocity c·h/(2Lβ(1−β)): half of wave speed times the kink's
change of slope h/(Lβ(1−β)) (d'Alembert).
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.strings.model import PluckSpec, Slip
from tonecompare.strings.modes import Modes

_LEAVES_S = 0.001
_BAND_HZ = (1000.0, 6000.0)


def wave_velocity_m_per_s(pluck: PluckSpec, modes: Modes) -> float:
    """Velocity of the wave that the release starts on an ideal string, m/s."""
    beta = pluck.position_mm / modes.length_mm
    pull_m = 1e-3 * 10 ** (pluck.strength_db / 20)
    kink = pull_m / (modes.length_mm / 1000 * beta * (1 - beta))
    return float(modes.wave_speed_m_per_s * kink / 2)


def slip_velocity(
    slip: Slip,
    *,
    wave_m_per_s: float,
    release_s: float,
    n: int,
    rate_hz: float,
    rng: np.random.Generator,
) -> FloatArray:
    """Return the string velocity of a scrape, m/s, (n,); the pick lets go at ``release_s``."""
    t = np.arange(n) / rate_hz - release_s
    grown = np.clip(1.0 + t / (slip.length_ms / 1000), 0.0, 1.0)
    envelope = np.sin(0.5 * np.pi * grown) ** 2 * np.exp(-np.clip(t, 0.0, None) / _LEAVES_S)
    spectrum = np.fft.rfft(rng.standard_normal(n))
    hz = np.fft.rfftfreq(n, 1 / rate_hz)
    low, high = _BAND_HZ
    shape = np.zeros_like(hz)
    shape[1:] = 1.0 / np.sqrt((1.0 + (low / hz[1:]) ** 4) * (1.0 + (hz[1:] / high) ** 4))
    noise = np.fft.irfft(spectrum * shape, n)
    # White noise of variance 1 keeps the mean of the squared shape.
    rms = np.sqrt(np.mean(shape**2))
    return np.asarray(noise / rms * envelope * wave_m_per_s * 10 ** (slip.level_db / 20))
