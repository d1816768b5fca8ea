"""``tonecompare check SESSION``."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from tonecompare.cli.options import (
    cluster_options,
    default_out,
    example,
    fresh_option,
    language_option,
    mains_option,
    progress_option,
    speak,
    tuning_option,
    workers_option,
)
from tonecompare.cli.outcome import DONE, LEFT_OUT, with_exit_code, wrote
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.table import format_table
from tonecompare.cli.shown.terminal import note, say, show, show_data, width, wrapped
from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later
from tonecompare.session.naming import did_you_mean
from tonecompare.session.tunings import with_tuning

if TYPE_CHECKING:
    from tonecompare.compare.check.check_results import CheckResult, StageAnswer
    from tonecompare.kept.store import Store
    from tonecompare.session.model import Session


def _print(result: CheckResult) -> None:
    for answer in result.stages:
        _print_stage(answer)


def _print_stage(answer: StageAnswer) -> None:
    from tonecompare.report.words.check_text import (
        ANSWER_WORDS,
        SEVERITY_WORDS,
        again_rows,
        grouped,
        headline,
        resolved_headings,
        resolved_rows,
    )
    from tonecompare.report.words.check_words.fault_told import kind_told, told
    from tonecompare.report.words.check_words.held_words import held_sentence
    from tonecompare.report.words.check_words.played_words import played_sentence

    indent = "    "
    show(f"\n{answer.stage}\n  {tr(ANSWER_WORDS[answer.answer])}\n  {headline(answer)}")
    for each in grouped(answer.faults):
        fault, said = each.fault, told(each.fault)
        show(f"\n  [{tr(SEVERITY_WORDS[fault.severity])}] {each.place()}: {kind_told(fault.kind)}")
        show(wrapped(f"{said.what} {each.likewise()}".rstrip(), indent, indent))
        show(wrapped(f"{said.why} {said.remedy}", indent, indent))
    if answer.again:
        heads = [tr("Record again"), tr("because")]
        rows = [[name, why] for name, why in again_rows(answer)]
        show("\n" + format_table(heads, rows, left=heads))
    if answer.played:
        show(f"\n  {tr('Played')}")
        for played in answer.played:
            show(wrapped(played_sentence(played), indent, indent))
    if answer.held:
        show(f"\n  {tr('Did the stage hold still?')}")
        for held in answer.held:
            show(wrapped(held_sentence(held), indent, indent))
    rows = [[name, *cells] for name, cells in resolved_rows(answer, [answer])]
    if rows:
        title = tr("Smallest differences these takes can show (✓: below the hearing threshold)")
        heads = [tr("Voice"), *resolved_headings([answer])]
        show(f"\n  {title}\n" + format_table(heads, rows, left=heads[:1], width=width()))


def _write_takes(session: Session, result: CheckResult) -> None:
    """Write ``takes.csv`` into every stage that has none and has plucks to judge."""
    from tonecompare.compare.check import corrections_of
    from tonecompare.session.overrides import OVERRIDES_FILE, write_overrides

    for answer in result.stages:
        path = session.stages[answer.stage].folder / OVERRIDES_FILE
        rows = corrections_of(result, session, answer.stage)
        if not rows:
            say(
                tr(
                    "{stage}: no pluck to put right, so no takes.csv was written.",
                    stage=answer.stage,
                )
            )
        elif path.exists():
            say(
                tr(
                    "{path}: exists already and may hold corrections, so it was left alone.",
                    path=path,
                )
            )
        else:
            write_overrides(path, rows)
            left_out = sum(not row.use for row in rows)
            say(
                tr(
                    "{path}: written, {n} plucks, {left_out} of them left out. Look it over.",
                    path=path,
                    n=len(rows),
                    left_out=left_out,
                )
            )


def _say_next(folder: Path, session: Session, result: CheckResult) -> None:
    """Say what comes after the check: record again, work and record on, or the report."""
    faulty = [one.stage for one in result.stages if one.answer == "no-go"]
    to_record = [name for name in session.stages if not session.voices_of(name)]
    if faulty:
        say_next("check", folder, "--stage", faulty[0], when=tr("once it is recorded again"))
    elif to_record:
        say_next("check", folder, "--stage", to_record[0], when=tr("once that stage is recorded"))
    else:
        say_next("report", folder)


@click.command(short_help=tr_later("Check the takes before anything is taken apart."))
@click.argument("session", type=click.Path(path_type=Path))
@click.option("--stage", metavar="NAME", help="Answer for this stage only.")
@click.option(
    "--write-takes",
    is_flag=True,
    help="Write the plucks in doubt to takes.csv of their stage, where none is yet.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the result as JSON.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder for the page (default: reports/<title> check).",
)
@mains_option
@tuning_option
@workers_option
@cluster_options
@fresh_option
@language_option
@progress_option
@example(
    "tonecompare check heron --stage heron-stock",
    "tonecompare check heron --json --out heron-check",
)
@with_exit_code
def check(
    session: Path,
    *,
    stage: str | None,
    write_takes: bool,
    as_json: bool,
    out: Path | None,
    mains_hz: float | None,
    tuning: str | None,
    spoken: str | None,
    workers: int,
    scheduler: str | None,
    store: Store,
    progress: bool | None,
) -> int:
    """Check the takes of a session before anything is taken apart.

    SESSION is a folder with a sub-folder per stage. Says for each stage whether it may be taken
    apart, what to record again and why, and the smallest differences its takes can show. Writes
    a page with every wave, cut marks and players.

    Exit codes: 0 go; 1 record something again first; 2 the input cannot be used.
    """
    from tonecompare.compare.check import check_session
    from tonecompare.front.run import refuse_nothing_measured
    from tonecompare.measure.inspected_takes import inspect_session
    from tonecompare.report import write_check
    from tonecompare.report.files.report_folder import check_ready
    from tonecompare.report.makers import MADE_BY_CHECK
    from tonecompare.report.words.check_text import check_json
    from tonecompare.session import load_session

    loaded = with_tuning(load_session(session), tuning)
    speak(spoken, loaded)
    if mains_hz is not None:
        loaded = replace(loaded, mains_hz=mains_hz)
    if stage is not None and stage not in loaded.stages:
        raise InputError(
            tr(
                "--stage {stage}: the stages are {stages}.",
                stage=stage,
                stages=", ".join(loaded.stages),
            )
            + did_you_mean(stage, loaded.stages)
        )
    folder = out if out is not None else default_out(f"{loaded.title} check")
    check_ready(folder, by=MADE_BY_CHECK)
    kept: list[str] = []
    with Progress(progress, said=tr_later("Looked at {done} of {total}")) as shown:
        measurements, files = inspect_session(
            loaded, workers=workers, scheduler=scheduler, progress=shown, store=store
        )
        refuse_nothing_measured(measurements)
        shown.step(tr("Judging"))
        result = check_session(loaded, measurements, files, stage=stage)
        write_check(loaded, result, files, folder, notice=kept.append)
        wrote(folder)
    if as_json:
        show_data(check_json(result))
    else:
        _print(result)
    for sentence in (*kept, *loaded.remarks):
        note(sentence)
    if not as_json:
        show(f"\nPage: {folder / 'index.html'}")
    if write_takes:
        _write_takes(loaded, result)
    if not as_json:
        _say_next(session, loaded, result)
    return LEFT_OUT if any(one.answer == "no-go" for one in result.stages) else DONE
