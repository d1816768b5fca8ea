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

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.results import BlendPair

_BAND_HZ = (150.0, 3000.0)
_USED_S = 0.5
#: Lags looked at, seconds either way.
REACH_S = 0.02
#: Padding of the transform: steps of half a sample, so that the band, 3 kHz at most, is followed
#: in steps of less than a quarter of a radian and a parabola meets the top between them.
_FINER = 2
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
    # Padded by the largest lag, so that nothing wraps round into what is looked at.
    size = int(scipy.fft.next_fast_len(stop - start + round(REACH_S * rate_hz), real=True))
    magnetic = scipy.fft.rfft(pair.magnetic[start:stop], size)
    piezo = scipy.fft.rfft(pair.piezo[start:stop], size)
    hz = np.arange(magnetic.size) * rate_hz / size
    inside = (hz >= _BAND_HZ[0]) & (hz <= _BAND_HZ[1])
    cross = np.conj(magnetic[inside]) * piezo[inside]
    strength = np.abs(cross)
    if not np.any(strength > 0.0):
        return None
    white = np.zeros(magnetic.size, dtype=np.complex128)
    white[inside] = np.where(strength > 0.0, cross / np.maximum(strength, 1e-300), 0.0)
    fine = scipy.fft.irfft(white, _FINER * size) * (_FINER * size / (2.0 * inside.sum()))
    step_s = 1.0 / (_FINER * rate_hz)
    reach = round(REACH_S / step_s)
    values = np.concatenate([fine[-reach - 1 :], fine[: reach + 2]])
    best = 1 + int(np.argmax(np.abs(values[1:-1])))
    others = np.abs(np.arange(values.size) - best) * step_s > _APART_S
    rival = float(np.abs(values[others]).max(initial=0.0))
    offset, height = _vertex(np.abs(values[best - 1 : best + 2]))
    clear = rival < _STANDS_OUT * height
    sign = int(np.sign(values[best])) if clear else None
    return Lag((best + offset - reach - 1) * step_s, sign, height)


def _vertex(around: FloatArray) -> tuple[float, float]:
    """Offset in steps and height of the parabola through a maximum and its neighbours."""
    before, top, after = (float(value) for value in around)
    bend = before - 2.0 * top + after
    if bend >= 0.0:
        return 0.0, top
    offset = float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5))
    return offset, top - 0.25 * (before - after) * offset
