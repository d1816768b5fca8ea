"""Who rings along, written into the rows of a voice's plucks, and what that does to their partials.

Open strings that were plucked themselves in the same recording are looked for at their measured
pitch, the others at their tuning. Where a string that is known to ring along has a partial beside
one of the note's (within 3 Hz), two things sound there. Where they can be kept apart
(``shared_partials``), the partial's decay is the note's own; its level stays as
measured, with the difference as doubt. Elsewhere the doubt is added to the uncertainty: a string
woken through the bridge stays some 20 dB under the partial that wakes it (mobility of the bridge up
to 1e-3 s/kg, see :mod:`tonecompare.strings`), and a second component of amplitude share r moves T60
by about 0.6 r.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from tonecompare.measure.decay.beating_pairs import pair_decays
from tonecompare.measure.flags import (
    RINGS_ALREADY,
    STRING_TAKEN_OUT,
    STRING_WITHIN,
    Flag,
    unmeasured_flag,
)
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.ringing.shared_partials import KeptApart, keep_apart
from tonecompare.measure.ringing.sympathetic_resonance import (
    Along,
    OpenString,
    open_strings_of,
    smallest_db,
    strings_along,
)
from tonecompare.measure.voice import Row, VoicePluck
from tonecompare.quantities.registry import N_DECAY_PARTIALS

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
            why = f"rang for only {row['ring_s']:.2f} s"
        else:
            why = "no pitch was found"
        _flag(row, unmeasured_flag(why, "ring_along_db"))
        return
    over_ringing = Flag("over-ringing") in row["flags"]
    before = [each for each in along if each.before or (over_ringing and each.before is None)]
    for each in before:
        _flag(row, Flag(RINGS_ALREADY, (each.string, each.level_db)))
    woken = [each for each in along if each not in before]
    if woken:
        row["ring_along_db"] = woken[0].level_db
        row["ring_along_db_se"] = woken[0].level_sd_db
        row["ring_along_string"] = woken[0].string
    else:
        _flag(
            row, unmeasured_flag(f"none above {smallest_db(pluck.frame):.0f} dB", "ring_along_db")
        )


def _flag(row: Row, flag: Flag) -> None:
    row["flags"] = (*row["flags"], flag)


def _keep_apart(pluck: VoicePluck, strings: Sequence[OpenString]) -> None:
    """Take strings that ring along out of the note's partials where they can be told, else say so.

    Rows are completed in place: decays, levels and uncertainties of the partials concerned.
    """
    sharing: dict[int, list[OpenString]] = {}
    for string in strings:
        for index in _shared(pluck.partials, string):
            sharing.setdefault(index, []).append(string)
    said: dict[tuple[str, int], list[int]] = {}
    doubt_db: dict[int, float] = {}
    for index in sorted(sharing):
        string, *others = sharing[index]
        own = None if others or not string.measured else _own_part(pluck.partials, index, string)
        if own is None:
            doubt_db[index] = LEVEL_PULL_DB * UNSEEN_SHARE
            _widen(pluck.row, f"decay_h{index + 1:02d}_s", relative=DECAY_PULL * UNSEEN_SHARE)
        else:
            doubt_db[index] = _write_own(pluck, index, own)
        for each in (string, *others):
            code = STRING_WITHIN if own is None else STRING_TAKEN_OUT
            said.setdefault((code, each.number), []).append(index + 1)
    for (code, number), orders in said.items():
        _flag(pluck.row, Flag(code, (number, tuple(orders))))
    if doubt_db:
        _doubt_levels(pluck, doubt_db)


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


def _own_part(partials: PartialSet, index: int, string: OpenString) -> KeptApart | None:
    other_hz = _nearest_hz(string, float(partials.frequency_hz[index]))
    met_hz = MET_HZ + (2.0 ** (MET_CENTS / 1200.0) - 1.0) * other_hz
    return keep_apart(partials, index, other_hz, met_hz=met_hz)


def _write_own(pluck: VoicePluck, index: int, own: KeptApart) -> float:
    """Write the decay of the note's own part; return the doubt about the partial's level, dB.

    The decay's holds half of what was corrected, and what of the string follows the note.
    """
    row, partials = pluck.row, pluck.partials
    name = f"decay_h{index + 1:02d}_s"
    value = row.get(name)
    amplitude, rate = partials.components_amplitude.copy(), partials.components_rate.copy()
    amplitude[index], rate[index] = own.amplitude, own.rate
    alone = replace(partials, components_amplitude=amplitude, components_rate=rate)
    t60, relative = pair_decays(alone, np.array([index]))
    if isinstance(value, float) and np.isfinite(t60[0]):
        row[name] = float(t60[0])
        pulled = DECAY_PULL * own.string_share * float(t60[0])
        row[f"{name}_se"] = math.hypot(float(t60[0] * relative[0]), 0.5 * (t60[0] - value), pulled)
    moved_db = 10.0 * math.log10(own.power / float(partials.power[index]))
    return math.hypot(moved_db, LEVEL_PULL_DB * own.string_share)


def _doubt_levels(pluck: VoicePluck, doubt_db: Mapping[int, float]) -> None:
    """Add the doubt about some partials to their levels and to all that their power enters."""
    row = pluck.row
    power = np.where(pluck.partials.measured, pluck.partials.power, 0.0)
    pull = np.zeros(power.size)
    pull[list(doubt_db)] = list(doubt_db.values())
    total = float(np.sqrt(np.sum((power * pull) ** 2)) / power.sum())
    for index in range(power.size):
        _widen(row, f"h{index + 1:02d}_db", by=math.hypot(total, float(pull[index])))
    odd, even = slice(0, None, 2), slice(1, None, 2)
    sides = [np.sqrt(np.sum((power * pull)[k] ** 2)) / power[k].sum() for k in (odd, even)]
    _widen(row, "odd_even_db", by=math.hypot(*np.nan_to_num(sides).tolist()))
    share = total / LEVEL_PULL_DB * DECAY_PULL
    for name in ("decay_s", "decay_early_s", "decay_late_s"):
        _widen(row, name, relative=share)


def _widen(row: Row, name: str, *, by: float = 0.0, relative: float = 0.0) -> None:
    """Add to the standard uncertainty of a value, if there is one."""
    value, spread = row.get(name), row.get(f"{name}_se")
    if isinstance(value, float):
        had = spread if isinstance(spread, float) else 0.0
        row[f"{name}_se"] = math.hypot(had, by, relative * value)
