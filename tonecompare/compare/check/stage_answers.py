"""The check of a session: every family of checks, an answer per stage, corrections to write."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from tonecompare.compare.check.check_results import (
    SEVERITIES,
    Checked,
    CheckResult,
    Fault,
    StageAnswer,
)
from tonecompare.compare.check.files.clipping_and_level import level_faults
from tonecompare.compare.check.files.file_origin import source_faults
from tonecompare.compare.check.files.notes_played import note_faults
from tonecompare.compare.check.files.odd_plucks import outlier_faults
from tonecompare.compare.check.files.played_music import music_faults, played_again
from tonecompare.compare.check.files.processed_sound import processing_faults
from tonecompare.compare.check.files.starts_and_ends import ringing_faults
from tonecompare.compare.check.missing_voices import missing_voice_faults
from tonecompare.compare.check.smallest_shown import resolution
from tonecompare.compare.check.stages.channels_crossed import channel_faults
from tonecompare.compare.check.stages.gain_moved import GAIN_MOVED, gain_faults, hum_faults
from tonecompare.compare.check.stages.held_still import held_faults, held_of
from tonecompare.compare.check.stages.swapped_voices import swapped_faults
from tonecompare.compare.check.stale_corrections import correction_faults
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.measure.model import Measurements
from tonecompare.session.model import LeftOut, Session
from tonecompare.session.overrides import Override

#: The families, in the order their faults are listed.
CHECKS: tuple[Callable[[Checked], Iterator[Fault]], ...] = (
    source_faults,
    level_faults,
    ringing_faults,
    note_faults,
    music_faults,
    missing_voice_faults,
    swapped_faults,
    channel_faults,
    gain_faults,
    hum_faults,
    held_faults,
    processing_faults,
    outlier_faults,
    correction_faults,
)


def check_session(
    session: Session,
    measurements: Measurements,
    files: Iterable[Inspected],
    *,
    stage: str | None = None,
) -> CheckResult:
    """Judge the takes of a session.

    Parameters
    ----------
    session, measurements, files
        As :func:`tonecompare.measure.inspected_takes.inspect_session` gives them.
    stage
        Answer for this stage only; the others are still there to be compared with. None answers
        for every stage that has something recorded.

    Returns
    -------
    CheckResult
        The faults of each stage from worst to least, its answer, what to record again, and what
        its takes can show.
    """
    checked = Checked(session, tuple(files), measurements)
    faults = [fault for check in CHECKS for fault in check(checked)] if checked.files else []
    left_out = (*session.left_out, *measurements.left_out)
    wanted = [name for name in session.stages if _asked(session, name, stage, left_out)]
    return CheckResult(
        session.title,
        tuple(
            _answer(checked, name, [f for f in faults if f.stage == name], left_out)
            for name in wanted
        ),
        tuple(item for item in left_out if _belongs(session, item, wanted)),
    )


def _asked(session: Session, name: str, stage: str | None, left_out: tuple[LeftOut, ...]) -> bool:
    """Whether a stage is answered for: the one named, or each that has something recorded."""
    if stage is not None:
        return name == stage
    return bool(session.voices_of(name)) or any(_belongs(session, i, [name]) for i in left_out)


def _answer(
    checked: Checked, stage: str, found: list[Fault], left_out: tuple[LeftOut, ...]
) -> StageAnswer:
    session = checked.session
    mine = [item for item in left_out if _belongs(session, item, [stage])]
    order = list(session.voices_of(stage))
    found += [
        Fault(
            "unusable",
            "again",
            stage,
            _voice_of(session, stage, item.file),
            item.file,
            None,
            (item.reason, item.of_file),  # as in LeftOut
        )
        for item in mine
    ]
    if not checked.session.recordings_of(stage) and not mine:
        found.append(Fault("nothing recorded", "again", stage, "", "", None))
    found.sort(
        key=lambda f: (
            SEVERITIES.index(f.severity),
            f.kind != GAIN_MOVED,  # what else moved is to be read with it in mind
            order.index(f.voice) if f.voice in order else len(order),
        )
    )
    files = [file for file in checked.files if file.stage == stage]
    again = tuple(dict.fromkeys((f.voice, f.file, f.kind) for f in found if f.severity == "again"))
    if again or not files:
        answer = "no-go"
    else:
        answer = "reservations" if any(f.severity == "doubt" for f in found) else "go"
    return StageAnswer(
        stage,
        answer,
        len(files),
        sum(len(file.plucks) for file in files),
        tuple(found),
        again,
        resolution(checked, stage) if files else (),
        held_of(checked, stage) if files else (),
        played_again(checked, stage),
    )


def _belongs(session: Session, item: LeftOut, stages: list[str]) -> bool:
    """Whether a file left out lies in the folder of one of the stages."""
    return any(
        item.file.startswith(f"{session.file_name(session.stages[name].folder)}/")
        for name in stages
    )


def _voice_of(session: Session, stage: str, file: str) -> str:
    """Return the voice a file left out would have carried."""
    for recording in session.recordings_of(stage):
        if any(session.file_name(path) == file for path in recording.files):
            return recording.voice
    return Path(file).stem


def corrections_of(result: CheckResult, session: Session, stage: str) -> tuple[Override, ...]:
    """Return the rows that ``check --write-takes`` writes for one stage.

    A row per pluck that a fault names: left out where the fault spoils the pluck, kept with the
    reason where a person has to decide.
    """
    folder = session.file_name(session.stages[stage].folder)
    rows: dict[tuple[str, int], tuple[bool, list[str]]] = {}
    for answer in result.stages:
        for fault in answer.faults if answer.stage == stage else ():
            for number in fault.plucks:
                use, kinds = rows.get((fault.file, number), (True, []))
                use = use and fault.severity != "again" and fault.kind != "note unsure"
                rows[(fault.file, number)] = (use, [*kinds, fault.kind])
    return tuple(
        Override(
            file.removeprefix(f"{folder}/"),
            number,
            use=use,
            reason=", ".join(dict.fromkeys(kinds)),
        )
        for (file, number), (use, kinds) in sorted(rows.items())
    )
