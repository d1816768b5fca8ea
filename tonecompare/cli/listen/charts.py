"""``tonecompare charts SESSION``."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from tonecompare.cli.listen.measured_session import listening_options, measured_session
from tonecompare.cli.options import example
from tonecompare.cli.outcome import name_left_out, with_exit_code, wrote
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import note, show
from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later, tr_n

_SHAPES = ("video", "portrait", "square", "print", "page")
_LOOKS = ("light", "dark", "transparent")


@click.command(short_help=tr_later("Write charts for a video, for print or for a page."))
@click.argument("session", type=click.Path(path_type=Path))
@click.option(
    "--for",
    "shapes",
    type=click.Choice(_SHAPES),
    multiple=True,
    help="1920x1080, 1080x1920, 1080x1080, or vector (default: video).",
)
@click.option("--look", type=click.Choice(_LOOKS), default="light", help="Default: light.")
@click.option(
    "--chart",
    "kinds",
    multiple=True,
    metavar="NAME",
    help="Only these: brightness, hum, response, partials, decay, blend, cost, guitars, closing, "
    "or all (default: what the findings speak of).",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder for the charts (default: reports/<title> charts).",
)
@listening_options
@example("tonecompare charts heron --for video --for portrait --look dark")
@with_exit_code
def charts(
    session: Path,
    *,
    shapes: tuple[str, ...],
    look: str,
    kinds: tuple[str, ...],
    out: Path | None,
    **options: Any,
) -> int:
    """Write charts that make one statement each, to be read on a phone from arm's length."""
    from tonecompare.compare import find_worth
    from tonecompare.report.blind.results import heard_in
    from tonecompare.report.files.report_folder import check_ready
    from tonecompare.report.makers import MADE_BY_CHARTS
    from tonecompare.report.sounds.selection import refuse_unknown
    from tonecompare.report.video.chart_set import write_charts
    from tonecompare.report.video.shapes import LOOKS, SHAPES
    from tonecompare.report.video.statement import KINDS
    from tonecompare.report.video.statements import chosen, statements

    asked = {name: options.pop(name) for name in ("comparisons", "voices", "notes")}
    if asked["notes"]:
        raise click.UsageError("Charts are over all notes: leave out --note.")
    check = partial(check_ready, by=MADE_BY_CHARTS)
    found = measured_session(session, out=out, ending=" charts", check=check, **options)
    folder = found.out
    every = statements(
        found.session,
        found.measurements,
        found.comparisons,
        worth=find_worth(found.session, found.measurements),
        heard=heard_in(found.session.root)[0],
    )
    refuse_unknown(asked["comparisons"], (one.comparison for one in every), "comparison")
    refuse_unknown(asked["voices"], (one.voice for one in every), "voice")
    shown = every if "all" in kinds else chosen(every, found.findings, kinds=kinds)
    shown = tuple(
        one
        for one in shown
        if (not asked["comparisons"] or one.comparison in ("", *asked["comparisons"]))
        and (not asked["voices"] or one.voice in ("", *asked["voices"]))
    )
    if not shown:
        kinds_there = [kind for kind in KINDS if kind in {one.kind for one in every}]
        names = ", ".join((*kinds_there, *(one.name for one in every)))
        raise InputError(tr("This session gives no such chart. It gives: {names}.", names=names))
    kept: list[str] = []
    with Progress(options["progress"], said=tr_later("Drew {done} of {total}")) as seen:
        written = write_charts(
            shown,
            folder,
            shapes=[SHAPES[name] for name in shapes or ("video",)],
            look=LOOKS[look],
            progress=seen,
            notice=kept.append,
        )
    wrote(folder)
    for remark in kept:
        note(remark)
    code = name_left_out((*found.session.left_out, *found.measurements.left_out))
    show(tr_n("{n} chart: {folder}", "{n} charts: {folder}", len(written), folder=folder))
    say_next("clips", session, when=tr("for the sounds to go with them"))
    return code
