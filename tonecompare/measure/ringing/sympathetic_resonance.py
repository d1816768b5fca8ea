"""Strings that ring along: open strings that sound beside the note, named, and how loud.

The bridge wakes open strings, the picking hand brushes them, and what rang before may ring on.
Their partials that lie in a gap of the note's own row show as lines of their own
(``narrow_lines``). A string is named when two or more of its lines are there,
the lowest among them, at one fundamental that fits its tuning; its level is the power sum of those
lines over that of the note. Partials that fall on the note's row cannot be told from the note and
are not counted: the level is what can be proved, a lower bound. A line that stood there before the
onset already was not woken by this pluck and is told apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.ringing.narrow_lines import (
    HIGHEST_LINE_HZ,
    LEAST_OVER_FLOOR,
    LEAST_SHARE,
    LOBE_BINS,
    RingFrame,
)
from tonecompare.takes.plucks.note_of_pluck import note_hz

#: Partials of an open string that are looked for.
MOST_PARTIALS = 8
#: A string whose pitch was not measured may be this far off its tuning …
TUNING_CENTS = 30.0
#: … one that was plucked in the same recording this far off what it was.
MEASURED_CENTS = 10.0
#: Lines of one string agree on its fundamental within this, besides a share of a bin.
AGREE_CENTS = 5.0
AGREE_BINS = 0.3
#: Lines that name a string; two only with the lowest that can be seen among them.
LEAST_LINES = 2
#: Louder than this re the note it was played itself, not woken.
LOUDEST_DB = -10.0
#: Stretch of the row of an open string whose own was not measured.
USUAL_STRETCH = 6e-5
#: Lines nearer to a mains line than this belong to the mains.
MAINS_HZ = 1.5
#: Rang before the pluck: what stood there before is at least this share of what is there after.
BEFORE_SHARE = 0.25
_DB = 10.0 / np.log(10.0)


@dataclass(frozen=True)
class OpenString:
    """An open string as it sounds: number (1 = thinnest), fundamental, stretch, and how sure."""

    number: int
    f1_hz: float
    stretch: float
    off_cents: float

    @property
    def measured(self) -> bool:
        """Whether it was plucked itself in the same recording."""
        return self.off_cents < TUNING_CENTS

    def partials_hz(self, count: int = MOST_PARTIALS) -> FloatArray:
        """Frequencies of its partials 1 … count (Fletcher 1964)."""
        n = np.arange(1, count + 1)
        return np.asarray(
            n * self.f1_hz * np.sqrt((1.0 + self.stretch * n**2) / (1.0 + self.stretch))
        )


@dataclass(frozen=True)
class Along:
    """One open string that sounds beside the note.

    ``level_db`` is its level re the note over 0.3–1.3 s, ``level_sd_db`` the standard uncertainty
    of what was counted, ``before`` whether it rang before the pluck already (None = the file does
    not show the time before), ``orders`` the partials it was known by.
    """

    string: int
    level_db: float
    level_sd_db: float
    before: bool | None
    f1_hz: float
    orders: tuple[int, ...]


def smallest_db(frame: RingFrame) -> float:
    """Level re the note below which a line would not be seen."""
    return float(_DB * math.log(max(LEAST_OVER_FLOOR * frame.floor_share, LEAST_SHARE)))


def open_strings_of(
    tuning: Sequence[str],
    *,
    a4_hz: float,
    measured: Mapping[int, tuple[float, float]] | None = None,
) -> tuple[OpenString, ...]:
    """Open strings by tuning, with pitch and stretch of those that were plucked themselves.

    Parameters
    ----------
    tuning
        Note names, lowest string first.
    a4_hz
        Concert pitch.
    measured
        Fundamental and stretch by string number.
    """
    strings = []
    for place, note in enumerate(tuning):
        number = len(tuning) - place
        if measured and number in measured:
            f1_hz, stretch = measured[number]
            strings.append(OpenString(number, f1_hz, stretch, MEASURED_CENTS))
        else:
            f1_hz = note_hz(note, a4_hz=a4_hz)
            strings.append(OpenString(number, f1_hz, USUAL_STRETCH, TUNING_CENTS))
    return tuple(strings)


def strings_along(
    frame: RingFrame,
    partials: PartialSet,
    strings: Sequence[OpenString],
    *,
    own: int | None = None,
    noise: Noise | None = None,
) -> tuple[Along, ...]:
    """Name the open strings that sound beside a note, the loudest first.

    Parameters
    ----------
    frame
        Lines of the pluck.
    partials
        Its own row.
    strings
        The instrument's open strings.
    own
        The string that was plucked, when known.
    noise
        What the channel carries with the strings damped.
    """
    field = _Field.of(frame, partials, noise)
    if field is None:
        return ()
    share, sd = frame.line_share[field.use].tolist(), frame.line_sd[field.use].tolist()
    found = _fits([string for string in strings if string.number != own], field)
    taken: set[int] = set()
    along = []
    # The fit that explains most power goes first; its lines are no one else's.
    for fit in sorted(found, key=lambda each: -sum(share[line] for line in each.lines)):
        pairs = [(n, k) for n, k in zip(fit.orders, fit.lines, strict=True) if k not in taken]
        power = sum(share[k] for _, k in pairs)
        if len(pairs) < LEAST_LINES or fit.lines[0] in taken:
            continue
        taken.update(k for _, k in pairs)
        if _DB * math.log(power) > LOUDEST_DB:
            continue
        along.append(
            Along(
                string=fit.string,
                level_db=_DB * math.log(power),
                level_sd_db=_DB * math.hypot(*(share[k] * sd[k] for _, k in pairs)) / power,
                before=_rang_before(frame, [float(field.hz[k]) for _, k in pairs], power),
                f1_hz=fit.f1_hz,
                orders=tuple(n for n, _ in pairs),
            )
        )
    return tuple(sorted(along, key=lambda each: -each.level_db))


@dataclass(frozen=True)
class _Field:
    """Where lines can be seen: those in the gaps of the note's row, and what hides others."""

    use: np.ndarray
    hz: FloatArray
    row_hz: FloatArray
    mains_hz: FloatArray
    guard_hz: float
    bin_hz: float

    @classmethod
    def of(cls, frame: RingFrame, partials: PartialSet, noise: Noise | None) -> _Field | None:
        """Leave out lines of the note itself and of the mains; None where fewer than two remain."""
        row_hz = row_of(partials, HIGHEST_LINE_HZ + 100.0)
        guard_hz = LOBE_BINS * frame.bin_hz
        if row_hz.size == 0:
            return None
        mains_hz = _mains_lines(frame, noise)
        use = _far_from(frame.line_hz, row_hz, guard_hz)
        use &= _distance(frame.line_hz, mains_hz) > MAINS_HZ
        if np.count_nonzero(use) < LEAST_LINES:
            return None
        return cls(use, frame.line_hz[use], row_hz, mains_hz, guard_hz, frame.bin_hz)

    def in_gaps(self, hz: FloatArray) -> np.ndarray:
        """Which frequencies lie in the gaps of the note's row."""
        low = hz < HIGHEST_LINE_HZ - self.guard_hz
        return np.asarray(low & _far_from(hz, self.row_hz, self.guard_hz))

    def clear(self, hz: FloatArray) -> np.ndarray:
        """Which frequencies no mains line could hide."""
        off = _distance(hz, self.mains_hz)
        return np.asarray(off > self.guard_hz)


