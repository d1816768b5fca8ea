"""Which notes sound together: one string, or several struck within a moment.

A string's partials stand at ``n f0 sqrt((1 + B n²)/(1 + B))`` (Fletcher 1964). From the lowest up,
a tone that is no partial of a note found before is a note of its own; octaves, twelfths and what
else falls onto the partials of a lower note cannot be told from it and are not named. What is left
may still be one string whose fundamental is weak, so that its partials 2, 3 and 5 look like a
chord: a string has a 7th, 11th and 13th partial, too, which the notes of a chord have not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.fft
from scipy.ndimage import median_filter

from tonecompare.arrays import FloatArray
from tonecompare.takes.hann import hann
from tonecompare.takes.plucks.note_of_pluck import channel_powers

#: Window from the onset: past the strum, long enough to part a semitone at E2 (4.9 Hz).
STRUCK_WITHIN_S = 0.15
WINDOW_S = 0.80
SHORTEST_WINDOW_S = 0.35
#: MIDI numbers looked for: E1 to F6.
LOWEST_NOTE, HIGHEST_NOTE = 28, 89
#: A tone this far over the median around it, and over the quiet, is one.
OVER_AROUND_DB, OVER_QUIET_DB, OVER_RINGING_DB = 14.0, 10.0, 4.0
#: A note's first partial lies at most this far under the loudest tone; high ones, which would be
#: partials of something else, half a decibel less a semitone from E4 on.
FIRST_PARTIAL_DB = 24.0
#: From the first half of the window to the second a note of a chord comes up by no more than
#: this, and falls by no more than this against the one that rings best.
COMES_UP_DB, VANISHES_DB = 6.0, 20.0
#: Of the first five partials this many must be there.
LEAST_PARTIALS = 3
#: A usual stretch of guitar strings; the tolerance grows with it.
_INHARMONICITY = 5e-5
_NOTE_CENTS, _PARTIAL_CENTS, _STRETCH_CENTS = 30.0, 22.0, 0.087
_NARROWEST_HZ = 1.2
_DEEPEST_DB, _SKIRT_DB, _SKIRT_HZ = 60.0, 25.0, 10.0
_AROUND_HZ, _EVERY = 60.0, 4
_HIGHEST_HZ = 4000.0
_SERIES_PARTIALS, _SERIES_SHARE, _LOWEST_SERIES_HZ = 10, 0.8, 25.0
#: Partials that no chord of partials 2, 3, 4, 5, 6, 8 … of one series has.
_TELLING = (1, 7, 11, 13)
_TELLING_DB = 20.0


@dataclass(frozen=True)
class Tones:
    """Spectral peaks that stand out: ``hz`` ascending, ``level_db`` re the loudest."""

    hz: FloatArray
    level_db: FloatArray

    def near(self, hz: float, *, cents: float) -> int | None:
        """Return the loudest tone within ``cents`` of a frequency, or within 1.2 Hz of it."""
        width = max(cents, 1200.0 * float(np.log2(1.0 + _NARROWEST_HZ / hz)))
        low, high = np.searchsorted(self.hz, hz * 2.0 ** (np.array([-width, width]) / 1200.0))
        return int(low + np.argmax(self.level_db[low:high])) if high > low else None


def sounding_notes(
    samples: FloatArray,
    *,
    rate_hz: float,
    onset_s: float,
    end_s: float,
    quiet: FloatArray | None = None,
    ringing: FloatArray | None = None,
    a4_hz: float = 440.0,
) -> tuple[int, ...]:
    """Find the notes that were struck together.

    Parameters
    ----------
    samples
        Shape (channels, n): the whole file.
    rate_hz
        Sample rate.
    onset_s, end_s
        The event's extent.
    quiet, ringing
        Samples of a quiet stretch, and of what rang just before; what they hold is not counted.
    a4_hz
        Tuning reference.

    Returns
    -------
    tuple of int
        MIDI numbers, ascending, each once: one for a single string, several for a chord, none
        where the sound is too short or nothing can be named.
    """
    tones = _tones(samples, rate_hz, onset_s, end_s, quiet, ringing)
    if tones is None:
        return ()
    found = _notes(tones, a4_hz)
    if len(found) < 2:
        return tuple(number for number, _ in found)
    series = _one_series(tones, [hz for _, hz in found])
    if series is not None:
        return (round(69 + 12 * float(np.log2(series / a4_hz))),)
    window = samples[:, slice(*_window(rate_hz, onset_s, end_s))]
    if not _together(window, rate_hz, [hz for _, hz in found]):
        return ()
    return tuple(number for number, _ in found)


def _window(rate_hz: float, onset_s: float, end_s: float) -> tuple[int, int]:
    start_s = onset_s + STRUCK_WITHIN_S
    return round(start_s * rate_hz), round(min(end_s, start_s + WINDOW_S) * rate_hz)


def _together(window: FloatArray, rate_hz: float, found_hz: Sequence[float]) -> bool:
    """Whether all notes sound from the first half of the window to the second.

    Of notes slurred one after the other the later ones come up and the earlier ones vanish.
    """
    half = window.shape[1] // 2
    time_s = np.arange(half) / rate_hz
    tones = np.exp(-2j * np.pi * np.outer(found_hz, time_s)) * hann(half)
    halves = [window[:, :half], window[:, half : 2 * half]]
    first, second = (
        10.0 * np.log10((np.abs(part @ tones.T) ** 2).sum(axis=0) + 1e-300) for part in halves
    )
    change = second - first
    return bool((change < COMES_UP_DB).all() and (change > change.max() - VANISHES_DB).all())


def _tones(
    samples: FloatArray,
    rate_hz: float,
    onset_s: float,
    end_s: float,
    quiet: FloatArray | None,
    ringing: FloatArray | None,
) -> Tones | None:
    start, stop = _window(rate_hz, onset_s, end_s)
    count = stop - start
    if count < SHORTEST_WINDOW_S * rate_hz:
        return None
    size = scipy.fft.next_fast_len(2 * count, real=True)
    step = rate_hz / size
    top = min(int(_HIGHEST_HZ / step) + 2, size // 2)
    power = channel_powers(samples[:, start:stop], size).sum(axis=0)[:top]
    bins = np.arange(2, top - 2)
    middle = power[bins]
    peak = (middle > power[bins - 1]) & (middle >= power[bins + 1])
    peak &= (middle > power[bins - 2]) & (middle >= power[bins + 2])
    at = bins[peak & (bins * step > 0.93 * _hz(LOWEST_NOTE, 440.0))]
    coarse = median_filter(power[::_EVERY], size=int(_AROUND_HZ / (_EVERY * step)) | 1)
    around = coarse[np.minimum(at // _EVERY, coarse.size - 1)]
    stands = power[at] > 10.0 ** (OVER_AROUND_DB / 10.0) * around
    for known, over_db in ((quiet, OVER_QUIET_DB), (ringing, OVER_RINGING_DB)):
        if known is not None and known.shape[1] > SHORTEST_WINDOW_S * rate_hz:
            there = channel_powers(known[:, -count:], size).sum(axis=0)[:top]
            largest = np.array([there[max(0, k - 8) : k + 9].max() for k in at])
            stands &= power[at] > 10.0 ** (over_db / 10.0) * largest
    at = at[stands]
    if at.size == 0:
        return None
    left, own, right = (np.log(power[at + shift] + 1e-300) for shift in (-1, 0, 1))
    hz = (at + 0.5 * (left - right) / (left - 2.0 * own + right)) * step
    level_db = 10.0 * np.log10(power[at] / power[at].max())
    close = np.abs(hz[:, None] - hz[None, :]) < _SKIRT_HZ
    loudest = np.where(close, level_db[None, :], -np.inf).max(axis=1)
    kept = (level_db > -_DEEPEST_DB) & (level_db > loudest - _SKIRT_DB)
    return Tones(hz[kept], level_db[kept])


def _hz(number: int, a4_hz: float) -> float:
    return float(a4_hz * 2.0 ** ((number - 69) / 12.0))


def _stretched(n: int) -> float:
    return n * math.sqrt((1.0 + _INHARMONICITY * n * n) / (1.0 + _INHARMONICITY))


def _cents_allowed(n: int) -> float:
    return _PARTIAL_CENTS + _STRETCH_CENTS * n * n


def _is_partial(hz: float, of_hz: float) -> bool:
    """Whether a frequency falls onto partial 2 … 16 of a note."""
    n = round(hz / of_hz)
    if not 2 <= n <= 16:
        return False
    cents = abs(1200.0 * float(np.log2(hz / (_stretched(n) * of_hz))))
    return cents < max(_cents_allowed(n), 1200.0 * float(np.log2(1.0 + _NARROWEST_HZ / hz)))


def _notes(tones: Tones, a4_hz: float) -> list[tuple[int, float]]:
    """List the notes from the lowest up, each with the frequency of its first partial."""
    found: list[tuple[int, float]] = []
    for number in range(LOWEST_NOTE, HIGHEST_NOTE + 1):
        first = tones.near(_hz(number, a4_hz), cents=_NOTE_CENTS)
        if first is None:
            continue
        hz = float(tones.hz[first])
        if tones.level_db[first] < -FIRST_PARTIAL_DB + max(0.0, 0.5 * (number - 64)):
            continue
        if any(_is_partial(hz, lower) for _, lower in found):
            continue
        there = sum(
            tones.near(_stretched(n) * hz, cents=_cents_allowed(n)) is not None for n in range(1, 6)
        )
        if there >= LEAST_PARTIALS:
            found.append((number, hz))
    return found


def _one_series(tones: Tones, found_hz: Sequence[float]) -> float | None:
    """Return the fundamental (Hz) whose partials all that was found is; None when there is none."""
    # A weak first partial may be drawn aside by what sounds beside it; the next one is not.
    for f0_hz in [hz / divisor for hz in found_hz[:2] for divisor in (1, 2, 3, 4)]:
        if f0_hz < _LOWEST_SERIES_HZ or f0_hz > 1.02 * found_hz[0]:
            continue
        others = [hz for hz in found_hz if abs(hz / f0_hz - 1.0) > 0.03]
        if not all(_is_partial(hz, f0_hz) for hz in others):
            continue
        levels = [_level(tones, f0_hz, n) for n in range(1, max(_TELLING) + 1)]
        there = [level for level in levels[:_SERIES_PARTIALS] if level is not None]
        if len(there) < _SERIES_SHARE * _SERIES_PARTIALS:
            continue
        usual = float(np.median(there))
        held = [round(hz / f0_hz) for hz in found_hz]
        telling = [
            levels[n - 1]
            for n in _TELLING
            if not any(n % each == 0 for each in held) or (n in held and n > 5)
        ]
        if any(level is not None and level > usual - _TELLING_DB for level in telling):
            return f0_hz
    return None


def _level(tones: Tones, f0_hz: float, n: int) -> float | None:
    at = tones.near(_stretched(n) * f0_hz, cents=_cents_allowed(n))
    return None if at is None else float(tones.level_db[at])
