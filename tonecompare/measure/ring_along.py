"""Who rings along, written into the rows of a voice's plucks, and what that does to their partials.

Open strings that were plucked themselves in the same recording are looked for at their measured
pitch, the others at their tuning. Where a string that is known to ring along has a partial beside
one of the note's (within 3 Hz), two things sound there. They are kept apart where two damped
sinusoids were found, one of them at the open string's own frequency and not where a second
polarisation would lie: the partial's decay is then that of the note's. Elsewhere the doubt is added
to the uncertainty: a string woken through the bridge stays some 20 dB under the partial that wakes
it (:mod:`tonecompare.strings.sympathetic`: mobility up to 1e-3 s/kg), and a second component of
amplitude share r moves T60 by about 0.6 r.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from tonecompare.measure.columns import N_DECAY_PARTIALS
from tonecompare.measure.partials import PartialSet
from tonecompare.measure.sympathetic import (
    Along,
    OpenString,
    open_strings_of,
    smallest_db,
    strings_along,
)
from tonecompare.measure.voice import VoicePluck
from tonecompare.units import T60_TIMES_SIGMA

#: Partials of note and open string nearer than this share a band.
SHARED_HZ = 3.0
#: The open string's frequency is met within this and a share of it (cents): it was measured at
#: another pluck.
MET_HZ, MET_CENTS = 0.1, 0.5
#: Amplitude share of a woken string that cannot be told from the partial that wakes it.
UNSEEN_SHARE = 0.1
#: What that share does to T60 (see ``decay_partials.HIDDEN_PULL``) and, in dB, to the level.
DECAY_PULL, LEVEL_PULL_DB = 0.6, 3.0
#: A string that was named on this many plucks of a voice is not damped.
LEAST_PLUCKS = 2


def fill_ring_along(plucks: Sequence[VoicePluck], *, tuning: Sequence[str], a4_hz: float) -> None:
    """Write ``ring_along_db`` and ``ring_along_string`` into the rows; widen what is in doubt.

    Parameters
    ----------
    plucks
        All plucks of one voice and output; their rows are completed in place.
    tuning
        Open strings, lowest first.
    a4_hz
        Concert pitch.
    """
    measured = _measured_strings(plucks, tuning)
    strings = open_strings_of(tuning, a4_hz=a4_hz, measured=measured)
    found = [_along(pluck, strings) for pluck in plucks]
    named: dict[int, int] = {}
    for along in found:
        for each in along or ():
            if not each.before:
                named[each.string] = named.get(each.string, 0) + 1
    open_ = [
        string
        for string in strings
        if string.number in measured and named.get(string.number, 0) >= LEAST_PLUCKS
    ]
    for pluck, along in zip(plucks, found, strict=True):
        _write(pluck, along)
        here = {each.string for each in along or ()}
        shared = [string for string in strings if string.number in here]
        shared += [string for string in open_ if string.number not in here]
        own = pluck.row.get("string")
        _keep_apart(pluck, [string for string in shared if string.number != own])


def _measured_strings(
    plucks: Sequence[VoicePluck], tuning: Sequence[str]
) -> dict[int, tuple[float, float]]:
    """Fundamental and stretch of the open strings that were plucked, medians over their plucks."""
    rows: dict[int, list[tuple[float, float]]] = {}
    for pluck in plucks:
        string, partials = pluck.row.get("string"), pluck.partials
        if not isinstance(string, int) or not 1 <= string <= len(tuning):
            continue
        stretch = partials.inharmonicity
        if pluck.row.get("note") == tuning[len(tuning) - string] and np.isfinite(stretch):
            rows.setdefault(string, []).append((partials.f0_hz, stretch))
    medians = {string: np.median(np.array(values), axis=0) for string, values in rows.items()}
    return {string: (float(each[0]), float(each[1])) for string, each in medians.items()}


def _along(pluck: VoicePluck, strings: Sequence[OpenString]) -> tuple[Along, ...] | None:
    """Strings that sound beside the note; None where it cannot be told."""
    if pluck.frame is None or not np.isfinite(pluck.partials.f0_hz):
        return None
    string = pluck.row.get("string")
    own = string if isinstance(string, int) else None
    return strings_along(pluck.frame, pluck.partials, strings, own=own, noise=pluck.noise)


def _write(pluck: VoicePluck, along: tuple[Along, ...] | None) -> None:
    """Write the loudest string that the pluck woke, and say what rang before it already."""
    row = pluck.row
    row["ring_along_db"] = row["ring_along_db_se"] = row["ring_along_string"] = None
    if along is None or pluck.frame is None:
        if pluck.frame is None:
            why = f"rang for only {float(str(row['ring_s'])):.2f} s"
        else:
            why = "no pitch was found"
        _flag(row, f"ring_along_db: {why}")
        return
    over_ringing = "over-ringing" in str(row["flags"])
    before = [each for each in along if each.before or (over_ringing and each.before is None)]
    for each in before:
        _flag(row, f"string {each.string} still rings from before ({each.level_db:.0f} dB)")
    woken = [each for each in along if each not in before]
    if woken:
        row["ring_along_db"] = woken[0].level_db
        row["ring_along_db_se"] = woken[0].level_sd_db
        row["ring_along_string"] = woken[0].string
    else:
        _flag(row, f"ring_along_db: none above {smallest_db(pluck.frame):.0f} dB")


def _flag(row: dict[str, object], text: str) -> None:
    flags = str(row["flags"])
    row["flags"] = f"{flags}; {text}" if flags else text


def _keep_apart(pluck: VoicePluck, strings: Sequence[OpenString]) -> None:
    """Take strings that ring along out of the note's partials where they can be told, else say so.

    Rows are completed in place: decays and uncertainties of the partials concerned.
    """
    partials, row = pluck.partials, pluck.row
    apart: dict[int, list[str]] = {}
    doubtful: dict[int, list[str]] = {}
    done: set[int] = set()
    for string in strings:
        for index in _shared(partials, string):
            name = f"h{index + 1:02d}"
            other_hz = _nearest_hz(string, float(partials.frequency_hz[index]))
            if _is_second(partials, index, other_hz, sure=string.measured):
                apart.setdefault(string.number, []).append(name)
                _own_decay(partials, index, row)
            else:
                doubtful.setdefault(string.number, []).append(name)
                if index not in done:
                    _doubt(row, index)
            done.add(index)
    for number, names in apart.items():
        _flag(row, f"string {number} taken out of {' '.join(names)}")
    for number, names in doubtful.items():
        _flag(row, f"string {number} in {' '.join(names)}")


def _shared(partials: PartialSet, string: OpenString) -> list[int]:
    """Return which of partials 1 … 12 have one of the open string's beside them."""
    hz = partials.frequency_hz[:N_DECAY_PARTIALS]
    known = np.flatnonzero(np.isfinite(hz))
    return [i for i in known.tolist() if abs(_nearest_hz(string, hz[i]) - hz[i]) < SHARED_HZ]


