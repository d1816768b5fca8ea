"""First motion on both outputs: a coarse lag that does not repeat with the period of the note."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from scipy.signal import butter, sosfiltfilt

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.delay.wiring_model import DELAY_RANGE_S
from tonecompare.measure.outputs.results import BlendPair

#: Band looked at: above thumps and hum, below the hiss of the top octave.
_BAND_HZ = (150.0, 6000.0)
#: The motion has begun where the envelope first passes this share of its early maximum.
_SHARE = 0.2
_EARLY_S = 0.012
_BEFORE_S = 0.015
#: The early maximum must stand this far above what came before.
_LEAST_RATIO = 8.0


@lru_cache(maxsize=16)
def _band_pass(high_hz: float, rate_hz: float) -> FloatArray:
    return np.asarray(butter(2, (_BAND_HZ[0], high_hz), btype="bandpass", fs=rate_hz, output="sos"))


def _first_motion(samples: FloatArray, onset: int, rate_hz: float) -> float | None:
    """Sample index where the motion begins, None when it does not stand above what came before."""
    start = max(0, onset - int(_BEFORE_S * rate_hz))
    stop = min(samples.size, onset + int(2 * _EARLY_S * rate_hz))
    high = min(_BAND_HZ[1], 0.4 * rate_hz)
    cut = samples[start:stop]
    if cut.size < int(_EARLY_S * rate_hz):
        return None
    size = np.abs(sosfiltfilt(_band_pass(high, rate_hz), cut))
    early = size[max(onset - start, 0) : onset - start + int(_EARLY_S * rate_hz)]
    before = size[: max(onset - start - int(0.003 * rate_hz), 0)]
    top = float(early.max(initial=0.0))
    if top <= 0.0 or (before.size and top < _LEAST_RATIO * float(np.sqrt(np.mean(before**2)))):
        return None
    first = np.flatnonzero(size >= _SHARE * top)
    return float(start + first[0])


def delay_range_s(pairs: Sequence[BlendPair]) -> tuple[float, float]:
    """Return where the electronic delay must lie by the first motions on both outputs, seconds.

    The piezo's first motion lags the magnetic's by the delay and by up to ±d/c of string travel,
    d/c < 0.45 / (2 f0), beside 0.5 ms for what the eye of a threshold misses. Taken over the
    median of all plucks. All of :data:`DELAY_RANGE_S` when no pluck shows a clear first motion.
    """
    lags = []
    for pair in pairs:
        first_m = _first_motion(pair.magnetic, pair.onset_index, pair.rate_hz)
        first_p = _first_motion(pair.piezo, pair.onset_index, pair.rate_hz)
        if first_m is not None and first_p is not None:
            lags.append((first_p - first_m) / pair.rate_hz)
    if not lags:
        return DELAY_RANGE_S
    lag = float(np.median(lags))
    half = 0.5e-3 + 0.45 / (2.0 * float(np.median([pair.f0_hz for pair in pairs])))
    low, high = max(DELAY_RANGE_S[0], lag - half), min(DELAY_RANGE_S[1], lag + half)
    return (low, high) if high - low > half else DELAY_RANGE_S
