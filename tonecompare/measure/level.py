"""How loud and how quick: level, peak, distance from the quiet, attack."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import maximum_filter1d

from tonecompare.measure.model import Measured, unmeasured
from tonecompare.measure.signal import LEVEL_WINDOW_S, PluckSignal
from tonecompare.units import amplitude_to_db, mean_square_to_dbfs

#: Where the peak of the attack is looked for, seconds from the onset.
ATTACK_WINDOW_S = 0.05
#: The attack ends where the crest first reaches this share of the largest one.
ATTACK_SHARE = 0.9
_DB = 10.0 / np.log(10.0)
#: What 0.1 ms of doubt about the onset makes of the level of a note that falls by 40 dB/s.
_ONSET_DB = 0.004


def measure_level(signal: PluckSignal) -> dict[str, Measured]:
    """Level, peak and signal-to-noise ratio of a pluck.

    level_dbfs is the RMS over 0.05–0.55 s with the quiet's mean square subtracted, re a full-scale
    sine (AES17); peak_dbfs the largest sample of the whole pluck re 1.0; snr_db the level over the
    quiet's. For a signal of power P in white noise of power q over N samples the mean square has
    the variance (4 P q + 2 q²) / N.

    Returns
    -------
    dict
        ``level_dbfs``, ``peak_dbfs``, ``snr_db``.
    """
    peak = float(np.max(np.abs(signal.samples), initial=0.0))
    result = {"peak_dbfs": _peak(peak)}
    limits = signal.window(LEVEL_WINDOW_S)
    if limits is None:
        reason = f"rang for only {signal.ring_s:.2f} s"
        result["level_dbfs"] = unmeasured("dBFS", reason)
        result["snr_db"] = unmeasured("dB", reason)
        return result
    first, last = limits
    whole = float(signal.energy[last] - signal.energy[first]) / (last - first)
    quiet = signal.noise_power()
    net = whole - quiet
    if net <= 0.1 * quiet or net <= 0.0:
        result["level_dbfs"] = unmeasured("dBFS", "does not stand above the quiet")
        result["snr_db"] = unmeasured("dB", "does not stand above the quiet")
        return result
    window_s = (first / signal.rate_hz + signal.lag_s, last / signal.rate_hz + signal.lag_s)
    lines = 0.0 if signal.noise is None else float(np.sum(signal.noise.line_power))
    floor = max(quiet - lines, 0.0)
    variance = (4.0 * net * floor + 2.0 * floor**2) / (last - first)
    beat = 2.0 * np.sqrt(net * lines) / (2.0 * np.pi * 20.0 * (window_s[1] - window_s[0]))
    sd = float(np.hypot(_DB * np.hypot(np.sqrt(variance), beat) / net, _ONSET_DB))
    level = float(mean_square_to_dbfs(net))
    result["level_dbfs"] = Measured(level, "dBFS", sd, window_s, "RMS less quiet")
    if quiet > 0.0:
        ratio = level - float(mean_square_to_dbfs(quiet))
        result["snr_db"] = Measured(ratio, "dB", sd, window_s, "level over quiet")
    else:
        result["snr_db"] = unmeasured("dB", "no quiet was found")
    return result


def _peak(peak: float) -> Measured:
    if peak <= 0.0:
        return unmeasured("dBFS", "digital silence")
    return Measured(float(amplitude_to_db(peak)), "dBFS", 0.0, method="largest sample")


def measure_attack(signal: PluckSignal, *, onset_sd_s: float = 2e-4) -> dict[str, Measured]:
    """Attack: from the onset to where the crest first reaches 90 % of the largest in 50 ms.

    The crest is the running maximum of |x|, so that the figure does not depend on where a
    zero crossing falls. Its uncertainty is that of the onset and of one sample.

    Returns
    -------
    dict
        ``attack_ms``.
    """
    span = round(ATTACK_WINDOW_S * signal.rate_hz)
    head = np.abs(signal.samples[:span])
    if head.size < span or not np.any(head > 0.0):
        return {"attack_ms": unmeasured("ms", f"rang for only {signal.ring_s:.3f} s")}
    crest = maximum_filter1d(head, size=max(1, round(2e-4 * signal.rate_hz)))
    top = float(crest.max())
    if signal.noise is not None and top < 6.0 * np.sqrt(signal.noise_power()):
        return {"attack_ms": unmeasured("ms", "the attack does not stand above the quiet")}
    reached = int(np.argmax(head >= ATTACK_SHARE * top))
    value_ms = 1e3 * (reached / signal.rate_hz + signal.lag_s)
    sd_ms = 1e3 * float(np.hypot(onset_sd_s, 0.5 / signal.rate_hz))
    return {"attack_ms": Measured(value_ms, "ms", sd_ms, (0.0, ATTACK_WINDOW_S), "crest to 90 %")}
