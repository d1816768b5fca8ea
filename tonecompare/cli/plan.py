"""``tonecompare plan FOLDER``."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from tonecompare.cli.options import cores, example, language_option
from tonecompare.cli.outcome import DONE, with_exit_code
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.table import format_table
from tonecompare.cli.shown.terminal import show, width, wrapped
from tonecompare.errors import InputError, message_of
from tonecompare.language import ENGLISH, in_language, tr, tr_later
from tonecompare.session.tunings import parse_tuning

if TYPE_CHECKING:
    from tonecompare.session.plan.plan_model import Plan, PlanOptions


def _measured_spreads(session_folder: Path | None) -> dict[str, float]:
    if session_folder is None:
        return {}
    from tonecompare.compare.check.pluck_spread import pluck_spreads
    from tonecompare.front.run import refuse_nothing_measured
    from tonecompare.kept.store import user_store
    from tonecompare.measure import measure_session
    from tonecompare.session import load_session

    session = load_session(session_folder)
    with Progress() as shown:
        measurements = measure_session(session, workers=cores(), progress=shown, store=user_store())
    refuse_nothing_measured(measurements)
    spreads = pluck_spreads(measurements.plucks)
    if not spreads:
        raise InputError(
            tr(
                "{path}: no spread from pluck to pluck can be taken from it; that needs several "
                "plucks of the same note in a recording.",
                path=session_folder,
            )
        )
    return spreads


def _answers(given: dict[str, Any]) -> dict[str, Any]:
    """Return the options of the command line as the answers they stand for."""
    from tonecompare.cli.planning.questions import day_of, frets_of, layout_of, minutes_of

    length = _number_of("--scale-length", "scale_length_mm", given["scale_length"])
    names = (*given["instruments"], *given["controls"])
    return given | {
        "layout": layout_of(given["layout"]),
        "tuning": parse_tuning(given["tuning"]),
        "frets": frets_of(given["frets"]),
        "date": day_of(given["date"] or ""),
        "minutes": minutes_of(given["minutes"] or ""),
        "gain": _number_of("--gain", "interface_gain_db", given["gain"]),
        **{f"scale of {name}": length for name in names},
    }


def _number_of(option: str, key: str, text: str | None) -> float | None:
    from tonecompare.cli.planning.questions import number_of

    try:
        return number_of(key)(text or "")
    except InputError as error:
        raise InputError(f"{option}: {message_of(error)}") from error


def _options(given: dict[str, Any], answers: dict[str, Any]) -> PlanOptions:
    from tonecompare.cli.planning.questions import changes_of, told_of
    from tonecompare.session.plan.plan_model import PlanOptions
    from tonecompare.session.plan.time_budget import within_minutes

    asked = answers.get("level_change")
    matters = {} if asked is None else {"level_dbfs": asked}
    options = PlanOptions(
        title=given["title"],
        instruments=answers["instruments"],
        controls=answers["controls"],
        stages=answers["stages"],
        layout=answers["layout"],
        splits=answers["splits"],
        outputs=answers["outputs"],
        tuning=answers["tuning"],
        frets=answers.get("frets", (0,)),
        repeats=answers.get("repeats", given["repeats"]),
        seed=given["seed"],
        mains_hz=None if given["mains"] is None else int(given["mains"]),
        measured_spreads=_measured_spreads(given["spread_from"]),
        smallest_changes=changes_of(given["smallest_change"]) | matters,
        play=answers.get("play", tuple(dict.fromkeys(given["play"]))),
        **told_of(answers),
    )
    if answers.get("minutes") is None or "plucks" not in options.play:
        return options
    return within_minutes(options, answers["minutes"])


def _show_reach(plan: Plan) -> None:
    """Show what the plan will be able to show, and what it takes."""
    from tonecompare.session.plan.sheet_to_print import minutes_of, spread_rows

    plucks, strings = plan.options.repeats, plan.notes
    several = len(plan.voices) + 1
    if plan.options.play != ("plucks",):
        from tonecompare.session.plan.playing import how_played, what_shows

        how = how_played(plan.options.play)
        show(wrapped(tr("Each of {n} recordings a stage: {how}.", n=several, how=how)))
        for said in what_shows(plan.options.play):
            show(wrapped(said))
        show(wrapped(tr("About {n} minutes a stage.", n=minutes_of(plan))) + "\n")
        if "plucks" not in plan.options.play:
            return
    show(
        wrapped(
            tr(
                "Each of {n} recordings a stage: {count} notes ({notes}), {plucks} times each; "
                "about {minutes} minutes a stage.",
                n=several,
                count=len(strings),
                notes=", ".join(note.note for note in strings),
                plucks=plucks,
                minutes=minutes_of(plan),
            )
        )
    )
    rows = [
        [
            row.label,
            row.change,
            f"{row.shown_all_notes}{' ✓' if row.enough else ''}",
            row.shown_one_note,
        ]
        for row in spread_rows(plan)
    ]
    header = [
        tr("Smallest change"),
        tr("that matters"),
        tr("shown over all notes"),
        tr("on one note"),
    ]
    show("\n" + format_table(header, rows, left=header[:1], width=width()))
    show(
        wrapped(
            tr(
                "✓: the plan shows it, with a chance of 80 % where the plucks scatter as usual and "
                "for one quantity alone; a report of many needs somewhat more. --smallest-change "
                "says what matters to you, --spread-from takes the scatter from takes of yours."
            )
        )
        + "\n"
    )


def _instrument_of(folder: Path) -> str:
    """Return the folder's name where it makes a plain name for stage folders, else "guitar"."""
    name = Path(os.path.realpath(folder)).name.casefold()
    return name if re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", name) else "guitar"


