"""``tonecompare compare FIRST [OTHER ...]``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from tonecompare.cli.options import example, report_options
from tonecompare.cli.outcome import with_exit_code
from tonecompare.language import tr_later

_PATH = click.Path(path_type=Path)


@click.command(short_help=tr_later("Compare guitars, stages, voices or two sounds."))
@click.argument("first", type=_PATH)
@click.argument("others", type=_PATH, nargs=-1, metavar="[OTHER]...")
@report_options
@example(
    "tonecompare compare heron-stock heron-rewound --out reports/heron",
    "tonecompare compare heron-rewound",
    "tonecompare compare bridge.wav bridge-split.wav",
    "tonecompare compare tern-stock tern-light tern-full",
)
@with_exit_code
def compare(first: Path, others: tuple[Path, ...], **options: Any) -> int:
    """Compare any two sounds, or any number of guitars, and write a report.

    Two files are two sounds, one folder one guitar: its voices side by side. More folders are
    guitars or stages, each against the first; voices match by file name (bridge.wav, ...).
    """
    from tonecompare.cli.pipeline import make_report
    from tonecompare.session import session_of_given

    return make_report(
        session_of_given((first, *others)), again=("compare", first, *others), **options
    )
