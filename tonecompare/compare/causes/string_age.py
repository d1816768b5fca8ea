"""Strings: an older or another set changes how long high partials ring, and no pickup does.

Damping is the string's own and the neck's; a pickup adds none (Paté, Le Carrou & Fabre, J. Acoust.
Soc. Am. 135 (2014) 3045-3055). So where the high partials' decay changed against the low ones' in
every voice, the strings did it (or work on frets, nut and bridge), and what changed with it at
the top of the spectrum may be theirs too. Inharmonicity that moved says another gauge.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tonecompare.compare.cause_facts import Stated, StringsFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.rows_to_explain import FOUND_P, VoiceRows, by_comparison
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import Estimate, over_notes
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import DECAYS, TOP
from tonecompare.quantities.registry import PARTIAL_DECAYS
from tonecompare.session.model import Session

#: Changes of one note by quantity, on the analysis scale.
_Changes = dict[str, float]

KIND = "strings"
LOW, HIGH = PARTIAL_DECAYS[:3], PARTIAL_DECAYS[5:]
_USED = (*LOW, *HIGH, "inharmonicity")
#: Less than this (log ratio, 10 %) is not worth naming.
SMALLEST = 0.10
#: A plain string one gauge heavier (.010 to .011) is 21 % stiffer at the same pitch (B goes as d²);
#: how hard a string is picked makes up to 14 % between soft and hard on real takes.
SMALLEST_STIFFNESS = 0.16


def find_strings(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every comparison for strings that aged or were changed."""
    found = []
    for comparison, voices in by_comparison(differences).items():
        ring = _over_voices(voices, _ring_contrast)
        stiffness = _over_voices(voices, _stiffness)
        stated = _stated(session, voices[0])
        if ring is None and stiffness is None and not stated:
            continue
        found.append(_confound(comparison, voices, ring, stiffness, stated))
    return ConfoundFindings(tuple(found))


def _over_voices(voices: list[VoiceRows], what: Callable[[_Changes], float]) -> Estimate | None:
    """Mean over the notes of a contrast, the voices of a note averaged first."""
    groups: dict[tuple[str, str, str], _Changes] = {}
    for voice in voices:
        table = voice.table
        for row in voice.single_notes(*_USED):
            key = (voice.voice, voice.output, str(table.note[row]))
            groups.setdefault(key, {})[table.column[row]] = float(table.difference[row])
    per_note: dict[str, list[float]] = {}
    for (_, _, note), changes in groups.items():
        value = what(changes)
        if np.isfinite(value):
            per_note.setdefault(note, []).append(value)
    if len(per_note) < 3:
        return None
    return over_notes(np.array([float(np.mean(values)) for values in per_note.values()]))


def _ring_contrast(changes: _Changes) -> float:
    """High partials' change of decay less the low ones', log ratio."""
    return _middle(changes, HIGH) - _middle(changes, LOW)


def _stiffness(changes: _Changes) -> float:
    return changes.get("inharmonicity", float("nan"))


def _middle(changes: _Changes, columns: tuple[str, ...]) -> float:
    """Median change: one beating partial must not speak for all."""
    values = [changes[c] for c in columns if c in changes and np.isfinite(changes[c])]
    return float(np.median(values)) if values else float("nan")


def _shown(estimate: Estimate | None, smallest: float) -> bool:
    if estimate is None or not np.isfinite(estimate.se):
        return False
    return bool(estimate.p_value < FOUND_P and abs(estimate.difference) >= smallest)


def _stated(session: Session, voice: VoiceRows) -> Stated | None:
    """Return what session.toml has of the strings, where it differs."""
    conditions = []
    for stage in (voice.before, voice.after):
        known = session.stages.get(stage)
        name = known.conditions if known else None
        conditions.append(session.conditions.get(name) if name else None)
    one, other = conditions
    if one is None or other is None:
        return None
    if one.strings_gauge and other.strings_gauge and one.strings_gauge != other.strings_gauge:
        return Stated("strings_gauge", one.strings_gauge, other.strings_gauge)
    hours = (one.strings_hours, other.strings_hours)
    if hours[0] is not None and hours[1] is not None and abs(hours[1] - hours[0]) > 10.0:
        return Stated("strings_hours", hours[0], hours[1])
    return None


def _confound(
    comparison: str,
    voices: list[VoiceRows],
    ring: Estimate | None,
    stiffness: Estimate | None,
    stated: Stated | None,
) -> Confound:
    aged, other_set = _shown(ring, SMALLEST), _shown(stiffness, SMALLEST_STIFFNESS)
    found = aged or other_set or stated is not None
    low = high = p = value = None
    if ring is not None and np.isfinite(ring.se):
        ends = ring.interval()
        value, low, high = (100.0 * float(np.expm1(v)) for v in (ring.difference, ends[0], ends[1]))
        p = float(ring.p_value)
    return Confound(
        comparison,
        "",
        KIND,
        found,
        value,
        "%",
        low,
        high,
        p,
        _explains(voices, ring if aged else None, other_set, stated is not None),
        StringsFacts(
            stated,
            _percent(ring) if ring is not None and aged else None,
            _percent(stiffness) if stiffness is not None and other_set else None,
        ),
    )


def _explains(
    voices: list[VoiceRows], ring: Estimate | None, other_set: bool, stated: bool
) -> tuple[str, ...]:
    explained: list[str] = ["inharmonicity"] if other_set or stated else []
    if ring is not None or stated:
        explained += DECAYS
    tilts = [v.difference("tilt_db_per_octave") for v in voices]
    tilts = [t for t in tilts if np.isfinite(t)]
    # Only a top that went the way the ringing went, in every voice, may be the strings'.
    alike = bool(tilts) and (min(tilts) > 0.0 or max(tilts) < 0.0)
    if stated or (ring is not None and alike and float(ring.difference) * tilts[0] > 0.0):
        explained += TOP
    return tuple(explained)


def _percent(estimate: Estimate) -> float:
    """Return a change that is known as a log ratio."""
    return 100.0 * float(np.expm1(estimate.difference))
