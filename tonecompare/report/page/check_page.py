"""The page of a check: the answer and what to record again in short, then every wave.

The short form is the first screen and all that is printed, on one page; a finding stands beside the
wave it was found in; how small a difference the takes can show is there to be opened.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from markupsafe import Markup

from tonecompare.compare.check.check_results import CheckResult, Fault, StageAnswer
from tonecompare.language import tr
from tonecompare.measure.inspected_takes import Inspected
from tonecompare.report.files.report_folder import whole_or_nothing
from tonecompare.report.makers import MADE_BY_CHECK
from tonecompare.report.page.check_wave import Wave, wave
from tonecompare.report.page.layout import environment, policy
from tonecompare.report.words.check_text import (
    ANSWER_WORDS,
    SEVERITY_WORDS,
    WHAT_IT_SHOWS,
    Grouped,
    again_by_reason,
    check_json,
    grouped,
    headline,
    resolved_headings,
    resolved_rows,
    unknown_reasons,
    where,
)
from tonecompare.report.words.check_words.fault_told import kind_told, told
from tonecompare.report.words.check_words.held_words import held_sentence
from tonecompare.report.words.check_words.played_words import events_counted, played_sentence
from tonecompare.report.words.names import slug, unique_slugs
from tonecompare.report.words.numbers import number
from tonecompare.session.model import Session

_STYLE = '{% include "style.css.j2" %}{% include "check.css.j2" %}'
#: Faults and files that all stages together name on the printed page.
_ON_A_PAGE = 16
#: What browsers play; others get a link only.
_PLAYED = (".wav", ".flac", ".mp3", ".ogg", ".oga", ".opus")


@dataclass(frozen=True)
class FaultView:
    """One fault as the page shows it; ``links`` are the places it is in, with their waves."""

    severity: str
    severity_words: str
    kind: str
    place: str
    what: str
    why: str
    remedy: str
    #: (name, anchor of its wave or "") of each place.
    links: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class FileView:
    """One file: wave, form, what was found in it, and where its sound lies ("" when nowhere)."""

    anchor: str
    name: str
    form: str
    drawn: Wave
    href: str
    played: bool
    faults: tuple[FaultView, ...]


@dataclass(frozen=True)
class StageView:
    """One stage of the page; ``sound`` are the files nothing was found in."""

    anchor: str
    name: str
    answer: str
    answer_words: str
    headline: str
    again: tuple[tuple[str, list[str]], ...]
    faults: tuple[FaultView, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    reasons: tuple[str, ...]
    found: tuple[FileView, ...]
    sound: tuple[FileView, ...]
    held: tuple[str, ...] = ()
    played: tuple[str, ...] = ()


def write_check(
    session: Session,
    result: CheckResult,
    files: Iterable[Inspected],
    out: Path,
    *,
    notice: Callable[[str], None] | None = None,
) -> Path:
    """Write ``index.html`` and ``summary.json`` of a check to ``out``, whole or not at all.

    The page draws every wave but holds no sound: players take the recordings from where they lie
    (a relative link), so that the page stays small however many there are. Moved elsewhere without
    them, the page is complete but silent. ``notice`` is called with a sentence for each file of an
    earlier check that was changed since and is kept beside the new one.

    Raises
    ------
    InputError
        ``out`` holds something that is not ours, or cannot be written.
    """
    there = {file.file: file for file in files}
    anchors = unique_slugs(there)
    stages = tuple(
        _stage_view(session, one, result.stages, there, anchors, out) for one in result.stages
    )
    laid_out = environment()
    style = Markup(laid_out.from_string(_STYLE).render())
    html = laid_out.get_template("check.html.j2").render(
        title=result.title,
        stages=stages,
        headings=resolved_headings(result.stages),
        what_it_shows=tr(WHAT_IT_SHOWS),
        style=style,
        policy=policy(style, ""),
        shown=max(_ON_A_PAGE // max(len(stages), 1), 2),
        most=max(_ON_A_PAGE // max(len(stages), 1), 2),
    )
    with whole_or_nothing(out, by=MADE_BY_CHECK, notice=notice) as folder:
        (folder / "index.html").write_bytes(html.encode("utf-8", "replace"))
        (folder / "summary.json").write_bytes(check_json(result).encode("utf-8", "replace"))
    return out


def _stage_view(
    session: Session,
    answer: StageAnswer,
    answers: Sequence[StageAnswer],
    there: dict[str, Inspected],
    anchors: dict[str, str],
    out: Path,
) -> StageView:
    files = [
        _file_view(session, file, answer, anchors, out)
        for file in there.values()
        if file.stage == answer.stage
    ]
    return StageView(
        anchor=f"stage-{slug(answer.stage)}",
        name=answer.stage,
        answer=answer.answer,
        answer_words=tr(ANSWER_WORDS[answer.answer]),
        headline=headline(answer),
        again=tuple(again_by_reason(answer)),
        faults=tuple(_fault_view(each, anchors) for each in grouped(answer.faults)),
        rows=tuple(resolved_rows(answer, answers)),
        reasons=tuple(unknown_reasons(answer)),
        found=tuple(file for file in files if file.faults),
        sound=tuple(file for file in files if not file.faults),
        held=tuple(held_sentence(held) for held in answer.held),
        played=tuple(played_sentence(played) for played in answer.played),
    )


def _fault_view(each: Grouped, anchors: dict[str, str]) -> FaultView:
    fault, said = each.fault, told(each.fault)
    links = {where(one): anchors.get(one.file, "") for one in each.faults}
    return FaultView(
        fault.severity,
        tr(SEVERITY_WORDS[fault.severity]),
        kind_told(fault.kind),
        each.place(),
        said.what if len(each.faults) == 1 else "",
        said.why,
        said.remedy,
        tuple(links.items()),
    )


def _file_view(
    session: Session,
    file: Inspected,
    answer: StageAnswer,
    anchors: dict[str, str],
    out: Path,
) -> FileView:
    mine = [fault for fault in answer.faults if fault.file == file.file]
    times = tuple(fault.time_s for fault in mine if fault.time_s is not None)
    form = (
        f"{number(file.length_s, 1)} s, {number(file.rate_hz / 1000.0, 1)} kHz, "
        f"{file.subtype.replace('_', ' ')}, {events_counted(pluck.note for pluck in file.plucks)}"
    )
    return FileView(
        anchors[file.file],
        file.file.removeprefix(f"{file.stage}/"),
        form,
        wave(file, times),
        _href(session.root / file.file, out),
        file.file.lower().endswith(_PLAYED),
        tuple(_own_fault(fault) for fault in mine),
    )


def _own_fault(fault: Fault) -> FaultView:
    said = told(fault)
    place = "" if fault.time_s is None else tr("at {time} s", time=number(fault.time_s, 1))
    words, kind = tr(SEVERITY_WORDS[fault.severity]), kind_told(fault.kind)
    return FaultView(fault.severity, words, kind, place, said.what, said.why, said.remedy)


def _href(path: Path, out: Path) -> str:
    """Return the relative address of a recording, "" when there is none (another drive)."""
    try:
        relative = os.path.relpath(path.resolve(), out.resolve())
    except ValueError:
        return ""
    return quote(Path(relative).as_posix(), errors="surrogateescape")
