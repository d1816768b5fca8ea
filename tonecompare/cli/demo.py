"""``tonecompare demo FOLDER``."""

from __future__ import annotations

from pathlib import Path

import click

from tonecompare.cli.options import example
from tonecompare.cli.outcome import DONE, with_exit_code


@click.command(short_help="Write the demo session.")
@click.argument("folder", type=click.Path(path_type=Path))
@example(
    "tonecompare demo heron-demo",
    "tonecompare report heron-demo --out reports/heron-demo",
)
@with_exit_code
def demo(folder: Path) -> int:
    """Write the demo session: an invented guitar before and after work on it.

    The recordings are synthetic, made by tonecompare's own model of strings and pickups, and
    come out the same, byte for byte, every time.
    """
    from tonecompare.strings import write_demo

    write_demo(folder)
    click.echo(f"Demo session: {folder}")
    return DONE
