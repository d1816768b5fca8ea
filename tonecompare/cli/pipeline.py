"""A session into a report folder: measure, compare, write, and say what came out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tonecompare.cli.options import default_out, speak
from tonecompare.cli.outcome import DONE, files_named, name_left_out, wrote
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import note, show, wrapped
from tonecompare.language import language, tr
from tonecompare.session.model import Session
from tonecompare.session.tunings import with_tuning

if TYPE_CHECKING:
    from tonecompare.compare.comparisons import Comparisons
    from tonecompare.kept.store import Store
    from tonecompare.measure.model import FileRecord
    from tonecompare.report import Finding
    from tonecompare.report.blind.results import Scored
    from tonecompare.report.files.kept_report import KeptReport

#: Remarks on files shown on the terminal; the report has them all.
_REMARKS_SHOWN = 12
#: Files named where one remark holds for several.
_FILES_NAMED = 4


def say_remarks(records: Sequence[FileRecord]) -> None:
    """Show what was noticed about the files (clipped, no quiet, lossy source, …) on stderr.

    One sentence that holds for several files is said once.
    """
    from tonecompare.report.words.file_remarks import file_remarks

    files: dict[str, list[str]] = {}
    for record in records:
        for problem in file_remarks(record):
            files.setdefault(problem, []).append(record.file)
    for problem, named in list(files.items())[:_REMARKS_SHOWN]:
        note(f"{files_named(named, most=_FILES_NAMED)}: {tr(problem)}")
    if len(files) > _REMARKS_SHOWN:
        rest = len(files) - _REMARKS_SHOWN
        note(tr("{n} more such remarks stand in the report.", n=rest))


def show_findings(findings: Sequence[Finding], *, several: bool) -> None:
    """Write the report's findings to stdout, a paragraph each, wrapped to the terminal.

    With ``several`` comparisons each finding names its own.
    """
    for finding in findings:
        text = f"{finding.where}: {finding.text}" if several and finding.where else finding.text
        show(wrapped(text, "* ", "  "))


def make_report(
    session: Session,
    *,
    again: Sequence[str | Path],
    out: Path | None,
    no_clips: bool,
    audio: str,
    sheet_only: bool,
    shown: Sequence[str],
    mains_hz: float | None,
    tuning: str | None,
    spoken: str | None,
    workers: int,
    scheduler: str | None,
    store: Store,
    progress: bool | None,
) -> int:
    """Measure and compare a session, write its report and return the exit code.

    ``again`` are the words of the command that was given.

    Raises
    ------
    InputError
        When nothing in the session can be measured, or the report cannot be put at ``out``.
    """
    from tonecompare.kept.checksums import report_key
    from tonecompare.report.blind.results import HEARD, heard_in
    from tonecompare.report.files.kept_report import write_again
    from tonecompare.report.files.report_folder import check_ready

    session = with_tuning(session, tuning)
    speak(spoken, session)
    folder = out if out is not None else default_out(session.title)
    check_ready(folder)
    if mains_hz is not None:
        session = replace(session, mains_hz=mains_hz)
    changed: list[str] = []
    heard, not_counted = heard_in(session.root)
    options: Mapping[str, Any] = {
        "clips": not no_clips,
        "audio_inside": audio == "inside",
        "sheet_only": sheet_only,
        "shown": tuple(shown),
    }
    chosen = (sorted(options.items()), heard, language())
    key = report_key(session, chosen)
    made: KeptReport | None = store.get(key) if key else None
    if made is not None:
        write_again(folder, made, notice=changed.append)
    else:
        with Progress(progress) as told:
            made = _make(
                session, folder, told,
                heard=heard, options=options, workers=workers, scheduler=scheduler, store=store,
                notice=changed.append,
            )  # fmt: skip
        if key and key == report_key(session, chosen):
            store.put(key, made)
        elif key:
            changed.append(
                tr(
                    "A recording or a takes.csv was changed while the report was made. Run the "
                    "same command again once nothing writes to it."
                )
            )
    wrote(folder)
    show_findings(made.findings, several=made.several)
    for remark in (*changed, *made.remarks):
        note(remark)
    for result in not_counted:
        note(f"{HEARD}/{result.file} {result.why}")
    say_remarks(made.records)
    code = name_left_out(made.left_out)
    show(tr("Report: {page}", page=folder / "index.html"))
    _say_next(session, made, again, code)
    return code


def _say_next(session: Session, made: KeptReport, again: Sequence[str | Path], code: int) -> None:
    """Say what to do next: mend, record, listen or look a word up."""
    if code != DONE:
        say_next(*again, when=tr("once what was left out is mended"))
    elif not made.compared:
        empty = [name for name in session.stages if not session.voices_of(name)]
        if empty:
            say_next(*again, when=tr("once {stage} is recorded", stage=empty[0]))
        else:
            say_next(*again, when=tr("once two stages have a voice of one name"))
    elif again[0] == "report" and any(
        row.verdict == "likely-audible" for finding in made.findings for row in finding.rows
    ):
        say_next("blind", again[1], when=tr("to find out by ear"))
    else:
        say_next("explain", made.word)


def _make(
    session: Session,
    folder: Path,
    told: Progress,
    *,
    heard: Sequence[Scored],
    options: Mapping[str, Any],
    workers: int,
    scheduler: str | None,
    store: Store,
    notice: Callable[[str], None],
) -> KeptReport:
    """Measure, compare and write, and return what was made."""
    from tonecompare.measure.session import measure_session

    measurements = measure_session(
        session, workers=workers, scheduler=scheduler, progress=told, store=store,
        meanwhile=_load_what_writes,
    )  # fmt: skip

    from tonecompare.compare import compare_session, find_worth
    from tonecompare.compare.planned import with_voice_pairs
    from tonecompare.front.run import refuse_nothing_measured
    from tonecompare.report import report_findings, write_report
    from tonecompare.report.blind.heard_findings import with_heard
    from tonecompare.report.files.kept_report import KeptReport, files_of
    from tonecompare.report.words.report_findings import left_out, unheard

    refuse_nothing_measured(measurements)
    session = with_voice_pairs(session, measurements)
    told.step(tr("Comparing"))
    comparisons = compare_session(session, measurements, workers=workers)
    worth = find_worth(session, measurements, comparisons)
    findings = with_heard(report_findings(session, measurements, comparisons), heard)
    files: dict[str, bytes] = {}
    write_report(
        session,
        measurements,
        comparisons,
        folder,
        progress=told.step,
        **options,
        worth=worth,
        findings=findings,
        notice=notice,
        workers=workers,
        finished=lambda finished: files.update(files_of(finished)),
    )
    return KeptReport(
        findings=tuple(findings),
        several=len(session.comparisons) > 1,
        compared=bool(session.comparisons),
        remarks=(*session.remarks, *unheard(session, measurements)),
        records=measurements.files,
        left_out=left_out(session, measurements),
        word=_word_worth_explaining(findings, comparisons),
        files=files,
    )


def _load_what_writes() -> None:
    """Load what a report is written with, and its templates."""
    import_module("tonecompare.report.whole_report")
    templates = import_module("tonecompare.report.page.layout").environment()
    for name in templates.list_templates():
        templates.get_template(name)


def _word_worth_explaining(findings: Sequence[Finding], comparisons: Comparisons) -> str:
    """Return what may need explaining first: a cause that was found, or else a verdict."""
    causes = [each.kind for each in comparisons.confounds if each.found]
    verdicts = [row.verdict for finding in findings for row in finding.rows]
    return next(iter((*causes, *verdicts)), "undecided")
