"""Tuning: strings tuned differently sound differently, whatever the work.

Pitch itself is what the player sets and never a claim (see verdicts). A shift also moves what
follows from it: brightness in Hz goes up with the notes, and stiffness falls as tension rises
(B goes as 1/f²: Fletcher 1964).
"""

from __future__ import annotations

import numpy as np

from tonecompare.compare.cause_facts import TuningFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.rows_to_explain import VoiceRows, voices_of
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

KIND = "tuning"
#: The hearing threshold of pitch: less is no other tuning.
SMALLEST_CENTS = 5.0
#: Beyond this, notes stand so far apart that partials meet other resonances and other hum lines.
ANOTHER_NOTE_CENTS = 50.0
#: A difference is explained when the shift makes this share of it.
EXPLAINED_SHARE = 0.3


def find_tuning(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every voice for strings that were tuned differently."""
    found = []
    for voice in voices_of(differences):
        shift = voice.difference("cents")
        if not np.isfinite(shift):
            continue
        notes = _worst_note(voice)
        moved = voice.shown("cents") and abs(shift) >= SMALLEST_CENTS
        found.append(_confound(voice, shift, notes, moved or notes is not None))
    return ConfoundFindings(tuple(found))


def _worst_note(voice: VoiceRows) -> tuple[str, float] | None:
    """Return the note that moved most, when it moved by more than chance and the threshold."""
    table, rows = voice.table, voice.single_notes("cents")
    moved = (np.abs(table.difference[rows]) >= SMALLEST_CENTS) & (table.p_value[rows] < 0.001)
    rows = rows[moved]
    if rows.size == 0:
        return None
    worst = rows[np.argmax(np.abs(table.difference[rows]))]
    return str(table.note[worst]), float(table.difference[worst])


def _confound(
    voice: VoiceRows, shift: float, worst: tuple[str, float] | None, found: bool
) -> Confound:
    size = max(abs(shift), abs(worst[1]) if worst else 0.0)
    return Confound(
        voice.comparison,
        voice.voice,
        KIND,
        found,
        shift,
        "cents",
        *voice.interval("cents"),
        voice.p_value("cents"),
        _explains(voice, shift, size),
        TuningFacts(*worst) if worst else TuningFacts(),
        voice.output,
        voice.several,
    )


def _explains(voice: VoiceRows, shift: float, size: float) -> tuple[str, ...]:
    explained = ["cents"]
    ratio = shift * np.log(2.0) / 1200.0
    # Both are ratios: brightness follows pitch, stiffness its inverse square.
    for quantity, made in (
        ("centroid_hz", ratio),
        ("inharmonicity", -2.0 * ratio),
    ):
        difference = voice.difference(quantity)
        if made * difference > 0.0 and abs(made) >= EXPLAINED_SHARE * abs(difference):
            explained.append(quantity)
    if size >= ANOTHER_NOTE_CENTS:
        explained += [q for q in voice.over_notes if q.startswith(("h0", "h1", "h2", "decay"))]
    return tuple(dict.fromkeys(explained))
