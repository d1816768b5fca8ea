"""From the files of one recording to takes: read, quiet, plucks, notes, flags."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from tonecompare.errors import RecordingError
from tonecompare.language import tr_later
from tonecompare.session.model import LeftOut, Recording, Session
from tonecompare.session.note_names import note_name, note_number
from tonecompare.session.overrides import Override, stage_overrides
from tonecompare.takes.corrections import corrected
from tonecompare.takes.file_faults import file_faults
from tonecompare.takes.first_look import Looked, look, voice_outputs
from tonecompare.takes.judge_plucks import (
    Found,
    in_order,
    is_noise,
    is_squeak,
    is_touch,
    judge_pluck,
    late_hz,
    loud_level,
    median_level,
)
from tonecompare.takes.model import Pluck, Take
from tonecompare.takes.plucks.cut_and_name import PooledQuiet, find_plucks, pooled_quiet, without
from tonecompare.takes.plucks.note_of_pluck import open_strings, string_number
from tonecompare.takes.plucks.passages import joined_passages

#: A file name that begins with a note: "E2.1", "F#3_soft", but not "bridge" or "a3".
_NOTE_NAME = re.compile(r"([A-G][#♯b♭]?-?\d)(?![0-9A-Za-z])")


def load_takes(session: Session, recording: Recording) -> tuple[list[Take], list[LeftOut]]:
    """Read the files of one recording and cut them into quiet stretches and plucks.

    Parameters
    ----------
    session
        What was recorded: outputs, tuning, A4, ``takes.csv`` beside the recordings.
    recording
        One voice at one stage.

    Returns
    -------
    takes
        One per usable file, in order.
    left_out
        The files that could not be used, each with the reason.

    Raises
    ------
    SessionError
        When a ``takes.csv`` cannot be used.
    """
    stage = session.stages[recording.stage]
    overrides = stage_overrides(stage.folder)
    outputs = voice_outputs(session, recording.voice)
    looked: list[Looked] = []
    left_out: list[LeftOut] = []
    for path in recording.files:
        try:
            looked.append(look(path, outputs=outputs))
        except RecordingError as error:
            named = _named(path, session.root)
            left_out.append(LeftOut(named, error.as_sentences, of_file=True))
    takes = []
    pooled = pooled_quiet(looked)
    for each, plucks in zip(*_plucks(session, recording, looked, pooled=pooled), strict=True):
        if not plucks and not each.quiets:
            reason = tr_later("No pluck and no quiet stretch was found in it. Record it again.")
            left_out.append(LeftOut(_named(each.audio.path, session.root), reason))
            continue
        checked = _check_name(each.audio.path, plucks)
        kept = corrected(
            checked,
            _named(each.audio.path, stage.folder),
            overrides,
            audio=each.audio,
            a4_hz=session.a4_hz,
        )
        take = _take(recording, each, kept, pooled=each.audio.rate_hz in pooled)
        idle = _rows_without_pluck(overrides, _named(each.audio.path, stage.folder), len(plucks))
        takes.append(replace(take, n_found=len(plucks), problems=(*take.problems, *idle)))
    return takes, left_out


def _plucks(
    session: Session, recording: Recording, looked: list[Looked], *, pooled: PooledQuiet
) -> tuple[list[Looked], list[list[Pluck]]]:
    """Cut, name and judge the plucks of all files; what turns out to be noise is gone."""
    a4_hz = session.a4_hz
    tuning = session.instrument_of(recording.stage).tuning
    found = [find_plucks(each, pooled=pooled, a4_hz=a4_hz) for each in looked]
    loud_db = loud_level([p.level_db for plucks in found for p in plucks if p.pitch])
    touches = [
        _touches(each, plucks, loud_db=loud_db) for each, plucks in zip(looked, found, strict=True)
    ]
    median_db = median_level(
        [p.level_db for i, plucks in enumerate(found) for p in plucks if p.pitch
         and p not in touches[i]]
    )  # fmt: skip
    for i, plucks in enumerate(found):
        noise = [pluck for pluck in plucks if is_noise(pluck, median_level_db=median_db)]
        if noise or touches[i]:
            looked[i] = without(looked[i], [*noise, *touches[i]])
            looked[i] = replace(looked[i], touches_s=_times(touches[i], noise))
            found[i] = find_plucks(looked[i], pooled=pooled, a4_hz=a4_hz)
    found = [joined_passages(plucks) for plucks in found]
    strings = open_strings(
        [p.note for plucks in found for p in plucks if p.pitch and not p.chord], tuning
    )
    judged = [
        [
            _judged(each, pluck, number, pooled, strings, tuning, median_db, a4_hz)
            for number, pluck in enumerate(plucks, start=1)
        ]
        for each, plucks in zip(looked, found, strict=True)
    ]
    return looked, judged


def _touches(each: Looked, plucks: list[Found], *, loud_db: float) -> list[Found]:
    """Return what is a finger or a hand on the strings, not a pluck."""
    audio = each.audio
    return [
        pluck
        for before, pluck in pairwise([None, *plucks])
        if pluck is not None
        and (
            is_touch(pluck, before, loud_db=loud_db)
            or is_squeak(pluck, before, audio.samples, rate_hz=audio.rate_hz, loud_db=loud_db)
        )
    ]


def _judged(
    each: Looked,
    pluck: Found,
    number: int,
    pooled: PooledQuiet,
    strings: Mapping[str, int],
    tuning: Sequence[str],
    median_db: float,
    a4_hz: float,
) -> Pluck:
    """Return one pluck with its string and flags."""
    audio = each.audio
    flags = judge_pluck(
        pluck,
        median_level_db=median_db,
        has_quiet=bool(each.quiets) or audio.rate_hz in pooled,
        clipped_s=each.clipped_s,
        a4_hz=a4_hz,
        late_hz=late_hz(pluck, audio.samples, rate_hz=audio.rate_hz, a4_hz=a4_hz),
    )
    one_string = not (pluck.chord or pluck.events_s)
    return Pluck(
        number=number,
        channel_onset_s=pluck.channel_onset_s,
        channel_onset_sd_s=pluck.channel_onset_sd_s,
        end_s=pluck.end_s,
        ended_by=pluck.ended_by,
        f0_hz=pluck.pitch.f0_hz if pluck.pitch and not pluck.chord else None,
        note=pluck.note,
        chord=tuple(note_name(each_note) for each_note in pluck.chord),
        events_s=pluck.events_s,
        string=strings.get(pluck.note) or string_number(pluck.note, tuning) if one_string else None,
        flags=flags,
    )


def _times(touches: list[Found], noise: list[Found]) -> tuple[float, ...]:
    """Return when the touches that have a pitch sound; others were noise all along."""
    return tuple(min(each.channel_onset_s) for each in touches if each not in noise)


def _check_name(path: Path, plucks: list[Pluck]) -> list[Pluck]:
    """Flag the plucks of a file named after another note than sounds ("E2.1.wav")."""
    match = _NOTE_NAME.match(path.stem)
    if match is None:
        return plucks
    named = note_name(note_number(match[1]))
    return [
        replace(pluck, flags=in_order({*pluck.flags, "misnamed"}))
        if pluck.note and pluck.note != named
        else pluck
        for pluck in plucks
    ]


def _take(recording: Recording, each: Looked, plucks: tuple[Pluck, ...], *, pooled: bool) -> Take:
    faults = file_faults(each.audio, clipped_s=each.clipped_s)
    flags = {*each.audio.flags, *(flag for flag, _ in faults)}
    problems = [*each.audio.problems, *(said for _, said in faults)]
    if not each.quiets:
        flags.add("no-quiet")
        problems.append(
            tr_later(
                "No quiet stretch of 0.2 s or more was found; that of another file of this "
                "recording was used. Record a second or more with the strings damped before the "
                "first pluck."
            )
            if pooled
            else tr_later(
                "No quiet stretch of 0.2 s or more was found; hum and hiss could not be measured "
                "nor taken off. Record a second or more with the strings damped before the first "
                "pluck."
            )
        )
    if each.touches_s:
        flags.add("touches")
        count, first_s = len(each.touches_s), float(each.touches_s[0])
        problems.append(
            tr_later(
                "1 sound far under the notes (at {first_s:.1f} s) is taken for a finger or hand on "
                "the strings and left out.",
                first_s=first_s,
            )
            if count == 1
            else tr_later(
                "{n} sounds far under the notes (the first at {first_s:.1f} s) are taken for a "
                "finger or hand on the strings and left out.",
                n=count,
                first_s=first_s,
            )
        )
    wrong = sorted({pluck.note for pluck in plucks if "misnamed" in pluck.flags})
    if wrong:
        problems.append(
            tr_later(
                "Named {name} but sounds {notes}.",
                name=each.audio.path.stem,
                notes=", ".join(wrong),
            )
        )
    if not plucks:
        problems.append(tr_later("No pluck was found; only the quiet is used."))
    return Take(
        stage=recording.stage,
        voice=recording.voice,
        outputs=each.outputs,
        audio=each.audio,
        quiets=each.quiets,
        plucks=plucks,
        problems=tuple(problems),
        flags=in_order(flags),
    )


def _rows_without_pluck(
    overrides: Mapping[tuple[str, int], Override], file: str, n_found: int
) -> tuple[str, ...]:
    """Say which rows of takes.csv name plucks that the file does not have."""
    numbers = [pluck for name, pluck in overrides if name == file and pluck > n_found]
    if not numbers:
        return ()
    which = ", ".join(map(str, numbers[:6])) + (", …" if len(numbers) > 6 else "")
    if len(numbers) == 1:
        return (
            tr_later(
                "1 row of takes.csv has no effect: {found} plucks were found in this file, so "
                "there is no pluck {which}. They count as found before any is left out.",
                found=n_found,
                which=which,
            ),
        )
    return (
        tr_later(
            "{n} rows of takes.csv have no effect: {found} plucks were found in this file, so "
            "there is no pluck {which}. They count as found before any is left out.",
            n=len(numbers),
            found=n_found,
            which=which,
        ),
    )


def _named(path: Path, root: Path) -> str:
    try:
        # No Path.resolve: a link that leads to itself stops it, up to Python 3.12.
        whole, inside = os.path.realpath(path), os.path.realpath(root)
        return Path(whole).relative_to(inside).as_posix()
    except ValueError:
        return path.as_posix()
