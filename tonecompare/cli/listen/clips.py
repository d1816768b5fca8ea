"""``tonecompare clips SESSION``."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from tonecompare.cli.listen.measured_session import listening_options, measured_session
from tonecompare.cli.options import example
from tonecompare.cli.outcome import LEFT_OUT, name_left_out, with_exit_code, wrote
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import note, show
from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later, tr_n


@click.command(short_help=tr_later("Write sounds to compare, aligned and equally loud."))
@click.argument("session", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder for the clips (default: reports/<title> clips).",
)
@listening_options
@example("tonecompare clips heron --voice neck")
@with_exit_code
def clips(session: Path, *, out: Path | None, **options: Any) -> int:
    """Write the sounds of a session: before, after and both in turn, per voice and note.

    WAV and FLAC, 24 bit, beginning together, of one loudness (ITU-R BS.1770 K-weighting over a
    fixed window), true peaks under -1 dBTP. Markers and the gain applied stand inside the files
    and in cues.csv and clips.csv beside them.
    """
    from tonecompare.report.files.clip_set import LONGEST_S, write_clip_set
    from tonecompare.report.files.report_folder import check_ready
    from tonecompare.report.makers import MADE_BY_CLIPS
    from tonecompare.report.sounds.selection import sound_pairs
    from tonecompare.report.words.numbers import with_unit

    chosen = {name: options.pop(name) for name in ("comparisons", "voices", "notes")}
    check = partial(check_ready, by=MADE_BY_CLIPS)
    found = measured_session(session, out=out, ending=" clips", check=check, **options)
    folder = found.out
    pairs = sound_pairs(found.session, found.measurements, longest_s=LONGEST_S, **chosen)
    if not pairs:
        raise InputError(
            tr("{folder}: no note was measured on both sides of a comparison.", folder=session)
        )
    kept: list[str] = []
    said = tr_later("Clips: step {done} of {total}")
    with Progress(options["progress"], said=said) as shown:
        made = write_clip_set(
            pairs,
            found.session.root,
            folder,
            files=found.measurements.files,
            progress=shown,
            notice=kept.append,
        )
    wrote(folder)
    for remark in (*kept, *made.left_out):
        note(remark)
    code = name_left_out((*found.session.left_out, *found.measurements.left_out))
    show(
        tr_n(
            "{n} pair of clips at {loudness} (LKFS, one channel)",
            "{n} pairs of clips at {loudness} (LKFS, one channel)",
            made.pairs,
            loudness=with_unit(made.loudness_lkfs, "dB"),
        )
    )
    show(tr("Clips: {folder}", folder=folder))
    if made.pairs:
        say_next("blind", session, when=tr("to find out by ear"))
    return LEFT_OUT if made.left_out else code