def _nearest_hz(string: OpenString, hz: float) -> float:
    """Frequency of the open string's partial that is nearest."""
    order = max(1, round(hz / string.f1_hz))
    near = string.partials_hz(order + 1)[max(0, order - 2) :]
    return float(near[np.argmin(np.abs(near - hz))])


def _offsets_hz(partials: PartialSet, index: int) -> tuple[float, float]:
    """Frequencies of the two components of a partial; NaN for an absent second."""
    bands = partials.bands
    assert bands is not None
    hz = bands.centre_hz[index] + partials.components_rate[index].imag / (2.0 * np.pi)
    return float(hz[0]), float(hz[1])


def _is_second(partials: PartialSet, index: int, other_hz: float, *, sure: bool) -> bool:
    """Whether the second component is the open string: at its frequency, where no first one is.

    Two polarisations lie apart by the same share of the frequency at every partial; a component as
    far off as theirs at the other partials is one of them.
    """
    if not sure or partials.n_components[index] != 2:
        return False
    first, second = _offsets_hz(partials, index)
    met = MET_HZ + (2.0 ** (MET_CENTS / 1200.0) - 1.0) * other_hz
    if abs(second - other_hz) > met or abs(first - other_hz) < 2.0 * met:
        return False
    apart = abs(second - first) / first
    splits = []
    for other in range(N_DECAY_PARTIALS):
        if other != index and partials.n_components[other] == 2:
            one, two = _offsets_hz(partials, other)
            splits.append(abs(two - one) / one)
    return not any(abs(apart - split) < 0.3 * split for split in splits)


def _own_decay(partials: PartialSet, index: int, row: dict[str, object]) -> None:
    """Use the decay of the note's own component; its distance to that of both is its doubt."""
    name = f"decay_h{index + 1:02d}_s"
    value, rate = row.get(name), float(-partials.components_rate[index, 0].real)
    share = abs(partials.components_amplitude[index, 1] / partials.components_amplitude[index, 0])
    if isinstance(value, float) and rate > 0.0:
        own_s = T60_TIMES_SIGMA / rate
        row[name] = own_s
        row[f"{name}_se"] = math.hypot(_se(row, name), own_s - value)
    _widen(row, f"h{index + 1:02d}_db", LEVEL_PULL_DB * float(share))


def _doubt(row: dict[str, object], index: int) -> None:
    """Add what an unseen string could do to a partial's decay and level."""
    name = f"decay_h{index + 1:02d}_s"
    value = row.get(name)
    if isinstance(value, float):
        _widen(row, name, DECAY_PULL * UNSEEN_SHARE * value)
    _widen(row, f"h{index + 1:02d}_db", LEVEL_PULL_DB * UNSEEN_SHARE)


def _se(row: Mapping[str, object], name: str) -> float:
    value = row.get(f"{name}_se")
    return value if isinstance(value, float) else 0.0


def _widen(row: dict[str, object], name: str, by: float) -> None:
    if isinstance(row.get(name), float):
        row[f"{name}_se"] = math.hypot(_se(row, name), by)
