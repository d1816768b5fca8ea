"""``tonecompare blind SESSION`` and ``tonecompare blind --score FILES``."""

from __future__ import annotations

import os
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
from tonecompare.cli.shown.terminal import say, show
from tonecompare.errors import InputError, RecordingError, message_of
from tonecompare.language import ENGLISH, in_language, tr, tr_later
from tonecompare.whole_file import write_whole

if TYPE_CHECKING:
    from tonecompare.report.sounds.selection import SoundPair

#: Fewest questions that can be passed in both tasks, and most one can listen to.
_FEWEST, _MOST = 5, 60


@click.command(short_help=tr_later("Write a blind listening test, or score its results."))
@click.argument(
    "paths", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="PATH..."
)
@click.option("--score", is_flag=True, help="PATHs are results: put them together.")
@click.option(
    "--task",
    type=click.Choice(["abx", "triangle"]),
    default="abx",
    help="Is X like A or B (default), or which of three is the odd one (ISO 4120).",
)
@click.option(
    "--trials",
    type=click.IntRange(_FEWEST, _MOST),
    default=16,
    metavar="N",
    help="Questions of the test, fixed before its start (default: 16).",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The page (default: reports/<title> blind.html).",
)
@listening_options
@example(
    "tonecompare blind heron --voice neck",
    "tonecompare blind --score heron/heard/*.json",
)
@with_exit_code
def blind(paths: tuple[Path, ...], *, score: bool, **options: Any) -> int:
    """Write one page to find out by ear whether a difference can be heard; or score results.

    PATH is a session's folder. The page needs no server: open it in a browser. Without --voice or
    --note it takes the voice of the first finding and the note with most plucks. Results saved
    from the page go into SESSION/heard; a report then says beside its verdict what was heard.
    """
    if score:
        with in_language(options["spoken"] or ENGLISH):
            return _score(paths)
    if len(paths) > 1:
        raise click.UsageError("Name one session, or add --score to put results together.")
    return _page(paths[0], **options)


def _page(
    folder: Path,
    *,
    task: str,
    trials: int,
    out: Path | None,
    comparisons: tuple[str, ...],
    voices: tuple[str, ...],
    notes: tuple[str, ...],
    **measuring: Any,
) -> int:
    from tonecompare.report.blind.blind_page import LONGEST_S, MOST_PLUCKS, blind_html, blind_test
    from tonecompare.report.blind.results import HEARD
    from tonecompare.report.sounds.aligned import SoundReader
    from tonecompare.report.sounds.selection import sound_pairs

    found = measured_session(folder, out=out, ending=" blind.html", check=_check_ours, **measuring)
    page = found.out
    pairs = sound_pairs(
        found.session,
        found.measurements,
        longest_s=LONGEST_S,
        most_plucks=MOST_PLUCKS,
        comparisons=comparisons,
        voices=voices,
        notes=notes,
    )
    if not pairs:
        raise InputError(
            tr("{folder}: no note was measured on both sides of a comparison.", folder=folder)
        )
    pair = _most_telling(pairs, found)
    try:
        reader = SoundReader(found.session.root, found.measurements.files)
        test = blind_test(pair, reader, task=task, trials=trials)
    except (RecordingError, ValueError) as error:
        raise InputError(
            f"{pair.comparison}, {pair.voice}, {pair.note}: {message_of(error)}"
        ) from error
    page.parent.mkdir(parents=True, exist_ok=True)
    write_whole(page, blind_html(test), replace=True)
    wrote(page)
    code = name_left_out((*found.session.left_out, *found.measurements.left_out))
    show(
        tr(
            "{comparison}: {voice}, {note}, {plucks} plucks a side",
            comparison=pair.comparison,
            voice=pair.voice,
            note=pair.note,
            plucks=len(pair.before),
        )
    )
    show(tr("Blind test: {page}", page=page))
    lie_there = tr("once the saved results lie in {folder}", folder=folder / HEARD)
    say_next("report", folder, when=lie_there)
    return code


def _most_telling(pairs: tuple[SoundPair, ...], found: MeasuredSession) -> SoundPair:
    """Return the note with most plucks of the voice that the first finding is about."""
    told = [(one.comparison, one.voice) for one in found.findings if one.voice]
    rank = {place: number for number, place in reversed(list(enumerate(told)))}
    first = min(rank.get((pair.comparison, pair.voice), len(told)) for pair in pairs)
    near = [p for p in pairs if rank.get((p.comparison, p.voice), len(told)) == first]
    return max(near, key=lambda pair: (len(pair.before), pair.length_s))


def _check_ours(page: Path) -> None:
    from tonecompare.report.files.place_to_write import check_can_be_written
    from tonecompare.report.makers import MADE_BY_BLIND

    # A device never ends; a link to nothing would be replaced.
    if os.path.lexists(page) and not (
        page.is_file() and f'content="{MADE_BY_BLIND}"' in page.read_text("utf-8", "replace")[:4000]
    ):
        raise InputError(
            tr("{page}: is no blind test of ours, so it is left alone. Name another.", page=page)
        )
    check_can_be_written(page)


def _score(files: tuple[Path, ...]) -> int:
    from tonecompare.report.blind.results import read_results, scored
    from tonecompare.report.words.listening_words.blind_words import (
        heard_text,
        many_tests_text,
        score_lines,
    )

    results, refused = read_results(files)
    for bad in refused:
        say(tr("Not counted: {file} {why}", file=bad.file, why=bad.why))
    if not results:
        raise InputError(tr("None of these files holds a finished blind test."))
    scores = scored(results)
    if len(scores) > 1:
        show(f"{many_tests_text(len(scores))}\n")
    for one in scores:
        show(
            tr(
                "{comparison}, {voice}, note {note}, {task}",
                comparison=one.comparison,
                voice=one.voice,
                note=one.note,
                task=one.pooled.task,
            )
        )
        for line in (heard_text(one.pooled), *score_lines(one.pooled)):
            show(f"  {line}")
    return LEFT_OUT if refused else DONE
