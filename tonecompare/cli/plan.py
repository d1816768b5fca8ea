"""``tonecompare plan FOLDER``."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from tonecompare.cli.options import cores, example
from tonecompare.cli.outcome import DONE, with_exit_code
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import show
from tonecompare.errors import InputError
from tonecompare.session.tunings import parse_tuning

if TYPE_CHECKING:
    from tonecompare.session.plan.plan_model import PlanOptions

_CONTROL = "An instrument recorded unchanged in every session, empty for none"


def _list(text: str) -> tuple[str, ...]:
    """Split at commas; a text without commas is one entry."""
    return tuple(part.strip() for part in text.split(",") if part.strip())


def _numbers(text: str) -> tuple[int, ...]:
    try:
        return tuple(int(part) for part in re.split(r"[,\s]+", text.strip()) if part)
    except ValueError as error:
        raise InputError(f'frets: "{text}" is no list of whole numbers, like "0,5,12".') from error


def _changes(texts: tuple[str, ...]) -> dict[str, float]:
    found = {}
    for text in texts:
        quantity, _, number = text.partition("=")
        try:
            found[quantity.strip()] = float(number)
        except ValueError as error:
            raise InputError(
                f'--smallest-change "{text}": write the quantity, = and a number, like '
                '"level_dbfs=0.5".'
            ) from error
    return found


def _asked(given: dict[str, Any]) -> dict[str, Any]:
    """Return the options as the user answers; Enter keeps what stands in brackets."""
    from tonecompare.session.plan.selectors import LAYOUTS, OUTPUT_CHOICES

    def ask(text: str, option: str, **more: Any) -> Any:
        return click.prompt(text, default=given[option], **more)

    def ask_list(text: str, option: str) -> tuple[str, ...]:
        return _list(click.prompt(text, default=", ".join(given[option])))

    answers = dict(given)
    answers["instruments"] = ask_list("Instrument to be worked on", "instruments")
    answers["controls"] = _list(click.prompt(_CONTROL, default="", show_default=False))
    answers["stages"] = ask_list("Stages, in order", "stages")
    click.echo(f"Selector: {', '.join(LAYOUTS)}, or the names of its voices with commas")
    answers["layout"] = ask("Selector", "layout")
    answers["splits"] = _list(
        click.prompt("Voices that can be split, empty for none", default="", show_default=False)
    )
    answers["outputs"] = ask("Outputs", "outputs", type=click.Choice(OUTPUT_CHOICES))
    answers["tuning"] = ask("Open strings, lowest first", "tuning")
    answers["frets"] = ask("Frets to pluck on each string, 0 is the open string", "frets")
    answers["repeats"] = ask("Plucks of each note", "repeats", type=int)
    return answers


def _measured_spreads(session_folder: Path | None) -> dict[str, float]:
    if session_folder is None:
        return {}
    from tonecompare.compare.pluck_spread import pluck_spreads
    from tonecompare.front.run import refuse_nothing_measured
    from tonecompare.measure import measure_session
    from tonecompare.session import load_session

    session = load_session(session_folder)
    with Progress() as shown:
        measurements = measure_session(session, workers=cores(), progress=shown)
    refuse_nothing_measured(measurements)
    spreads = pluck_spreads(measurements.plucks)
    if not spreads:
        raise InputError(
            f"{session_folder}: no spread from pluck to pluck can be taken from it; that needs "
            "several plucks of the same note in a recording."
        )
    return spreads


def _options(answers: dict[str, Any]) -> PlanOptions:
    from tonecompare.session.plan.plan_model import PlanOptions
    from tonecompare.session.plan.selectors import LAYOUTS

    layout = answers["layout"].strip()
    return PlanOptions(
        title=answers["title"],
        instruments=answers["instruments"],
        controls=answers["controls"],
        stages=answers["stages"],
        layout=layout if layout in LAYOUTS or "," not in layout else _list(layout),
        splits=answers["splits"],
        outputs=answers["outputs"],
        tuning=parse_tuning(answers["tuning"]),
        frets=_numbers(answers["frets"]),
        repeats=answers["repeats"],
        seed=answers["seed"],
        mains_hz=None if answers["mains"] is None else int(answers["mains"]),
        measured_spreads=_measured_spreads(answers["spread_from"]),
        smallest_changes=_changes(answers["smallest_change"]),
    )


def _instrument_of(folder: Path) -> str:
    """Return the folder's name where it makes a plain name for stage folders, else "guitar"."""
    name = folder.resolve().name.casefold()
    return name if re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", name) else "guitar"


def _nothing_given() -> bool:
    context = click.get_current_context()
    told = (name for name in context.params if name not in ("folder", "ask", "debug"))
    return all(context.get_parameter_source(name) is ParameterSource.DEFAULT for name in told)


@click.command(short_help="Plan a session: session.toml, folders, take sheet.")
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
@click.option("--mains", type=click.Choice(["50", "60"]), help="Mains frequency in Hz.")
@click.option("--seed", type=int, default=1, metavar="N", help="Settles the order of voices.")
@click.option(
    "--ask/--no-ask",
    default=None,
    help="Ask for what to plan (default: on a terminal, when no other option is given).",
)
@example(
    "tonecompare plan heron --instrument heron --layout three-way --split bridge",
    "tonecompare plan heron --stage stock --stage rewound --outputs both --frets 0,12",
)
@with_exit_code
def plan(folder: Path, *, ask: bool | None, **given: Any) -> int:
    """Plan a session before anything is taken apart.

    Writes into FOLDER a session.toml to fill in, a folder per stage, and a take sheet to print
    and tick off at the bench. Voices are shuffled within a stage, so that drift does not look
    like a change, and the first one comes again at the end.
    """
    from tonecompare.session import write_plan

    if ask is None:
        ask = sys.stdin.isatty() and _nothing_given()
    given["instruments"] = given["instruments"] or (_instrument_of(folder),)
    written = write_plan(folder, _options(_asked(given) if ask else given))
    for each in written.folders:
        show(f"Stage folder: {each}")
    show(f"Session file: {written.session_file}")
    show(f"Take sheet to print: {written.sheet}")
    return DONE
