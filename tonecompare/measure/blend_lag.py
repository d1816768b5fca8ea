"""The lag one reads off two outputs: the strongest correlation of their waves, travel included.

Generalised cross-correlation with phase transform (Knapp & Carter 1976) over 150 Hz–3 kHz of the
first half second: ``c(tau) = F^-1{ M* P / |M P| }``. Unlike the electronic delay it holds the
string's travel time (and the air's, for a microphone). For a pickup against a saddle it has two
equal extrema of opposite sign at ± d/c (quadrature), so its sign tells polarity only where one
extremum stands out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft

from tonecompare.measure.blend_model import BlendPair

_BAND_HZ = (150.0, 3000.0)
_USED_S = 0.5
#: Lags looked at, seconds either way.
REACH_S = 0.02
#: Padding of the transform: steps of a sixteenth of a sample.
_FINER = 16
#: An extremum stands out when no other, half a millisecond away, reaches this share of it.
_STANDS_OUT = 0.8
_APART_S = 0.5e-3


@dataclass(frozen=True)
class Lag:
    """Lag of the piezo output behind the magnetic, and the sign of the strongest correlation."""

    lag_s: float
    #: 1 or -1; None when another extremum is about as strong.
    sign: int | None
    #: Height of the extremum; 1 for one signal on both outputs.
    height: float


def correlation_lag(pair: BlendPair) -> Lag | None:
    """Return the lag of the strongest correlation of two outputs.

    Parameters
    ----------
    pair
        One pluck on both outputs.

    Returns
    -------
    Lag or None
        None when an output is silent or less than 50 ms rang.
    """
    rate_hz = pair.rate_hz
    start = max(pair.onset_index - round(0.005 * rate_hz), 0)
    stop = min(pair.magnetic.size, pair.onset_index + round(_USED_S * rate_hz))
    if stop - pair.onset_index < 0.05 * rate_hz:
        return None
    size = int(scipy.fft.next_fast_len(2 * (stop - start), real=True))
    magnetic = scipy.fft.rfft(pair.magnetic[start:stop], size)
    piezo = scipy.fft.rfft(pair.piezo[start:stop], size)
    hz = np.arange(magnetic.size) * rate_hz / size
    inside = (hz >= _BAND_HZ[0]) & (hz <= _BAND_HZ[1])
    cross = np.conj(magnetic) * piezo
    strength = np.abs(cross)
    if not np.any(strength[inside] > 0.0):
        return None
    white = np.where(inside & (strength > 0.0), cross / np.maximum(strength, 1e-300), 0.0)
    fine = scipy.fft.irfft(white, _FINER * size) * (_FINER * size / (2.0 * inside.sum()))
    step_s = 1.0 / (_FINER * rate_hz)
    reach = round(REACH_S / step_s)
    values = np.concatenate([fine[-reach:], fine[: reach + 1]])
    best = int(np.argmax(np.abs(values)))
    others = np.abs(np.arange(values.size) - best) * step_s > _APART_S
    rival = float(np.abs(values[others]).max(initial=0.0))
    height = float(np.abs(values[best]))
    clear = rival < _STANDS_OUT * height
    sign = int(np.sign(values[best])) if clear else None
    return Lag((best - reach) * step_s, sign, height)