@dataclass(frozen=True)
class _Fit:
    """Lines (indices, lowest order first) that lie on an open string's row."""

    string: int
    f1_hz: float
    lines: list[int]
    orders: list[int]


def _fits(strings: Sequence[OpenString], field: _Field) -> list[_Fit]:
    """Return the fit of most lines of each string that has a sound one.

    Every line could be partial 1, 2 or 3 of a string, if that fits its tuning; each such
    fundamental is tried on all lines at once.
    """
    shape, nominal, off = _rows_of(tuple(strings))
    order = np.arange(1, 4)
    tried = field.hz / shape[:, :3, None]
    widest = off[:, None, None] + AGREE_BINS * field.bin_hz / order[None, :, None]
    which, _, _ = where = np.nonzero(np.abs(tried - nominal[:, None, None]) < widest)
    if which.size == 0:
        return []
    expected = tried[where][:, None] * shape[which]
    nearest = _nearest(expected, field.hz)
    agree = AGREE_BINS * field.bin_hz + (2.0 ** (AGREE_CENTS / 1200.0) - 1.0) * expected
    in_gaps = field.in_gaps(expected)
    there = in_gaps & (np.abs(field.hz[nearest] - expected) < agree)
    visible = there | (in_gaps & field.clear(expected))
    count = there.sum(axis=1)
    # The lowest that can be seen is there, or more lines than two are.
    sound = np.take_along_axis(there, visible.argmax(axis=1)[:, None], axis=1)[:, 0]
    sound = (count >= LEAST_LINES) & (sound | (count > LEAST_LINES))
    # A pickup is deaf to some partials, not to more than half of them.
    last = there.shape[1] - there[:, ::-1].argmax(axis=1)
    seen = np.take_along_axis(visible.cumsum(axis=1), last[:, None] - 1, axis=1)[:, 0]
    sound &= 2 * count >= seen
    fits = []
    for place, string in enumerate(strings):
        own = np.flatnonzero(sound & (which == place))
        if own.size == 0:
            continue
        best = own[np.argmax(count[own])]
        orders = np.flatnonzero(there[best]) + 1
        # Orders with a common factor are another, higher note (a fretted octave).
        if np.gcd.reduce(orders) == 1:
            f1_hz = float(expected[best, 0])
            lines = nearest[best, orders - 1]
            fits.append(_Fit(string.number, f1_hz, lines.tolist(), orders.tolist()))
    return fits


