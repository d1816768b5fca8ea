"""``tonecompare demo FOLDER``."""

from __future__ import annotations

from pathlib import Path

import click

from tonecompare.cli.options import example, progress_option
from tonecompare.cli.outcome import DONE, with_exit_code
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import show
from tonecompare.language import tr, tr_later


@click.command(short_help=tr_later("Write the demo session."))
@click.argument("folder", type=click.Path(path_type=Path))
@example(
    "tonecompare demo heron-demo",
    "tonecompare report heron-demo --out reports/heron-demo",
)
@progress_option
@with_exit_code
def demo(folder: Path, *, progress: bool | None) -> int:
    """Write the demo session: an invented guitar before and after work on it.

    The recordings are synthetic, made by tonecompare's own model of strings and pickups, and
    come out the same every time.
    """
    from tonecompare.strings import write_demo

    with Progress(progress, said=tr_later("Made {done} of {total}")) as shown:
        write_demo(folder, progress=shown)
    show(tr("Demo session: {folder}", folder=folder))
    say_next("report", folder)
    return DONE
