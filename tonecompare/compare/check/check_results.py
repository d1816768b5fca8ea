"""What a check returns. Frozen data, no file access."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from tonecompare.compare.causes.repeat_drift import Drift
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.measure.model import Measurements
from tonecompare.session.model import LeftOut, Session

#: From worst: record it again; look at it and decide; good to know.
SEVERITIES = ("again", "doubt", "note")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with a take.

    ``kind`` names it in a word or two, ``data`` holds its numbers and names (the comment beside the
    code that finds it says which); what is wrong, why it matters and what to do is said by
    :mod:`tonecompare.report.words.check_words`. ``file`` is "" when it concerns a whole voice,
    ``voice`` "" when it concerns a whole stage; ``time_s`` counts from the start of the file, None
    for the whole file. ``plucks`` are the numbers of the plucks that ``takes.csv`` could leave out
    for it.
    """

    kind: str
    severity: str
    stage: str
    voice: str
    file: str
    time_s: float | None
    data: tuple[Any, ...] = ()
    plucks: tuple[int, ...] = ()


@dataclass(frozen=True)
class Held:
    """How far a voice that was recorded again at the end of its stage moved since its first."""

    voice: str
    drifts: tuple[Drift, ...]


@dataclass(frozen=True)
class Resolved:
    """The smallest difference of one quantity that the takes of a voice could show.

    ``smallest`` is in ``unit``; None with the ``reason``, a code of ``smallest_shown``, when
    nothing can be said. ``threshold`` is the hearing threshold in the same unit, None when none is
    known. ``spread`` is the standard deviation from pluck to pluck.
    """

    stage: str
    voice: str
    output: str
    quantity: str
    label: str
    unit: str
    smallest: float | None
    threshold: float | None
    spread: float | None
    n_notes: int
    repeats: int
    reason: str = ""


@dataclass(frozen=True)
class PlayedAgain:
    """A riff or chord of a voice, and how often it was played.

    ``notes`` are those of a chord, of a riff how many notes and chords it holds stands in
    ``events``. ``pause_s`` is the shortest pause between a time and the next, None where it was
    played once; ``likeness`` how much of the first passage of its music the worst of a riff holds.
    """

    voice: str
    name: str
    times: int
    notes: tuple[str, ...]
    events: int
    pause_s: float | None
    likeness: float | None


@dataclass(frozen=True)
class StageAnswer:
    """Whether one stage may be taken apart, and what to record again first.

    ``answer`` is go, reservations or no-go; ``again`` names (voice, file, what is wrong), file ""
    where the whole voice is to be recorded.
    """

    stage: str
    answer: str
    n_files: int
    n_plucks: int
    faults: tuple[Fault, ...]
    again: tuple[tuple[str, str, str], ...]
    resolved: tuple[Resolved, ...]
    #: How far the stage held still, where a voice was recorded again at its end.
    held: tuple[Held, ...] = ()
    #: Riffs and chords, voice by voice.
    played: tuple[PlayedAgain, ...] = ()


@dataclass(frozen=True)
class CheckResult:
    """The check of a session, stage by stage."""

    title: str
    stages: tuple[StageAnswer, ...]
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True)
class Checked:
    """What the checks look at: the session, every file, and the tables measured from them."""

    session: Session
    files: tuple[Inspected, ...]
    measurements: Measurements

    @property
    def plucks(self) -> pd.DataFrame:
        """The table of plucks, a row per pluck and channel."""
        return self.measurements.plucks

    @property
    def quiet(self) -> pd.DataFrame:
        """The table of quiet stretches, a row per stretch and channel."""
        return self.measurements.quiet

    def stages(self) -> tuple[str, ...]:
        """Return the stages that have files, in the session's order."""
        there = {file.stage for file in self.files}
        return tuple(stage for stage in self.session.stages if stage in there)

    def voices(self, stage: str) -> tuple[str, ...]:
        """Return the voices of a stage that have files."""
        return tuple(dict.fromkeys(file.voice for file in self.files if file.stage == stage))

    def of(self, stage: str, voice: str) -> tuple[Inspected, ...]:
        """Return the files of a voice at a stage."""
        return tuple(f for f in self.files if f.stage == stage and f.voice == voice)


def fault_of(
    file: Inspected,
    kind: str,
    severity: str,
    data: tuple[Any, ...] = (),
    *,
    time_s: float | None = None,
    plucks: Iterable[int] = (),
) -> Fault:
    """Return a fault of one file."""
    return Fault(kind, severity, file.stage, file.voice, file.file, time_s, data, tuple(plucks))
