"""How much sharper the events of a passage begin than they go on: how hard each was picked.

A string pulled aside is tighter (:mod:`tonecompare.measure.partials.pitch_glide`); within the
quarter of a second that a note of a riff lasts its pitch falls by some of that, whatever the pickup
makes of it. The notes of an event need not be known: every peak that stands out falls by the cents
of its string, and the middle of them counts. Where the peaks disagree (strings struck together,
whose partials lie close) the event tells less, and its standard error says so.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import PluckSignal
from tonecompare.takes.hann import hann
from tonecompare.units import ratio_to_cents

#: Length of both windows; where the early one begins after the onset, and the late one at most.
_WINDOW_S, _EARLY_S, _LATEST_S = 0.09, 0.02, 0.40
#: The late window ends so long before the next event; both stand at least so far apart.
_BEFORE_NEXT_S, _LEAST_APART_S = 0.01, 0.08
#: Frequency is the phase's advance over this time.
_ADVANCE_S = 0.02
#: Peaks between these, the largest within so many Hz, no further under the largest of all.
_LOWEST_HZ, _HIGHEST_HZ, _ALONE_HZ, _DEEPEST_DB = 70.0, 3000.0, 30.0, 35.0
#: How finely one peak tells: cents, and cents times its Hz; Huber's bound and steps.
_CENTS, _CENTS_HZ, _HUBER, _STEPS = 0.3, 600.0, 1.5, 8
#: An event whose peaks agree no better than this tells nothing.
_LEAST_SURE_CENTS = 0.5
_OVERSAMPLED = 8
_UNKNOWN = (float("nan"), float("nan"))


def glide_of_events(signal: PluckSignal, *, events_s: Sequence[float]) -> FloatArray:
    """Return by how many cents the pitch falls within each event, and the standard error of that.

    ``1200 lg2(f_early / f_late)`` of every peak of the spectrum, f by the advance of its phase in
    20 ms (Flanagan & Golden, Bell Syst. Tech. J. 45 (1966), from memory); Huber's mean over them.

    Parameters
    ----------
    signal
        The passage's samples from its first onset on.
    events_s
        When each event begins, seconds from the first onset.

    Returns
    -------
    ndarray
        Shape (events, 2), cents, positive where an event begins sharp; NaN where it is too short
        or its peaks disagree.
    """
    ends_s = [*events_s[1:], signal.samples.size / signal.rate_hz]
    return np.array(
        [_glide(signal, start, stop) for start, stop in zip(events_s, ends_s, strict=True)]
    ).reshape(-1, 2)


def _glide(signal: PluckSignal, start_s: float, stop_s: float) -> tuple[float, float]:
    rate_hz = signal.rate_hz
    count, step = round(_WINDOW_S * rate_hz), round(_ADVANCE_S * rate_hz / 2.0)
    early = round((start_s + _EARLY_S) * rate_hz)
    latest = round((start_s + _LATEST_S) * rate_hz)
    late = min(round((stop_s - _BEFORE_NEXT_S) * rate_hz) - count, latest)
    places = (early - step, early + step, late - step, late + step)
    if late - early < _LEAST_APART_S * rate_hz or places[0] < 0:
        return _UNKNOWN
    if places[-1] + count > signal.samples.size:
        return _UNKNOWN
    window, size = hann(count), _OVERSAMPLED * 1 << (count - 1).bit_length()
    one, other, third, fourth = (
        np.fft.rfft(signal.samples[place : place + count] * window, size) for place in places
    )
    peaks = _peaks(np.sqrt(np.abs(one * third)), rate_hz / size)
    if not peaks.size:
        return _UNKNOWN
    hz = np.asarray(peaks * (rate_hz / size), dtype=np.float64)
    apart_s = 2.0 * step / rate_hz
    early_hz = _frequency(one[peaks], other[peaks], hz, apart_s)
    late_hz = _frequency(third[peaks], fourth[peaks], hz, apart_s)
    cents, se = _middle(ratio_to_cents(early_hz / late_hz), np.hypot(_CENTS, _CENTS_HZ / hz))
    return (cents, se) if se < _LEAST_SURE_CENTS else _UNKNOWN


def _peaks(magnitude: FloatArray, bin_hz: float) -> NDArray[np.intp]:
    """Bins of the peaks that stand alone."""
    low, high = round(_LOWEST_HZ / bin_hz), round(_HIGHEST_HZ / bin_hz)
    beside = round(_ALONE_HZ / bin_hz)
    inside = magnitude[: high + 1]
    bins = np.arange(max(low, 1), min(high, inside.size - 1))
    rises = (inside[bins] > inside[bins - 1]) & (inside[bins] >= inside[bins + 1])
    found = bins[rises]
    alone = [inside[max(0, k - beside) : k + beside + 1].max() <= inside[k] for k in found]
    found = found[np.array(alone, dtype=bool)]
    loudest = float(inside[found].max(initial=0.0))
    return np.asarray(found[inside[found] > loudest * 10.0 ** (-_DEEPEST_DB / 20.0)], np.intp)


def _frequency(
    first: NDArray[np.complex128],
    second: NDArray[np.complex128],
    about_hz: FloatArray,
    apart_s: float,
) -> FloatArray:
    turned = np.angle(second * np.conj(first)) - 2.0 * np.pi * about_hz * apart_s
    wrapped = (turned + np.pi) % (2.0 * np.pi) - np.pi
    return np.asarray(about_hz + wrapped / (2.0 * np.pi * apart_s))


def _middle(cents: FloatArray, sd: FloatArray) -> tuple[float, float]:
    """Huber's mean over the peaks, and its standard error by how they scatter."""
    middle = float(np.median(cents))
    weight = sd**-2.0
    for _ in range(_STEPS):
        far = np.maximum(np.abs(cents - middle), 1e-9)
        weight = sd**-2.0 * np.minimum(1.0, _HUBER * sd / far)
        middle = float((weight * cents).sum() / weight.sum())
    scatter = float(np.sqrt(np.square(weight * (cents - middle)).sum()) / weight.sum())
    return middle, max(scatter, float(weight.sum() ** -0.5))
