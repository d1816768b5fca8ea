"""Voices that were planned or recorded before, and are not there at a stage."""

from __future__ import annotations

from collections.abc import Iterator

from tonecompare.compare.check.check_results import Checked, Fault
from tonecompare.session.model import Session


def missing_voice_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the voices a stage lacks: planned ones to look at, those of earlier stages to know."""
    session = checked.session
    for stage in checked.stages():
        here = set(session.voices_of(stage))
        planned = _planned(session)
        for voice in planned:
            if voice not in here:
                yield _fault(stage, voice, "doubt", "")
        for earlier in _ancestors(session, stage):
            for voice in session.voices_of(earlier):
                if voice not in here and voice not in planned:
                    here.add(voice)
                    yield _fault(stage, voice, "note", earlier)


def _planned(session: Session) -> tuple[str, ...]:
    """Return the described magnetic voices of a planned session (controls lack the others)."""
    if session.planned is None:
        return ()
    return tuple(name for name, voice in session.voices.items() if voice.outputs == ("magnetic",))


def _ancestors(session: Session, stage: str) -> Iterator[str]:
    """Yield the stages a stage came from, the nearest first."""
    seen = {stage}
    name = session.stages[stage].from_stage
    while name is not None and name in session.stages and name not in seen:
        seen.add(name)
        yield name
        name = session.stages[name].from_stage


def _fault(stage: str, voice: str, severity: str, earlier: str) -> Fault:
    # Data: the stage that has it, "" when session.toml plans it.
    return Fault("missing voice", severity, stage, voice, "", None, (earlier,))
