"""Who rings along with the plucks of a voice, and what that does to their partials.

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
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.ringing.shared_partials import KeptApart, keep_apart
from tonecompare.measure.ringing.sympathetic_resonance import (
    Along,
    OpenString,
    open_strings_of,
    smallest_db,
    strings_along,
)
from tonecompare.measure.table import MeasuredSubject
from tonecompare.measure.voice import VoicePluck
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


def with_sounding_strings(
    plucks: Sequence[VoicePluck], *, tuning: Sequence[str], a4_hz: float
) -> tuple[MeasuredSubject, ...]:
    """Return the plucks with the string that rings along, and more doubt where it belongs.

    Parameters
    ----------
    plucks
        All plucks of one voice and output.
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
    entries = []
    for pluck, along in zip(plucks, found, strict=True):
        here = {each.string for each in along or ()}
        shared = [string for string in strings if string.number in here]
        shared += [string for string in open_ if string.number not in here]
        own = pluck.measured.subject.string
        beside = [string for string in shared if string.number != own]
        quantities, flags = _kept_apart(pluck, beside)
        entries.append(pluck.measured.joined(*_woken(pluck, along)).joined(quantities, flags))
    return tuple(entries)


def _measured_strings(
    plucks: Sequence[VoicePluck], tuning: Sequence[str]
) -> dict[int, tuple[float, float]]:
    """Fundamental and stretch of the open strings that were plucked, medians over their plucks."""
    rows: dict[int, list[tuple[float, float]]] = {}
    for pluck in plucks:
        string, partials = pluck.measured.subject.string, pluck.partials
        if string is None or not 1 <= string <= len(tuning):
            continue
        stretch = partials.inharmonicity
        if pluck.measured.subject.note == tuning[len(tuning) - string] and np.isfinite(stretch):
            rows.setdefault(string, []).append((partials.f0_hz, stretch))
    medians = {string: np.median(np.array(values), axis=0) for string, values in rows.items()}
    return {string: (float(each[0]), float(each[1])) for string, each in medians.items()}


def _along(pluck: VoicePluck, strings: Sequence[OpenString]) -> tuple[Along, ...] | None:
    """Strings that sound beside the note; None where it cannot be told."""
    if pluck.frame is None or not np.isfinite(pluck.partials.f0_hz):
        return None
    own = pluck.measured.subject.string
    return strings_along(pluck.frame, pluck.partials, strings, own=own, noise=pluck.noise)


def _woken(
    pluck: VoicePluck, along: tuple[Along, ...] | None
) -> tuple[dict[str, Measured], list[Flag]]:
    """Return the loudest string that the pluck woke, and flags for what rang before it already."""
    flags: list[Flag] = []
    if pluck.frame is None:
        return _no_string(f"rang for only {pluck.measured.value('ring_s'):.2f} s", flags)
    if along is None:
        return _no_string("no pitch was found", flags)
    over_ringing = Flag("over-ringing") in pluck.measured.flags
    before = [each for each in along if each.before or (over_ringing and each.before is None)]
    flags += [Flag(RINGS_ALREADY, (each.string, each.level_db)) for each in before]
    woken = [each for each in along if each not in before]
    if not woken:
        return _no_string(f"none above {smallest_db(pluck.frame):.0f} dB", flags)
    loudest = woken[0]
    return {
        "ring_along_db": Measured(loudest.level_db, "dB", loudest.level_sd_db),
        "ring_along_string": Measured(loudest.string, ""),
    }, flags


def _no_string(reason: str, flags: Sequence[Flag]) -> tuple[dict[str, Measured], list[Flag]]:
    quantities = {
        "ring_along_db": unmeasured("dB", reason),
        "ring_along_string": unmeasured("", reason),
    }
    return quantities, [*flags, unmeasured_flag(reason, "ring_along_db")]


