"""``tonecompare report SESSION``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from tonecompare.cli.options import example, report_options
from tonecompare.cli.outcome import with_exit_code
from tonecompare.language import tr_later


@click.command(short_help=tr_later("Write the report of a whole session."))
@click.argument("session", type=click.Path(path_type=Path))
@report_options
@example(
    "tonecompare report heron --out reports/heron",
)
@with_exit_code
def report(session: Path, **options: Any) -> int:
    """Write the report of a whole session: every stage, voice and comparison.

    SESSION is a folder with a sub-folder per stage and, if you like, a session.toml that says
    what was done, in which conditions, and what to compare with what. Stopped on the way, the
    same command goes on from what was measured. For thousands of recordings see
    "tonecompare explain many recordings" and "tonecompare explain cluster".
    """
    from tonecompare.cli.pipeline import make_report
    from tonecompare.session import load_session

    return make_report(load_session(session), again=("report", session), **options)
