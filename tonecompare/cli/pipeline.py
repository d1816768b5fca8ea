"""A session into a report folder: measure, compare, write, and say what came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tonecompare.cli.options import default_out
from tonecompare.cli.outcome import DONE, name_left_out, wrote
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import say, show, wrapped
from tonecompare.session.model import Session
from tonecompare.session.tunings import with_tuning

if TYPE_CHECKING:
    from tonecompare.compare.comparisons import Comparisons
    from tonecompare.measure.model import Measurements
    from tonecompare.report import Finding

#: Remarks on files shown on the terminal; the report has them all.
_REMARKS_SHOWN = 12
#: Files named where one remark holds for several.
_FILES_NAMED = 4


def say_remarks(measurements: Measurements) -> None:
    """Show what was noticed about the files (clipped, no quiet, lossy source, …) on stderr.

    One sentence that holds for several files is said once.
    """
    from tonecompare.report.words.file_remarks import file_remarks

    files: dict[str, list[str]] = {}
    for record in measurements.files:
        for problem in file_remarks(record):
            files.setdefault(problem, []).append(record.file)
    for problem, named in list(files.items())[:_REMARKS_SHOWN]:
        more = f" and {len(named) - _FILES_NAMED} more" if len(named) > _FILES_NAMED else ""
        say(f"Note: {', '.join(named[:_FILES_NAMED])}{more}: {problem}")
    if len(files) > _REMARKS_SHOWN:
        say(f"Note: {len(files) - _REMARKS_SHOWN} more such remarks stand in the report.")


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
    mains_hz: float | None,
    tuning: str | None,
    workers: int,
    progress: bool | None,
) -> int:
    """Measure and compare a session, write its report and return the exit code.

    ``again`` are the words of the command that was given.

    Raises
    ------
    InputError
        When nothing in the session can be measured, or the report cannot be put at ``out``.
    """
    from tonecompare.compare import compare_session, find_worth
    from tonecompare.compare.planned import with_voice_pairs
    from tonecompare.front.run import refuse_nothing_measured
    from tonecompare.measure import measure_session
    from tonecompare.report import report_findings, write_report
    from tonecompare.report.blind.heard_findings import with_heard
    from tonecompare.report.blind.results import HEARD, heard_in
    from tonecompare.report.files.report_folder import check_replaceable
    from tonecompare.report.words.report_findings import left_out

    session = with_tuning(session, tuning)
    folder = out if out is not None else default_out(session.title)
    check_replaceable(folder)
    if mains_hz is not None:
        session = replace(session, mains_hz=mains_hz)
    kept: list[str] = []
    heard, not_counted = heard_in(session.root)
    with Progress(progress) as shown:
        measurements = measure_session(session, workers=workers, progress=shown)
        refuse_nothing_measured(measurements)
        session = with_voice_pairs(session, measurements)
        shown.step("Comparing")
        comparisons = compare_session(session, measurements)
        worth = find_worth(session, measurements, comparisons)
        findings = with_heard(report_findings(session, measurements, comparisons), heard)
        write_report(
            session,
            measurements,
            comparisons,
            folder,
            progress=shown.step,
            clips=not no_clips,
            audio_inside=audio == "inside",
            sheet_only=sheet_only,
            worth=worth,
            findings=findings,
            notice=kept.append,
        )
        wrote(folder)
    show_findings(findings, several=len(session.comparisons) > 1)
    for remark in (*kept, *session.remarks):
        say(f"Note: {remark}")
    for result in not_counted:
        say(f"Note: {HEARD}/{result.file} {result.why}")
    say_remarks(measurements)
    code = name_left_out(left_out(session, measurements))
    show(f"Report: {folder / 'index.html'}")
    if code != DONE:
        say_next(*again, when="once what was left out is mended")
    elif not session.comparisons:
        say_next(*again, when="once two stages have a voice of one name")
    elif again[0] == "report" and any(
        row.verdict == "likely-audible" for finding in findings for row in finding.rows
    ):
        say_next("blind", again[1], when="to find out by ear")
    else:
        say_next("explain", _word_worth_explaining(findings, comparisons))
    return code


def _word_worth_explaining(findings: Sequence[Finding], comparisons: Comparisons) -> str:
    """Return what may need explaining first: a cause that was found, or else a verdict."""
    causes = [each.kind for each in comparisons.confounds if each.found]
    verdicts = [row.verdict for finding in findings for row in finding.rows]
    return next(iter((*causes, *verdicts)), "undecided")
