"""``tonecompare cut``: one long recording of all voices becomes a file per voice."""

from __future__ import annotations

from pathlib import Path

import click

from tonecompare.cli.options import example
from tonecompare.cli.outcome import DONE, with_exit_code
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.terminal import show
from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later


@click.command(short_help=tr_later("Cut one long recording into its voices."))
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--voices",
    required=True,
    metavar="LIST",
    help="The voices with commas, in the order they were played, as the take sheet has them.",
)
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Stage folder for the files (default: the folder of FILE's name beside it).",
)
@example("tonecompare cut all-voices.wav --voices bridge,middle,neck,bridge-again --into heron")
@with_exit_code
def cut(file: Path, *, voices: str, into: Path | None) -> int:
    """Cut one recording of all voices where the player paused between them.

    The pauses between voices must be the longest ones: damp all strings for 8 s or
    more while you set the selector. Or tap three times on the damped strings after
    each voice but the last, with 2 s of quiet before and after the taps. FILE stays
    as it is; every cut is said, and nothing is written where a doubt is left.
    """
    from tonecompare.cli.planning.questions import split_list
    from tonecompare.report.words.numbers import number
    from tonecompare.session.plan.selectors import check_file_name
    from tonecompare.takes.long_take.voices_in_a_row import cut_voices

    names = split_list(voices)
    if not names:
        raise InputError(tr("--voices names no voice; give them like bridge,middle,neck."))
    for name in names:
        check_file_name(name, "voice")
    if len({name.casefold() for name in names}) < len(names):
        raise InputError(tr("--voices names a voice twice; call the second one bridge-again."))
    folder = into or file.parent / file.stem
    if into is not None and into.exists() and not into.is_dir():
        raise InputError(tr("{path}: is a file; give a folder.", path=into))
    for part in cut_voices(file, names, folder):
        start, end = number(part.start_s, 1), number(part.end_s, 1)
        said = tr("{file}: from {start} to {end} s", file=part.path, start=start, end=end)
        if part.tapped:
            said = tr("{file_part}, after three taps", file_part=said)
        elif part.pause_s:
            pause = number(part.pause_s, 1)
            said = tr("{file_part}, after a pause of {pause} s", file_part=said, pause=pause)
        show(said)
    say_next("compare", folder)
    return DONE
