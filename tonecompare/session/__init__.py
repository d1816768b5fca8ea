"""What was recorded? The session, read from ``session.toml`` and the folders beside it.

Nothing in here opens a sound file, and nothing imports numpy: names load when first used.

Read
    load_session        a session folder, with or without ``session.toml``
    session_from_pair   two folders, before and after
    session_of_given    whatever was given to compare: files, one folder or several
    read_session_toml   ``session.toml`` alone
    find_recordings     the recordings of one stage folder
    read_overrides, stage_overrides, write_overrides    ``takes.csv`` beside the recordings

Data
    Session, Instrument, Stage, Voice, Recording, Conditions, WorkItem, ComparisonSpec, Worth,
    LeftOut, Override

Plan
    PlanOptions, write_plan        ``session.toml``, stage folders and take sheet of a new session
    repeats_needed, smallest_change    plucks for a change, and the change some plucks can show

Note names
    note_number, note_name         scientific pitch names to and from MIDI numbers
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from tonecompare.lazy import lazily

if TYPE_CHECKING:
    from tonecompare.session.folders import find_recordings
    from tonecompare.session.given import session_of_given
    from tonecompare.session.load import load_session, session_from_pair
    from tonecompare.session.model import (
        ComparisonSpec,
        Conditions,
        Instrument,
        LeftOut,
        Recording,
        Session,
        Stage,
        Voice,
        WorkItem,
        Worth,
    )
    from tonecompare.session.note_names import note_name, note_number
    from tonecompare.session.overrides import (
        Override,
        read_overrides,
        stage_overrides,
        write_overrides,
    )
    from tonecompare.session.plan.plan_model import PlanOptions
    from tonecompare.session.plan.planned_session import write_plan
    from tonecompare.session.plan.repeats import repeats_needed, smallest_change
    from tonecompare.session.toml.read import read_session_toml

#: Public name -> module of this package that holds it.
_HOME = {
    "ComparisonSpec": "model",
    "Conditions": "model",
    "Instrument": "model",
    "LeftOut": "model",
    "Override": "overrides",
    "PlanOptions": "plan.plan_model",
    "Recording": "model",
    "Session": "model",
    "Stage": "model",
    "Voice": "model",
    "WorkItem": "model",
    "Worth": "model",
    "find_recordings": "folders",
    "load_session": "load",
    "note_name": "note_names",
    "note_number": "note_names",
    "read_overrides": "overrides",
    "read_session_toml": "toml.read",
    "repeats_needed": "plan.repeats",
    "session_from_pair": "load",
    "session_of_given": "given",
    "smallest_change": "plan.repeats",
    "stage_overrides": "overrides",
    "write_overrides": "overrides",
    "write_plan": "plan.planned_session",
}

__all__ = [
    "ComparisonSpec",
    "Conditions",
    "Instrument",
    "LeftOut",
    "Override",
    "PlanOptions",
    "Recording",
    "Session",
    "Stage",
    "Voice",
    "WorkItem",
    "Worth",
    "find_recordings",
    "load_session",
    "note_name",
    "note_number",
    "read_overrides",
    "read_session_toml",
    "repeats_needed",
    "session_from_pair",
    "session_of_given",
    "smallest_change",
    "stage_overrides",
    "write_overrides",
    "write_plan",
]

__getattr__, __dir__ = lazily(__name__, _HOME)
