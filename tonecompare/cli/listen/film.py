"""``tonecompare film SESSION``."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from tonecompare.cli.listen.measured_session import (
    MeasuredSession,
    listening_options,
    measured_session,
)
from tonecompare.cli.options import example
from tonecompare.cli.outcome import DONE, LEFT_OUT, name_left_out, with_exit_code, wrote
from tonecompare.cli.shown.next_command import say_next
from tonecompare.cli.shown.progress import Progress
from tonecompare.cli.shown.terminal import note, show
from tonecompare.errors import InputError, RecordingError, message_of
from tonecompare.language import tr, tr_later

if TYPE_CHECKING:
    from tonecompare.report.sounds.aligned import AlignedSound
    from tonecompare.report.sounds.selection import SoundPair
    from tonecompare.report.video.film_plan import FilmPlan

_SUFFIXES = (".mp4", ".mov")


@click.command(short_help=tr_later("Write a film: before and after in turn, seen and heard."))
@click.argument("session", type=click.Path(path_type=Path))
@click.option(
    "--for",
    "screen",
    type=click.Choice(["video", "portrait", "square"]),
    default="video",
    help="1920x1080 (default), 1080x1920 or 1080x1080.",
)
@click.option("--look", type=click.Choice(["light", "dark"]), default="dark", help="Default: dark.")
@click.option(
    "--scenes",
    type=click.IntRange(1, 20),
    default=3,
    metavar="N",
    help="Sounds shown, the findings' first (default: 3, about a minute).",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="An .mp4 file, or .mov with the samples uncoded (default: reports/<title>.mp4).",
)
@listening_options
@example("tonecompare film heron --voice neck --for portrait")
@with_exit_code
def film(
    session: Path, *, screen: str, look: str, scenes: int, out: Path | None, **options: Any
) -> int:
    """Write a film of a session: which sound plays, its spectrum and partials as they die away.

    Before and after in turn, aligned and equally loud, then the finding in words. Needs the extra
    "film": pip install "tonecompare[film]".
    """
    from tonecompare.report.sounds.selection import sound_pairs
    from tonecompare.report.video.film_file import require_encoder, write_film
    from tonecompare.report.video.film_plan import LONGEST_S
    from tonecompare.report.video.shapes import LOOKS, SHAPES
    from tonecompare.report.words.numbers import number

    require_encoder()
    if out is not None and out.suffix.lower() not in _SUFFIXES:
        raise InputError(
            tr(
                "{file}: a film ends in {one} or {other}.",
                file=out,
                one=_SUFFIXES[0],
                other=_SUFFIXES[1],
            )
        )
    asked = {name: options.pop(name) for name in ("comparisons", "voices", "notes")}
    found = measured_session(session, out=out, ending=".mp4", check=_check_free, **options)
    path = found.out
    pairs = sound_pairs(found.session, found.measurements, longest_s=LONGEST_S, **asked)
    plan, left_out = _plan(_first(pairs, found, scenes), found)
    started = time.monotonic()
    with Progress(options["progress"]) as shown:

        def seen(done: int, total: int, _what: str) -> None:
            left_s = (time.monotonic() - started) * (total - done) / done
            if done % plan.fps == 0 or done == total:
                shown.step(
                    tr(
                        "Film: frame {done} of {total}, about {s} s left",
                        done=done,
                        total=total,
                        s=f"{left_s:.0f}",
                    )
                )

        write_film(plan, path, screen=SHAPES[screen], look=LOOKS[look], progress=seen)
    wrote(path)
    for remark in left_out:
        note(remark)
    code = name_left_out((*found.session.left_out, *found.measurements.left_out))
    show(tr("Film: {file}, {s} s", file=path, s=number(plan.frames / plan.fps, 1)))
    say_next("blind", session, when=tr("to find out by ear"))
    return max(code, LEFT_OUT if left_out else DONE)


def _check_free(path: Path) -> None:
    from tonecompare.report.files.place_to_write import check_can_be_written

    if os.path.lexists(path):
        raise InputError(
            tr("{file}: is there already and is left alone. Name another file.", file=path)
        )
    check_can_be_written(path)


def _first(
    pairs: tuple[SoundPair, ...], found: MeasuredSession, scenes: int
) -> tuple[SoundPair, ...]:
    """Return one note of each voice, in the order of the findings; then further notes."""
    told = [(one.comparison, one.voice) for one in found.findings if one.voice]
    order = {place: number for number, place in reversed(list(enumerate(told)))}
    nth: dict[tuple[str, str, str], int] = {}
    ranked = []
    for number, pair in enumerate(pairs):
        key = (pair.comparison, pair.voice, pair.output)
        nth[key] = nth.get(key, -1) + 1
        rank = order.get((pair.comparison, pair.voice), len(told))
        ranked.append((nth[key], rank, number))
    return tuple(pairs[number] for _, _, number in sorted(ranked)[:scenes])


def _plan(pairs: tuple[SoundPair, ...], found: MeasuredSession) -> tuple[FilmPlan, tuple[str, ...]]:
    from tonecompare.report.blind.heard_findings import with_heard
    from tonecompare.report.blind.results import heard_in
    from tonecompare.report.sounds.aligned import SoundReader, common_loudness
    from tonecompare.report.video.film_plan import FilmPlan, frame_rate, scene_of
    from tonecompare.report.words.listening_words.film_words import scene_words
    from tonecompare.report.words.names import voice_title

    reader = SoundReader(found.session.root, found.measurements.files)
    cut: list[tuple[SoundPair, tuple[AlignedSound, ...]]] = []
    left_out: list[str] = []
    for pair in pairs:
        try:
            sounds = reader.aligned((*pair.before, *pair.after))
        except (RecordingError, ValueError) as error:
            left_out.append(f"{pair.comparison}, {pair.voice}, {pair.note}: {message_of(error)}")
            continue
        if cut and cut[0][1][0].rate_hz != sounds[0].rate_hz:
            other_rate = tr("another sample rate.")
            left_out.append(f"{pair.comparison}, {pair.voice}, {pair.note}: {other_rate}")
            continue
        cut.append((pair, sounds))
    if not cut:
        raise InputError(tr("There is no pair of sounds to make a film of."))
    rate = round(cut[0][1][0].rate_hz)
    fps = frame_rate(rate)
    loudness = common_loudness([sound for _, sounds in cut for sound in sounds])
    findings = with_heard(found.findings, heard_in(found.session.root)[0])
    made = [
        scene_of(
            pair,
            sounds,
            loudness_lkfs=loudness,
            fps=fps,
            title=voice_title(pair.voice, output=pair.output, several_outputs=pair.several_outputs),
            phrases=found.measurements.phrases,
            words=scene_words(findings, pair.comparison, pair.voice),
        )
        for pair, sounds in cut
    ]
    return FilmPlan(tuple(made), rate, fps), tuple(left_out)
