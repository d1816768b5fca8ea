"""Whether a rise brings new sound, or what rings only goes on: plucks against fret buzz.

A string that grazes a fret, or a finger on a winding, raises the high bands much as a soft pluck
does. Below 1.5 kHz they differ: there the partials simply go on, so that each can be foretold from
the moments before (its complex amplitude turns and decays at a constant rate). A re-pluck of the
string breaks the phases; another string puts power where there was none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft

from tonecompare.arrays import FloatArray
from tonecompare.takes.extremes import largest_within
from tonecompare.takes.hann import hann

LOWEST_HZ, HIGHEST_HZ = 60.0, 1500.0

_WINDOW_S = 0.093
_ENDS_BEFORE_S = 0.010
_BEGINS_AFTER_S = 0.005
_LATER_S = 0.055
_NEW_FACTOR = 10.0
_PEAK_RANGE = 1e-3
_FASTEST_GROWTH = 1.05


@dataclass(frozen=True)
class NewSound:
    """How a sound goes on over a rise; shares of the power from 60 Hz to 1.5 kHz after it.

    ``risen`` is ``sum max(P_after - 2 P_before, 0)``, ``elsewhere`` the power in bins where it is
    over ten times what it was around there, just after the rise and 55 ms later (the smaller).
    ``broken`` is ``sum |A - A_foretold|² / sum (|A|² + |A_foretold|²)`` over the partials that
    rang before: 0 when they go on, about 1 when they do not.
    """

    risen: float
    elsewhere: float
    broken: float

    @property
    def same_string(self) -> bool | None:
        """Whether what rang was plucked again; None when it cannot be told."""
        if self.broken < 0.1:
            return False
        return True if self.elsewhere < 0.1 else None


def new_sound(samples: FloatArray, *, rate_hz: float, at_s: float) -> NewSound | None:
    """Compare windows of 93 ms before and after a rise.

    With ``B1``, ``B2`` the spectra of two windows before, half as far apart as the second is from
    the one after, a partial that goes on has ``A = B2 (B2 / B1)²``.

    Parameters
    ----------
    samples
        Shape (channels, n).
    rate_hz
        Sample rate.
    at_s
        Time of the rise.

    Returns
    -------
    NewSound or None
        The largest values over the channels; None when the file has too little before or after.
    """
    n = scipy.fft.next_fast_len(round(_WINDOW_S * rate_hz), real=True)
    at = round(at_s * rate_hz)
    second = at - round(_ENDS_BEFORE_S * rate_hz) - n
    hop = (at + round(_BEGINS_AFTER_S * rate_hz) - second) // 2
    first, after = second - hop, second + 2 * hop
    later = after + round(_LATER_S * rate_hz)
    if first < 0 or later + n > samples.shape[1]:
        return None
    window = hann(n)
    bins = slice(round(LOWEST_HZ * n / rate_hz), round(HIGHEST_HZ * n / rate_hz))

    parts = np.stack([samples[:, at : at + n] for at in (first, second, after, later)])
    b1, b2, a, much_later = scipy.fft.rfft(parts * window, axis=2)[:, :, bins]
    before, now, soon = (each.real**2 + each.imag**2 for each in (b2, a, much_later))
    tiny = np.finfo(float).tiny
    total = now.sum(axis=1) + tiny
    around = _NEW_FACTOR * largest_within(np.pad(before, ((0, 0), (1, 1)), mode="edge"), 3)
    elsewhere = np.minimum(
        np.where(now > around, now, 0.0).sum(axis=1) / total,
        np.where(soon > around, soon, 0.0).sum(axis=1) / (soon.sum(axis=1) + tiny),
    )
    return NewSound(
        risen=float((np.maximum(now - 2.0 * before, 0.0).sum(axis=1) / total).max()),
        elsewhere=float(elsewhere.max()),
        broken=float(_broken(b1, b2, a).max()),
    )


def _broken(b1: np.ndarray, b2: np.ndarray, a: np.ndarray) -> FloatArray:
    tiny = np.finfo(float).tiny
    turn = b2 / np.where(np.abs(b1) > 0.0, b1, tiny)
    size = np.maximum(np.abs(turn), tiny)
    foretold = b2 * (turn / size * np.minimum(size, _FASTEST_GROWTH)) ** 2
    power = np.abs(b2) ** 2
    peaks = np.zeros(power.shape)
    peaks[:, 1:-1] = (
        (power[:, 1:-1] >= power[:, :-2])
        & (power[:, 1:-1] > power[:, 2:])
        & (power[:, 1:-1] > _PEAK_RANGE * power.max(axis=1, keepdims=True))
    )
    missed = (np.abs(a - foretold) ** 2 * peaks).sum(axis=1)
    both = ((np.abs(a) ** 2 + np.abs(foretold) ** 2) * peaks).sum(axis=1)
    return np.asarray(missed / np.maximum(both, tiny))
