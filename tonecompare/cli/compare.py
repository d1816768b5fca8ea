"""``tonecompare compare BEFORE AFTER``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from tonecompare.cli.options import example, report_options
from tonecompare.cli.outcome import with_exit_code

_FOLDER = click.Path(path_type=Path)


@click.command(short_help="Compare two folders of recordings.")
@click.argument("before", type=_FOLDER)
@click.argument("after", type=_FOLDER)
@report_options
@example(
    "tonecompare compare heron-stock heron-rewound --out reports/heron",
)
@with_exit_code
def compare(before: Path, after: Path, **options: Any) -> int:
    """Compare two folders of recordings and write a report.

    BEFORE and AFTER each hold one recording per voice (bridge.wav, neck-split.wav, ...); voices
    are matched by file name. WAV, FLAC and AIFF are read, at any rate and depth. A session.toml
    is not needed.
    """
    from tonecompare.cli.pipeline import make_report
    from tonecompare.session import session_from_pair

    return make_report(session_from_pair(before, after), **options)