@lru_cache(maxsize=32)
def _rows_of(strings: tuple[OpenString, ...]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shapes of the rows (strings, partials), fundamentals and how far these may be off, Hz."""
    shape = np.array([string.partials_hz() / string.f1_hz for string in strings])
    nominal = np.array([string.f1_hz for string in strings])
    off = 2.0 ** (np.array([string.off_cents for string in strings]) / 1200.0) - 1.0
    return shape, nominal, off * nominal


def row_of(partials: PartialSet, highest_hz: float) -> FloatArray:
    """Where the note's own row lies: from n·f1 to its stretched partial n, shape (n, 2).

    Between the two lie sums of its partials, which a stretching string makes as well.
    """
    if not (np.isfinite(partials.f0_hz) and partials.f0_hz > 0.0):
        return np.zeros((0, 2))
    stretch = partials.inharmonicity if np.isfinite(partials.inharmonicity) else 0.0
    n = np.arange(1, int(highest_hz / partials.f0_hz) + 2)
    plain_hz = n * partials.f0_hz
    row_hz = plain_hz * np.sqrt(np.maximum((1.0 + stretch * n**2) / (1.0 + stretch), 0.01))
    known = partials.frequency_hz[: n.size]
    row_hz[: known.size] = np.where(np.isfinite(known), known, row_hz[: known.size])
    return np.stack([np.minimum(plain_hz, row_hz), np.maximum(plain_hz, row_hz)], axis=1)


def _far_from(hz: FloatArray, row_hz: FloatArray, guard_hz: float) -> np.ndarray:
    """Whether frequencies lie outside all the (sorted) stretches of the row, widened by a guard."""
    place = np.minimum(np.searchsorted(row_hz[:, 1], hz - guard_hz), row_hz.shape[0] - 1)
    return np.asarray((hz < row_hz[place, 0] - guard_hz) | (hz > row_hz[place, 1] + guard_hz))


def _nearest(hz: FloatArray, places_hz: FloatArray) -> np.ndarray:
    """Index of the nearest of sorted places."""
    above = np.clip(np.searchsorted(places_hz, hz), 1, places_hz.size - 1)
    return np.asarray(above - (hz - places_hz[above - 1] < places_hz[above] - hz))


def _distance(hz: FloatArray, places_hz: FloatArray) -> FloatArray:
    """Distance to the nearest of sorted places; infinite where there are none."""
    if places_hz.size < 2:
        return np.abs(hz - places_hz[0]) if places_hz.size else np.full(hz.shape, np.inf)
    return np.asarray(np.abs(hz - places_hz[_nearest(hz, places_hz)]))


def _mains_lines(frame: RingFrame, noise: Noise | None) -> FloatArray:
    """Frequencies at which the mains has lines as strong as those of the frame, shape (lines,)."""
    if noise is None:  # unknown: either mains may be there
        return np.array([50.0, 60.0, 100.0, 120.0, 150.0, 180.0, 250.0, 300.0, 350.0])
    weakest = float(frame.line_share.min(initial=1.0)) * frame.power
    return np.asarray(noise.line_hz[10.0 * noise.line_power > weakest])


def _rang_before(frame: RingFrame, lines_hz: Sequence[float], share: float) -> bool | None:
    """Whether most of the power stood at these lines before the onset; None if unknown."""
    before = [frame.share_before(each) for each in lines_hz]
    if any(each is None for each in before):
        return None
    return sum(each for each in before if each is not None) > BEFORE_SHARE * share
