"""Plan a session: ``session.toml``, stage folders and a take sheet to tick off at the bench."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.session.model import AGAIN, Voice
from tonecompare.session.naming import clean_name, listed, match_key
from tonecompare.session.note_names import note_name, note_number
from tonecompare.session.plan.plan_model import Plan, PlannedNote, PlannedStage, PlanOptions
from tonecompare.session.plan.selectors import called, check_file_name, planned_voices
from tonecompare.session.plan.sheet_to_print import REPEATS_FILE, repeats_page, take_sheet
from tonecompare.session.plan.toml_text import session_toml
from tonecompare.session.toml.read import SESSION_FILE
from tonecompare.whole_file import write_whole

#: The sheet that is printed.
SHEET_FILE = "take-sheet.html"


@dataclass(frozen=True)
class Written:
    """What :func:`write_plan` made."""

    session_file: Path
    sheet: Path
    folders: tuple[Path, ...]
    plan: Plan


def make_plan(options: PlanOptions, *, default_title: str = "Session") -> Plan:
    """Return the plan that follows from the options.

    Raises
    ------
    InputError
        For options that cannot be: unknown layout or note, doubles, names no file can have.
    """
    _check_names(options)
    voices = planned_voices(options.layout, splits=options.splits, outputs=options.outputs)
    if not 1 <= options.repeats <= 50:
        raise InputError(tr("repeats is {n}; 1 to 50 fit on the sheet.", n=options.repeats))
    if options.mains_hz not in (None, 50, 60):
        raise InputError(tr("mains_hz is {n}; 50 or 60 is allowed.", n=options.mains_hz))
    stages = tuple(_stages(options, voices))
    if len({match_key(stage.folder) for stage in stages}) < len(stages):
        raise InputError(
            tr(
                "two stages would share one folder ({folders}); name instruments or stages "
                "differently.",
                folders=listed(s.folder for s in stages),
            )
        )
    return Plan(
        title=options.title.strip() or default_title,
        options=options,
        voices=voices,
        stages=stages,
        notes=tuple(_notes(options)),
    )


def write_plan(folder: Path, options: PlanOptions) -> Written:
    """Write ``session.toml``, the stage folders and the take sheet.

    Parameters
    ----------
    folder
        The session folder; made when it is not there. Recordings already in it stay untouched.
    options
        What is planned.

    Raises
    ------
    InputError
        When a ``session.toml`` or take sheet is there already (nothing is written then), when
        ``folder`` is a file, or when an option cannot be.
    """
    folder = Path(folder)
    refuse_planned(folder)
    plan = make_plan(options, default_title=clean_name(Path(os.path.realpath(folder)).name))
    texts = {
        SESSION_FILE: session_toml(plan),
        SHEET_FILE: take_sheet(plan),
        REPEATS_FILE: repeats_page(plan),
    }
    folders = tuple(folder / stage.folder for stage in plan.stages)
    written: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for each in folders:
            each.mkdir(exist_ok=True)
        for name, text in texts.items():
            write_whole(folder / name, text)
            written.append(folder / name)
    except OSError as error:
        for path in written:  # a plan without its sheet would stand in the way of the next
            path.unlink(missing_ok=True)
        raise InputError(
            tr("{path}: cannot be written: {why}.", path=error.filename, why=error.strerror)
        ) from error
    return Written(folder / SESSION_FILE, folder / SHEET_FILE, folders, plan)


def refuse_planned(folder: Path) -> None:
    """Raise :class:`InputError` when a plan cannot go into a folder, or one is there already."""
    if folder.is_symlink() and not folder.exists():
        raise InputError(tr("{path}: is a link to nothing; give another folder.", path=folder))
    if folder.exists() and not folder.is_dir():
        raise InputError(tr("{path}: is a file; give a folder.", path=folder))
    for name in (SESSION_FILE, SHEET_FILE, REPEATS_FILE):
        if (folder / name).exists():
            raise InputError(
                tr(
                    "{path}: exists already and may hold your notes, so nothing was written. Give "
                    "another folder, or rename the file first.",
                    path=folder / name,
                )
            )


def _check_names(options: PlanOptions) -> None:
    for kind, names in (
        ("instrument", (*options.instruments, *options.controls)),
        ("stage", options.stages),
    ):
        for name in names:
            check_file_name(name, kind)
        doubles = [n for i, n in enumerate(names) if match_key(n) in map(match_key, names[:i])]
        if doubles:
            raise InputError(
                tr(
                    "the {kind} {name} stands there twice.",
                    kind=called(kind),
                    name=listed(doubles[:1]),
                )
            )
    if not options.instruments:
        raise InputError(tr("no instrument is given; name at least one."))
    if not options.stages:
        raise InputError(tr("no stage is given; name at least one, like before."))


def _stages(options: PlanOptions, voices: Sequence[Voice]) -> Iterator[PlannedStage]:
    """Yield the stages session by session, worked-on instruments first.

    A control is recorded through its magnetic pickups only, where there are any.
    """
    for_control = [voice for voice in voices if voice.outputs == ("magnetic",)] or voices
    for number, stage in enumerate(options.stages, start=1):
        for instrument, control in (
            *((name, False) for name in options.instruments),
            *((name, True) for name in options.controls),
        ):
            word = f"{instrument}-with-" if control else f"{instrument}-"
            earlier = f"{word}{options.stages[number - 2]}" if number > 1 else None
            yield PlannedStage(
                folder=word + stage,
                instrument=instrument,
                session=number,
                from_folder=earlier,
                order=_order(for_control if control else voices, f"{options.seed}/{word}{stage}"),
                control=control,
            )


def _order(voices: Sequence[Voice], seed: str) -> tuple[Voice, ...]:
    """Return the voices shuffled, the first once more at the end."""
    shuffled = list(voices)
    random.Random(seed).shuffle(shuffled)
    first = shuffled[0]
    again = Voice(first.name + AGAIN, first.pickups, first.split, first.outputs)
    return (*shuffled, again)


def _notes(options: PlanOptions) -> Iterator[PlannedNote]:
    """Yield the notes to pluck, thickest string first."""
    tuning, frets = options.tuning, options.frets
    if not tuning or not frets:
        raise InputError(tr("no note is to be plucked; give at least one string and one fret."))
    for fret in frets:
        if not 0 <= fret <= 36:
            raise InputError(
                tr("fret {n} is not on a guitar; 0 (open string) to 36 is allowed.", n=fret)
            )
    for index, name in enumerate(tuning):
        try:
            number = note_number(name)
        except ValueError as error:
            raise InputError(tr("tuning: {why}.", why=error)) from error
        if options.strings and len(tuning) - index not in options.strings:
            continue
        for fret in dict.fromkeys(frets):
            yield PlannedNote(len(tuning) - index, fret, note_name(number + fret))