def _kept_apart(
    pluck: VoicePluck, strings: Sequence[OpenString]
) -> tuple[dict[str, Measured], list[Flag]]:
    """Take strings that ring along out of the note's partials where they can be told, else say so.

    Returns the decays, levels and uncertainties of the partials concerned, and the flags.
    """
    sharing: dict[int, list[OpenString]] = {}
    for string in strings:
        for index in _shared(pluck.partials, string):
            sharing.setdefault(index, []).append(string)
    if not sharing:
        return {}, []
    had = pluck.measured.quantities
    found: dict[str, Measured] = {}
    said: dict[tuple[str, int], list[int]] = {}
    doubt_db: dict[int, float] = {}
    for index in sorted(sharing):
        string, *others = sharing[index]
        own = None if others or not string.measured else _own_part(pluck.partials, index, string)
        name = f"decay_h{index + 1:02d}_s"
        if own is None:
            doubt_db[index] = LEVEL_PULL_DB * UNSEEN_SHARE
            found[name] = _wider(had[name], relative=DECAY_PULL * UNSEEN_SHARE)
        else:
            doubt_db[index] = _level_doubt_db(pluck.partials, index, own)
            found[name] = _own_decay(had[name], pluck.partials, index, own)
        for each in (string, *others):
            code = STRING_WITHIN if own is None else STRING_TAKEN_OUT
            said.setdefault((code, each.number), []).append(index + 1)
    flags = [Flag(code, (number, tuple(orders))) for (code, number), orders in said.items()]
    return found | _in_doubt(had, pluck.partials, doubt_db), flags


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


def _own_decay(had: Measured, partials: PartialSet, index: int, own: KeptApart) -> Measured:
    """Return the decay of the note's own part.

    Its doubt holds half of what was corrected, and what of the string follows the note.
    """
    amplitude, rate = partials.components_amplitude.copy(), partials.components_rate.copy()
    amplitude[index], rate[index] = own.amplitude, own.rate
    alone = replace(partials, components_amplitude=amplitude, components_rate=rate)
    t60, relative = pair_decays(alone, np.array([index]))
    if had.value is None or not np.isfinite(t60[0]):
        return had
    value = float(t60[0])
    pulled = DECAY_PULL * own.string_share * value
    sd = math.hypot(float(t60[0] * relative[0]), 0.5 * (value - had.value), pulled)
    return replace(had, value=value, uncertainty=sd)


def _level_doubt_db(partials: PartialSet, index: int, own: KeptApart) -> float:
    """Return the doubt about a partial's level of which a string was kept apart, dB."""
    moved_db = 10.0 * math.log10(own.power / float(partials.power[index]))
    return math.hypot(moved_db, LEVEL_PULL_DB * own.string_share)


def _in_doubt(
    had: Mapping[str, Measured], partials: PartialSet, doubt_db: Mapping[int, float]
) -> dict[str, Measured]:
    """Return the levels of partials, and all that their power enters, with the doubt added."""
    power = np.where(partials.measured, partials.power, 0.0)
    pull = np.zeros(power.size)
    pull[list(doubt_db)] = list(doubt_db.values())
    total = float(np.sqrt(np.sum((power * pull) ** 2)) / power.sum())
    found = {}
    for index in range(power.size):
        name = f"h{index + 1:02d}_db"
        found[name] = _wider(had[name], by=math.hypot(total, float(pull[index])))
    odd, even = slice(0, None, 2), slice(1, None, 2)
    sides = [np.sqrt(np.sum((power * pull)[k] ** 2)) / power[k].sum() for k in (odd, even)]
    by = math.hypot(*np.nan_to_num(sides).tolist())
    found["odd_even_db"] = _wider(had["odd_even_db"], by=by)
    share = total / LEVEL_PULL_DB * DECAY_PULL
    for name in ("decay_s", "decay_early_s", "decay_late_s"):
        found[name] = _wider(had[name], relative=share)
    return found


def _wider(had: Measured, *, by: float = 0.0, relative: float = 0.0) -> Measured:
    """Return a number with more standard uncertainty, if there is one."""
    if had.value is None:
        return had
    return replace(had, uncertainty=math.hypot(had.uncertainty or 0.0, by, relative * had.value))
