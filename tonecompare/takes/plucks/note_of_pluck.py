"""Name the note of a pluck by its pitch.

The pitch is the lag of the first high peak of the autocorrelation of the *compressed* spectrum:
``r(tau) = IFFT(|X(f)|^0.66)`` after the quiet's power is taken off bin by bin. The root makes many
weak partials count as much as a few strong ones, so that a missing fundamental, a strong octave or
a mains line beside the fundamental do not mislead it. The partials near n f0 then give f0 to a
few cents; :mod:`tonecompare.measure` refines it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
import scipy.fft

from tonecompare.arrays import FloatArray, median_of_few
from tonecompare.session.note_names import note_name, note_number
from tonecompare.takes.hann import hann

#: Range of fundamentals looked for.
LOWEST_HZ, HIGHEST_HZ = 28.0, 1600.0
#: The window for the pitch, from the onset: the attack's noise and glide are left out, but never
#: more than a quarter of the note.
WINDOW_S = (0.04, 0.54)
SHORTEST_WINDOW_S = 0.03
#: Autocorrelation peaks below this are no pitch: white noise reaches 0.09, noise falling by 6 dB
#: per octave 0.21 (400 draws of 0.06–0.6 s).
LEAST_CLARITY = 0.21

#: What rang before an onset is read up to this long before it.
RINGING_GAP_S = 0.02
#: A pitch that explains this share of the power with a first partial this strong is one string.
ALONE_SHARE, ALONE_FIRST_DB = 0.97, -25.0

_COMPRESSION = 0.33
_HIGHEST_PARTIAL_HZ = 5000.0
_NEARLY_LARGEST = 0.85
_KNOWN_FACTOR = 4.0
_LOBE_ENDS = 0.1
_WEAK_PARTIAL = 1e-4
_LONG_S = 0.3
_SHORTEST_RINGING_S = 0.12


@dataclass(frozen=True)
class Pitch:
    """Fundamental, how clear it is (0 … 1) and whether another octave was nearly as good."""

    f0_hz: float
    clarity: float
    ambiguous: bool = False
    #: Share of the power up to partial 12 that its partials hold, and the first one's level re the
    #: strongest: a chord is named by a tone whose first partial is missing or which leaves some.
    explained: float = 1.0
    first_db: float = 0.0

    @property
    def alone(self) -> bool:
        """Whether this is surely one string, so that no chord need be looked for."""
        return self.explained > ALONE_SHARE and self.first_db > ALONE_FIRST_DB


@dataclass(frozen=True, eq=False)
class KnownSound:
    """What is there besides a pluck, such as a quiet stretch: samples (channels, n).

    Its spectrum is kept, since all plucks of a file ask for the same.
    """

    samples: FloatArray
    _kept: dict[tuple[int, int], FloatArray] = field(default_factory=dict, repr=False)

    def powers(self, count: int, size: int) -> FloatArray:
        """Power spectrum of the last ``count`` samples of each channel, see channel_powers."""
        if (count, size) not in self._kept:
            self._kept.clear()
            self._kept[count, size] = channel_powers(self.samples[:, -count:], size)
        return self._kept[count, size]


def nearest_note(f0_hz: float, *, a4_hz: float = 440.0) -> str:
    """Nearest equal-tempered note in scientific pitch notation, sharps only ("F#2")."""
    return note_name(round(69 + 12 * float(np.log2(f0_hz / a4_hz))))


def cents_from_note(f0_hz: float, *, a4_hz: float = 440.0) -> float:
    """Distance in cents from the nearest equal-tempered note, -50 … 50."""
    semitones = 12.0 * np.log2(f0_hz / a4_hz)
    return float(100.0 * (semitones - round(semitones)))


def note_hz(note: str, *, a4_hz: float = 440.0) -> float:
    """Frequency of a note name in Hz: ``a4 2^((m - 69)/12)``, m its MIDI number (ISO 16: 440)."""
    return float(a4_hz * 2.0 ** ((note_number(note) - 69) / 12.0))


def pitch_of_note(
    samples: FloatArray, *, rate_hz: float, onset_s: float, end_s: float, near_hz: float
) -> float:
    """Fundamental in Hz of a pluck whose note is known, from its partials near ``n near_hz``.

    Parameters
    ----------
    samples
        Shape (channels, n): the whole file.
    rate_hz
        Sample rate.
    onset_s, end_s
        The pluck's extent.
    near_hz
        The note's frequency; partials up to 50 cents off are found. It is returned itself where
        the pluck is too short or holds no such partial.
    """
    start, stop = _window(onset_s, end_s, rate_hz=rate_hz)
    segment = samples[:, start:stop]
    if segment.shape[1] < SHORTEST_WINDOW_S * rate_hz:
        return near_hz
    size = scipy.fft.next_fast_len(2 * segment.shape[1], real=True)
    power, frequency_hz = _one_spectrum(channel_powers(segment, size), rate_hz=rate_hz, size=size)
    return _from_partials(power, near_hz, frequency_hz)


def find_pitch(
    samples: FloatArray,
    *,
    rate_hz: float,
    onset_s: float,
    end_s: float,
    quiet: KnownSound | None = None,
    ringing_since_s: float | None = None,
    same_string: bool | None = False,
    before_hz: float | None = None,
) -> Pitch | None:
    """Find the fundamental of one pluck.

    Parameters
    ----------
    samples
        Shape (channels, n): the whole file.
    rate_hz
        Sample rate.
    onset_s, end_s
        The pluck's extent.
    quiet
        A quiet stretch of the same channels, to take hum off; None without.
    ringing_since_s
        Where the sound began that still rang at the onset; None when nothing did.
    same_string
        Whether what rang was plucked again. If not, it is taken off; None: the clearer counts.
    before_hz
        Pitch of the pluck before, which that of the same string plucked again should be.

    Returns
    -------
    Pitch or None
        None when the sound is too short or has no pitch.
    """
    start, stop = _window(onset_s, end_s, rate_hz=rate_hz)
    alone = _pitch(samples[:, start:stop], rate_hz=rate_hz, known=quiet)
    if alone is None and stop - start > _LONG_S * rate_hz:
        # A knock in one half of the window hides the pitch in the whole of it.
        half = (stop - start) // 2
        parts = (samples[:, start : start + half], samples[:, start + half : stop])
        halves = [_pitch(part, rate_hz=rate_hz, known=quiet) for part in parts]
        alone = max((h for h in halves if h), key=lambda pitch: pitch.clarity, default=None)
    if ringing_since_s is None:
        return alone
    if same_string:
        return _not_below(alone, before_hz)
    last = round((onset_s - RINGING_GAP_S) * rate_hz)
    n = min(stop - start, last - round(ringing_since_s * rate_hz))
    if n < _SHORTEST_RINGING_S * rate_hz:
        return alone
    ringing = KnownSound(samples[:, last - n : last])
    new = _pitch(samples[:, start : start + n], rate_hz=rate_hz, known=ringing)
    if new is None or (same_string is None and alone and alone.clarity > new.clarity):
        return alone
    return new


def _window(onset_s: float, end_s: float, *, rate_hz: float) -> tuple[int, int]:
    """Sample range that the pitch is read from."""
    start_s = onset_s + min(WINDOW_S[0], 0.25 * (end_s - onset_s))
    return round(start_s * rate_hz), round(min(onset_s + WINDOW_S[1], end_s) * rate_hz)


def _not_below(pitch: Pitch | None, before_hz: float | None) -> Pitch | None:
    """Take the note before where a whole fraction of it was found: that is strings together."""
    if pitch is None or before_hz is None:
        return pitch
    ratio = before_hz / pitch.f0_hz
    times = round(ratio)
    if times < 2 or abs(ratio / times - 1.0) > 0.02:
        return pitch
    return Pitch(times * pitch.f0_hz, pitch.clarity, ambiguous=True)


def _pitch(segment: FloatArray, *, rate_hz: float, known: KnownSound | None) -> Pitch | None:
    """Pitch of a segment, with the power of what is known to be there besides taken off."""
    if segment.shape[1] < SHORTEST_WINDOW_S * rate_hz:
        return None
    size = scipy.fft.next_fast_len(2 * segment.shape[1], real=True)
    power = channel_powers(segment, size)
    if known is not None and known.samples.shape[1] >= 0.1 * rate_hz:
        power = np.maximum(power - _KNOWN_FACTOR * known.powers(segment.shape[1], size), 0.0)
    power, frequency_hz = _one_spectrum(power, rate_hz=rate_hz, size=size)
    low, high = np.searchsorted(frequency_hz, (0.9 * LOWEST_HZ, _HIGHEST_PARTIAL_HZ))
    compressed = np.zeros_like(power)
    compressed[low:high] = power[low:high] ** _COMPRESSION
    pitch = _first_high_peak(compressed, size=size, rate_hz=rate_hz)
    if pitch is None:
        return None
    f0_hz = _from_partials(power, pitch.f0_hz, frequency_hz)
    explained, first_db = _series_share(power, f0_hz, frequency_hz)
    return Pitch(f0_hz, pitch.clarity, pitch.ambiguous, explained, first_db)


def _series_share(power: FloatArray, f0_hz: float, frequency_hz: FloatArray) -> tuple[float, float]:
    """Share of the power up to partial 12 within 2 % of a partial, and the first one's level."""
    step = float(frequency_hz[1])
    n = np.arange(1, 13)
    half_hz = np.maximum(0.02 * n * f0_hz, 3.0 * step).clip(max=0.35 * f0_hz)
    ends = np.array([n * f0_hz - half_hz, n * f0_hz + half_hz]) / step
    low, high = np.minimum(np.maximum(ends.round().astype(int), 0), power.size)
    last = high + 1 if high[-1] < power.size else high
    held = np.array([power[a:b].sum() for a, b in zip(low, last, strict=True)])
    top = min(power.size, round(12.5 * f0_hz / step))
    bottom = round(0.9 * LOWEST_HZ / step)
    whole = float(power[bottom:top].sum())
    if whole <= 0.0 or held[0] <= 0.0:
        return 0.0, -np.inf
    return float(held.sum() / whole), float(10.0 * np.log10(held[0] / held.max()))