def _nothing_given() -> bool:
    context = click.get_current_context()
    told = (name for name in context.params if name not in ("folder", "ask", "spoken", "debug"))
    return all(context.get_parameter_source(name) is ParameterSource.DEFAULT for name in told)


@click.command(short_help=tr_later("Plan a session: session.toml, folders, take sheet."))
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", default="", help="Title of the session (default: the folder's name).")
@click.option(
    "--instrument",
    "instruments",
    multiple=True,
    metavar="NAME",
    help="Instrument to be worked on; may be given again (default: the folder's name).",
)
@click.option(
    "--control",
    "controls",
    multiple=True,
    metavar="NAME",
    help="Instrument recorded unchanged in every session; may be given again.",
)
@click.option(
    "--stage",
    "stages",
    multiple=True,
    metavar="NAME",
    default=("before", "after"),
    help="State of work, in order (default: before and after).",
)
@click.option(
    "--layout",
    default="three-way",
    metavar="NAME",
    help="Selector: one, three-way, four-way, five-way, or its voices with commas "
    "(default: three-way).",
)
@click.option(
    "--split",
    "splits",
    multiple=True,
    metavar="VOICE",
    help="Voice that can be split as well; may be given again.",
)
@click.option(
    "--outputs",
    type=click.Choice(["magnetic", "piezo", "both"]),
    default="magnetic",
    help="What the guitar puts out.",
)
@click.option(
    "--tuning",
    default="E2 A2 D3 G3 B3 E4",
    metavar="NOTES",
    help="Open strings, lowest first: notes like B0,E1,A1,D2,G2 or a name like bass or "
    "seven-string.",
)
@click.option(
    "--minutes",
    metavar="N",
    help="Minutes you have for a stage: strings and plucks are chosen to show the smallest change "
    "that matters.",
)
@click.option(
    "--play",
    type=click.Choice(["plucks", "chords", "riff"]),
    multiple=True,
    default=("plucks",),
    help="What to play in every recording, by effort: plucks of single notes (most exact, "
    "default), chords, or a riff; may be given again for a mixed plan.",
)
@click.option("--frets", default="0", metavar="LIST", help="Frets to pluck, like 0,5,12.")
@click.option("--repeats", type=int, default=5, metavar="N", help="Plucks of each note.")
@click.option(
    "--smallest-change",
    multiple=True,
    metavar="QUANTITY=N",
    help="Smallest change that matters to you, like level_dbfs=0.5: the sheet says how many "
    "repeats show it. May be given again.",
)
@click.option(
    "--spread-from",
    type=click.Path(path_type=Path),
    metavar="SESSION",
    help="Take the spread from pluck to pluck from the takes of this session folder, not from a "
    "table of typical ones.",
)
@click.option("--date", metavar="DATE", help="Day of the first stage, like 2026-03-02 or today.")
@click.option("--scale-length", metavar="MM", help="Nut to bridge.")
@click.option("--gain", metavar="DB", help="Gain of the interface.")
@click.option("--mains", type=click.Choice(["50", "60"]), help="Mains frequency in Hz.")
@click.option("--seed", type=int, default=1, metavar="N", help="Settles the order of voices.")
@click.option(
    "--ask/--no-ask",
    default=None,
    help="Ask for what to plan (default: on a terminal, when no other option is given).",
)
@language_option
@example(
    "tonecompare plan heron --instrument heron --layout three-way --split bridge",
    "tonecompare plan heron --stage stock --stage rewound --outputs both --frets 0,12",
)
@with_exit_code
def plan(folder: Path, *, ask: bool | None, spoken: str | None, **given: Any) -> int:
    """Plan a session before anything is taken apart.

    Writes into FOLDER a session.toml to fill in, a folder per stage, and a take sheet to print
    and tick off at the bench. Asked on a terminal, answers are kept: stop with Ctrl-C, and the same
    command goes on. Voices are shuffled within a stage, so that drift does not look
    like a change, and the first one comes again at the end.
    """
    from tonecompare.cli.planning.interview import interview
    from tonecompare.cli.planning.kept_answers import KeptAnswers
    from tonecompare.session import write_plan
    from tonecompare.session.plan.planned_session import refuse_planned

    click.get_current_context().with_resource(in_language(spoken or ENGLISH))
    if ask is None:
        ask = sys.stdin.isatty() and _nothing_given()
    given["instruments"] = given["instruments"] or (_instrument_of(folder),)
    refuse_planned(folder)
    kept = KeptAnswers(folder)
    answers = interview(given, kept) if ask else _answers(given)
    written = write_plan(folder, _options(given, answers))
    if ask:
        kept.remove()
    _show_reach(written.plan)
    for each in written.folders:
        show(tr("Stage folder: {path}", path=each))
    show(tr("Session file: {path}", path=written.session_file))
    show(tr("Take sheet to print: {path}", path=written.sheet))
    first = written.plan.stages[0].folder
    say_next("check", folder, "--stage", first, when=tr("once {stage} is recorded", stage=first))
    return DONE
