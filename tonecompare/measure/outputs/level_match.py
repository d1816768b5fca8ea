"""Level match between two outputs, and the attack of each: transient against sustain.

The hard attack of a piezo is the peak of the first 20 ms over the RMS of 100–500 ms. A steady
sine reads 3.01 dB.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np
from scipy.signal import butter, sosfilt

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.outputs.results import BlendPair
from tonecompare.units import amplitude_to_db, power_to_db

LEVEL_WINDOW_S = (0.05, 0.55)
ATTACK_WINDOW_S = (0.0, 0.02)
SUSTAIN_WINDOW_S = (0.1, 0.5)
#: Bands of the attack beside "all", Hz.
ATTACK_BANDS_HZ: Mapping[str, tuple[float, float]] = {
    "low": (60.0, 250.0),
    "mid": (250.0, 2000.0),
    "high": (2000.0, 10000.0),
}
#: A level is measured where the pluck stands this far above the quiet.
LEAST_ABOVE_QUIET_DB = 3.0


def noise_power(noise: Noise | None, band_hz: tuple[float, float] | None = None) -> float:
    """Mean square of the quiet, floor and mains lines, in a band or in all."""
    if noise is None:
        return 0.0
    low, high = band_hz or (0.0, np.inf)
    step = float(noise.frequency_hz[1] - noise.frequency_hz[0])
    inside = (noise.frequency_hz >= low) & (noise.frequency_hz < high)
    lines = (noise.line_hz >= low) & (noise.line_hz < high)
    return float(noise.density[inside].sum() * step + noise.line_power[lines].sum())


def window_power(
    samples: FloatArray, onset: int, rate_hz: float, window_s: tuple[float, float], quiet: float
) -> float | None:
    """Mean square in a window from the onset without the quiet's; None when not above it."""
    first, last = (onset + round(edge * rate_hz) for edge in window_s)
    if last > samples.size:
        return None
    raw = float(np.mean(samples[first:last] ** 2))
    power = raw - quiet
    least = quiet * (10.0 ** (LEAST_ABOVE_QUIET_DB / 10.0) - 1.0)
    return power if power > 0.0 and power >= least else None


def level_difference_db(pair: BlendPair) -> float | None:
    """Piezo minus magnetic level over 0.05–0.55 s, dB; None when either is not above its quiet."""
    powers = [
        window_power(samples, pair.onset_index, pair.rate_hz, LEVEL_WINDOW_S, noise_power(noise))
        for samples, noise in (
            (pair.magnetic, pair.noise_magnetic),
            (pair.piezo, pair.noise_piezo),
        )
    ]
    if powers[0] is None or powers[1] is None:
        return None
    return float(power_to_db(powers[1] / powers[0]))


@lru_cache(maxsize=64)
def _band_pass(low_hz: float, high_hz: float, rate_hz: float) -> FloatArray:
    return np.asarray(butter(2, (low_hz, high_hz), btype="bandpass", fs=rate_hz, output="sos"))


def transient_db(
    samples: FloatArray,
    *,
    onset_index: int,
    rate_hz: float,
    noise: Noise | None = None,
    band: str = "all",
) -> float | None:
    """Peak of the first 20 ms over the RMS of 100–500 ms, dB.

    Parameters
    ----------
    samples, onset_index, rate_hz
        One output of a pluck, shape (n,), and the first sample of its motion.
    noise
        The output's quiet, taken off the RMS.
    band
        "all" or a key of :data:`ATTACK_BANDS_HZ` (second-order Butterworth band-pass).

    Returns
    -------
    float or None
        None when less than 0.5 s rang or the sustain does not stand 3 dB above the quiet.
    """
    quiet = noise_power(noise)
    if band != "all":
        low, high = ATTACK_BANDS_HZ[band]
        high = min(high, 0.45 * rate_hz)
        if low >= high:
            return None
        # What comes after the window cannot reach back into it.
        last = onset_index + round(SUSTAIN_WINDOW_S[1] * rate_hz)
        samples = sosfilt(_band_pass(low, high, rate_hz), samples[:last])
        quiet = noise_power(noise, (low, high))
    sustain = window_power(samples, onset_index, rate_hz, SUSTAIN_WINDOW_S, quiet)
    last = onset_index + round(ATTACK_WINDOW_S[1] * rate_hz)
    peak = float(np.abs(samples[onset_index:last]).max(initial=0.0))
    if sustain is None or peak <= 0.0:
        return None
    return float(amplitude_to_db(peak / np.sqrt(sustain)))


def mean_known(values: Sequence[float | None]) -> float | None:
    """Mean of what was measured; None when nothing was."""
    known = [value for value in values if value is not None and np.isfinite(value)]
    return float(np.mean(known)) if known else None