def _one_spectrum(power: FloatArray, *, rate_hz: float, size: int) -> tuple[FloatArray, FloatArray]:
    """Sum of the channels' power spectra, each scaled to a largest bin of 1, and frequencies."""
    loudest = power.max(axis=1, keepdims=True)
    total = (power / np.where(loudest > 0, loudest, 1.0)).sum(axis=0)
    return total, np.arange(len(total), dtype=np.float64) * (rate_hz / size)


def string_number(note: str, tuning: Sequence[str]) -> int | None:
    """Return the number of the one string (1 = thinnest) that can play a note, else None.

    That is so below the second-lowest open string; a higher note could be fretted on a lower
    string. Frets up to the 24th are reckoned with. None for no note ("").
    """
    if not note:
        return None
    number = note_number(note)
    lowest = [note_number(name) for name in tuning]
    playable = [i for i, open_string in enumerate(lowest) if 0 <= number - open_string <= 24]
    return len(lowest) - playable[0] if len(playable) == 1 else None


def open_strings(notes: Sequence[str], tuning: Sequence[str]) -> dict[str, int]:
    """Strings of the notes, when a whole recording holds open strings and nothing else.

    Four or more different notes that are all open strings of the tuning are taken for the open
    strings; otherwise nothing is said (empty).
    """
    numbers = {name: len(tuning) - i for i, name in enumerate(tuning)}
    different = set(notes)
    if len(different) < 4 or not different <= set(numbers) or len(numbers) < len(tuning):
        return {}
    return {name: numbers[name] for name in different}


