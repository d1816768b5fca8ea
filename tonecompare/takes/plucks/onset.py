"""Place the onset of a pluck: the sample at which the string is let go.

A model that predicts each sample from the ones before it (autoregressive, fitted on the stretch
before the pluck) follows hum and whatever still rings, and fails at the first sample that is new.
The onset is the change point of its prediction error by Akaike's criterion, as seismologists pick
the arrival of a wave (Sleeman & van Eck 1999, Phys. Earth Planet. Inter. 113, 265–275):

``AIC(k) = k ln var(e[0:k]) + (n - k) ln var(e[k:n])``, smallest at the onset.

Before a pick lets the string go it pushes it aside for some 20–60 ms, which already moves the
string at a hundredth of the pluck's amplitude, and slips off it with a faint noise. That is not
the pluck: the change point is looked for only some milliseconds around the place at which the
prediction error first comes near its largest value. On 16 sets of four real plucks of a note the
starts then agree to 0.2 ms (median standard deviation of the lags that align their waveforms),
with a search over 20 ms to 0.5 ms.

How sure an onset is. The motion comes out of the noise only some way up its rise, so what is seen
first depends on the noise. The rise is taken as a constant factor per time from three standard
deviations of the prediction error at the onset to half of its largest value; carried to 1 % of that
value it says how far the onset would move with another noise, and that distance is the main part
of the standard uncertainty. The rest is the width of the criterion, read as a likelihood
(``exp(-AIC/2)``), and half a sample.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter

from tonecompare.arrays import FloatArray
from tonecompare.takes.extremes import largest_within
from tonecompare.takes.hann import hann

#: Order of the predictor at 44.1 kHz; it grows with the rate, so that it spans the same time.
ORDER_AT_44100 = 32
#: The predictor is fitted on this stretch before the rough time …
FIT_S = 0.100
#: … that ends this long before it.
GUARD_S = 0.040
#: The onset is looked for this long before and after the rough time, which may be that of the
#: pick's touch.
SEARCH_BEFORE_S, SEARCH_AFTER_S = 0.015, 0.100

_SMOOTH_S = 0.001
_COMES_ROUND_S = (0.003, 0.015)
_NEAR_LARGEST = 0.05
_OVER_KNOWN = 4.0
_LOOK_BACK_S = 0.006
_LOOK_ON_S = 0.004
_LEAST_SIDE = 8
#: The rise: seen from this many standard deviations of the error before, to this share of its
#: largest value; motion counts from this share on.
_SEEN_SD, _UP_SHARE, _MOTION_SHARE = 3.0, 0.5, 0.01


@dataclass(frozen=True)
class Onset:
    """When a string is let go, with the standard uncertainty; None where nothing tells."""

    time_s: float
    sd_s: float | None


def find_onset(samples: FloatArray, *, rate_hz: float, near_s: float) -> Onset:
    """Find the onset from a rough time within about 15 ms of it.

    Parameters
    ----------
    samples
        One channel, shape (n,).
    rate_hz
        Sample rate.
    near_s
        Rough time of the pluck.

    Returns
    -------
    Onset
        Seconds from the start of the file; 0.0 of unknown uncertainty when the file begins inside
        the pluck.
    """
    order = max(8, round(ORDER_AT_44100 * rate_hz / 44100.0))
    near = round(near_s * rate_hz)
    fit_end = near - round(GUARD_S * rate_hz)
    fit_start = max(0, fit_end - round(FIT_S * rate_hz))
    if fit_end - fit_start < 4 * order:
        return _onset_at_file_start(samples, rate_hz=rate_hz, near_s=near_s)
    error_filter = prediction_error_filter(samples[fit_start:fit_end], order=order)
    first = max(order, near - round(SEARCH_BEFORE_S * rate_hz))
    start = max(order, first - round(_LOOK_BACK_S * rate_hz))
    end = min(len(samples), near + round(SEARCH_AFTER_S * rate_hz))
    # An offset of the recording is no error of the prediction.
    zero = float(samples[fit_start:fit_end].mean())
    error = np.convolve(samples[start - order : end] - zero, error_filter, "valid")
    known = np.convolve(samples[fit_start:fit_end] - zero, error_filter, "valid")
    reached = first - start
    reached += _first_near_largest(error[reached:], rate_hz=rate_hz, known=float(np.mean(known**2)))
    low = max(0, reached - round(_LOOK_BACK_S * rate_hz))
    high = min(len(error), reached + round(_LOOK_ON_S * rate_hz))
    found, width = change_point(error[low:high])
    sd_s = _onset_sd_s(error[low:high], found, width, rate_hz=rate_hz)
    return Onset((start + low + found) / rate_hz, sd_s)


def _onset_sd_s(error: FloatArray, found: int, width: float, *, rate_hz: float) -> float | None:
    """Return how sure a change point in a prediction error is (see the top of the module)."""
    if found == 0:
        return None
    size = np.abs(error[found:])
    largest = float(size.max())
    if largest <= 0.0:
        return None
    before = float(np.sqrt(np.mean(error[:found] ** 2)))
    seen = np.clip(_SEEN_SD * before / largest, 1e-4, 0.8 * _UP_SHARE)
    rise = int(np.argmax(size >= _UP_SHARE * largest))
    moves = rise * np.log(_MOTION_SHARE / seen) / np.log(_UP_SHARE / seen)
    return float(np.sqrt(moves**2 + width**2 + 0.25)) / rate_hz


def prediction_error_filter(samples: FloatArray, *, order: int) -> FloatArray:
    """Autocorrelation-method linear prediction: coefficients ``1, -a_1 … -a_order``.

    Hann-windowed autocorrelation, normal equations solved by Levinson's recursion. A trace of
    white noise (-90 dB of the power, and a 24-bit step) keeps digital silence solvable.
    """
    windowed = (samples - samples.mean()) * hann(len(samples))
    padded = np.concatenate([windowed, np.zeros(order)])
    correlation = np.correlate(padded, windowed, "valid")
    correlation[0] = correlation[0] * (1.0 + 1e-9) + len(samples) * 1e-15
    return np.concatenate([[1.0], -solve_toeplitz(correlation[:-1], correlation[1:])])


def change_point(error: FloatArray) -> tuple[int, float]:
    """Index at which the variance of a sequence changes most credibly (Akaike's criterion).

    With it the standard deviation of the likelihood over the indices.
    """
    n = len(error)
    if n < 4 * _LEAST_SIDE:
        return 0, 0.0
    total = np.cumsum(error**2)
    k = np.arange(_LEAST_SIDE, n - _LEAST_SIDE)
    before = total[k - 1] / k
    after = (total[-1] - total[k - 1]) / (n - k)
    tiny = 1e-30
    criterion = k * np.log(before + tiny) + (n - k) * np.log(np.maximum(after, 0.0) + tiny)
    found = int(np.argmin(criterion))
    likely = np.exp(-0.5 * (criterion - criterion[found]))
    width = np.sqrt(np.sum(likely * (k - k[found]) ** 2.0) / np.sum(likely))
    return int(k[found]), float(width)


def _onset_at_file_start(samples: FloatArray, *, rate_hz: float, near_s: float) -> Onset:
    """Onset with little or nothing before it to learn from.

    The predictor is fitted on what there is before the first steep step, or, when that is too
    short, replaced by the difference of neighbouring samples. 0.0 when the file begins with the
    sound: no change from quiet to sound by 13 dB or more.
    """
    head = samples[: round((near_s + SEARCH_AFTER_S) * rate_hz)]
    step = np.diff(head, prepend=head[:1])
    reached = _first_near_largest(step, rate_hz=rate_hz)
    known = reached - round(0.002 * rate_hz)
    order = min(round(ORDER_AT_44100 * rate_hz / 44100.0), known // 8)
    skip = 0
    if order >= 8:
        skip = max(order, reached - round(_LOOK_BACK_S * rate_hz))
        error_filter = prediction_error_filter(head[:known], order=order)
        step = lfilter(error_filter, [1.0], head - samples.mean())
    error = step[skip : reached + round(_LOOK_ON_S * rate_hz)]
    found, width = change_point(error)
    before = float(np.mean(error[:found] ** 2)) if found else np.inf
    if before > 0.05 * float(np.mean(error[found:] ** 2)):
        return Onset(0.0, None)
    return Onset((skip + found) / rate_hz, _onset_sd_s(error, found, width, rate_hz=rate_hz))


def _first_near_largest(error: FloatArray, *, rate_hz: float, known: float = 0.0) -> int:
    """Index at which lasting power first comes within 13 dB of its largest value.

    It must besides stand 6 dB over the power known before, or half way to the largest.

    Lasting is the power over 1 ms, but no more than the largest 3–15 ms later: a click has none
    left by then, a string comes round again.
    """
    smooth = max(1, round(_SMOOTH_S * rate_hz))
    total = np.cumsum(np.concatenate([[0.0], error**2]))
    index = np.arange(len(error))
    power = total[index + 1] - total[np.maximum(index + 1 - smooth, 0)]
    first, last = (round(each * rate_hz) for each in _COMES_ROUND_S)
    if len(power) > 2 * last:
        size = last - first + 1
        later = largest_within(np.concatenate([power[first:], np.zeros(size - 1)]), size)
        power = np.minimum(power[: len(later)], later)
    largest = float(power.max())
    over_known = min(_OVER_KNOWN * known * smooth, 0.5 * largest)
    return int(np.argmax(power >= max(_NEAR_LARGEST * largest, over_known)))
