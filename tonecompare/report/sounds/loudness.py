"""Loudness and true peak of short sounds after ITU-R BS.1770, without gating.

Gating drops the quiet end of a decaying note and so reads two notes of different decay unlike;
here the power over a fixed window counts.
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
from scipy import signal

from tonecompare.arrays import FloatArray

#: From the onset: as long as a pluck's loudness takes to be heard, whatever rings on after it.
WINDOW_S = 1.0
#: The constant of BS.1770, which makes 0 dBFS at 997 Hz in one channel read -3.01 LKFS.
LKFS_DB = -0.691
#: K-weighting of ITU-R BS.1770 at any rate: gain in dB, Q, corner in Hz and kind of each filter.
#: The analogue filters behind the standard's table of coefficients at 48 kHz.
_K_WEIGHTING = (
    (3.99984385397, 0.7071752369554193, 1681.9744509555319, "high_shelf_DeMan"),
    (0.0, 0.5003270373253953, 38.13547087613982, "high_pass_DeMan"),
)
_OVERSAMPLED = 4


def k_weighted_db(
    samples: FloatArray, rate_hz: float, *, start_s: float = 0.0, length_s: float | None = None
) -> float:
    """Return the ungated K-weighted level (ITU-R BS.1770 filters) in dB, ``-inf`` for silence.

    Parameters
    ----------
    samples
        One channel, shape (n,).
    rate_hz
        Its rate.
    start_s, length_s
        The window counted; all of it when left out. The filter runs over all of it.
    """
    weighted = samples
    for gain_db, q, corner_hz, kind in _K_WEIGHTING:
        stage = pyloudnorm.IIRfilter(gain_db, q, corner_hz, rate_hz, kind)
        weighted = stage.apply_filter(weighted)
    first = round(start_s * rate_hz)
    last = weighted.size if length_s is None else first + round(length_s * rate_hz)
    counted = weighted[first:last]
    power = float(np.mean(np.square(counted))) if counted.size else 0.0
    return 10.0 * float(np.log10(power)) if power > 0 else float("-inf")


def true_peak_db(samples: FloatArray) -> float:
    """Return the largest value between samples too, in dBTP (BS.1770 annex 2: 4 x oversampled)."""
    if not samples.size:
        return float("-inf")
    fine = signal.resample_poly(samples, _OVERSAMPLED, 1)
    peak = max(float(np.abs(fine).max()), float(np.abs(samples).max()))
    return 20.0 * float(np.log10(peak)) if peak > 0 else float("-inf")