def channel_powers(samples: FloatArray, size: int) -> FloatArray:
    """Power spectrum of each channel through a Hann window, shape (channels, size // 2 + 1)."""
    window = hann(samples.shape[1])
    spectrum = scipy.fft.rfft(samples * window, size, axis=1)
    return np.asarray((spectrum.real**2 + spectrum.imag**2) / np.sum(window**2))


def _first_high_peak(compressed: FloatArray, *, size: int, rate_hz: float) -> Pitch | None:
    correlation = scipy.fft.irfft(compressed, size)
    if correlation[0] <= 0:
        return None
    low, high = int(rate_hz / HIGHEST_HZ), min(int(rate_hz / LOWEST_HZ) + 1, size // 2 - 1)
    r = correlation[: high + 1] / correlation[0]
    # The slope down from lag 0 is no peak; it ends where the correlation first nears zero.
    low = max(1, low, int(np.argmax(r < _LOBE_ENDS)))
    here = r[low:high]
    peaks = low + np.flatnonzero((here > r[low - 1 : high - 1]) & (here >= r[low + 1 : high + 1]))
    if len(peaks) == 0:
        return None
    largest = float(r[peaks].max())
    if largest < LEAST_CLARITY:
        return None
    first = int(peaks[r[peaks] > _NEARLY_LARGEST * largest][0])
    nearly = peaks[(r[peaks] > 0.75 * largest) & (peaks < first * 0.9)]
    y0, y1, y2 = r[first - 1 : first + 2]
    lag = first + 0.5 * (y0 - y2) / (y0 - 2.0 * y1 + y2)
    return Pitch(rate_hz / float(lag), float(r[first]), ambiguous=len(nearly) > 0)


def _from_partials(power: FloatArray, f0_hz: float, frequency_hz: FloatArray) -> float:
    """First partial of a stiff string through the first seven, each at its spectral peak.

    ``(f_n / n)² = f0² (1 + B n²)`` (Fletcher 1964): a line over n², drawn through medians (Theil
    1950, Sen 1968), because a mains line may pull one of the partials.
    """
    step = float(frequency_hz[1])
    numbers: list[int] = []
    found: list[float] = []
    for n in range(1, 8):
        low = max(1, int((n - 0.03 * n) * f0_hz / step))
        high = min(len(power) - 1, int((n + 0.03 * n) * f0_hz / step) + 2)
        if high - low < 2:
            break
        k = low + int(np.argmax(power[low:high]))
        if power[k] < _WEAK_PARTIAL or not power[k - 1] <= power[k] >= power[k + 1]:
            continue
        y0, y1, y2 = (math.log(max(each, 1e-30)) for each in power[k - 1 : k + 2].tolist())
        bend = y0 - 2.0 * y1 + y2
        numbers.append(n)
        found.append((k + (0.5 * (y0 - y2) / bend if bend < 0 else 0.0)) * step / n)
    if not found:
        return f0_hz
    points = [(float(n) ** 2, hz**2) for n, hz in zip(numbers, found, strict=True)]
    slope = 0.0
    if len(points) > 2:
        slopes = [(y1 - y0) / (x1 - x0) for (x0, y0), (x1, y1) in combinations(points, 2)]
        slope = max(0.0, median_of_few(slopes))
    return math.sqrt(median_of_few([y - slope * x for x, y in points]) + slope)
