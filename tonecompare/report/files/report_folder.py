"""A report folder that appears whole or not at all."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.language import tr, tr_later
from tonecompare.report.files.own_files import carry_over, listed, maker_of, seal
from tonecompare.report.files.place_to_write import check_can_be_written
from tonecompare.report.files.switch_folders import (
    clear_leftovers,
    flush_below,
    locked,
    replace_folder,
    unfinished_folder,
)
from tonecompare.report.makers import MADE_BY, MADE_BY_CHARTS, MADE_BY_CHECK, MADE_BY_CLIPS

_CALLED = {
    MADE_BY: tr_later("report"),
    MADE_BY_CHECK: tr_later("check"),
    MADE_BY_CLIPS: tr_later("set of clips"),
    MADE_BY_CHARTS: tr_later("set of charts"),
}


def made_by(folder: Path) -> str:
    """Return what of this program made a folder's page, "" when nothing did."""
    maker = maker_of(folder)
    return maker if maker in _CALLED else ""


def check_replaceable(out: Path, *, by: str = MADE_BY) -> None:
    """Raise :class:`InputError` when ``out`` is not a place for a report.

    A report replaces an earlier report, a check an earlier check; neither the other.
    """
    if out.is_symlink() and not out.exists():
        raise InputError(
            tr("{folder}: is a link to nothing. Name another folder for the report.", folder=out)
        )
    if not out.exists():
        return
    if out.resolve() in (here := Path.cwd(), *here.parents):
        raise InputError(
            tr(
                "{folder}: is the folder you are in, or one above it. Name a folder for the report "
                "alone, such as reports/heron.",
                folder=out,
            )
        )
    if not out.is_dir():
        raise InputError(
            tr(
                "{folder}: is a file. Name a folder for the report that does not exist yet.",
                folder=out,
            )
        )
    maker = made_by(out)
    if maker and maker != by:
        raise InputError(
            tr(
                "{folder}: holds a {there}, which a {new} would replace. Name another folder.",
                folder=out,
                there=tr(_CALLED[maker]),
                new=tr(_CALLED[by]),
            )
        )
    if any(out.iterdir()) and not maker:
        raise InputError(
            tr(
                "{folder}: is a folder with other things in it, not an earlier report, so it is "
                "left alone. Name a folder that does not exist yet, or empty this one.",
                folder=out,
            )
        )
    if maker and listed(out) is None:
        raise InputError(
            tr(
                "{folder}: holds a {there} of another version, which does not say which files are "
                "its own and which are yours, so it is left alone. Move it elsewhere, or name "
                "another folder.",
                folder=out,
                there=tr(_CALLED[maker]),
            )
        )


def check_ready(out: Path, *, by: str = MADE_BY) -> None:
    """Raise :class:`InputError` when nothing could be written to ``out``; asked before measuring.

    As :func:`check_replaceable`, and the folder it stands in must take new files and have room.
    """
    check_replaceable(out, by=by)
    check_can_be_written(out)


@contextmanager
def whole_or_nothing(
    out: Path, *, by: str = MADE_BY, notice: Callable[[str], None] | None = None
) -> Iterator[Path]:
    """Give a temporary folder beside ``out`` that becomes ``out`` when the block ends well.

    An earlier report stays until the new one is finished and on the disk; after a failure (Ctrl-C
    too) the temporary folder is gone and ``out`` is as it was, after a kill the next run clears it
    away (:mod:`tonecompare.report.files.switch_folders`). Of two runs into one folder both end
    well, and the report of the later stays. Files of the earlier report that are as we
    wrote them go; everything else in its folder comes along
    (:func:`tonecompare.report.files.own_files.carry_over`), and ``notice`` is called with a
    sentence for each file that was changed since.

    Raises
    ------
    InputError
        ``out`` holds something other than a report, or its parent cannot be written.
    """
    out = out.resolve() if out.is_symlink() else out
    if out.parent.is_dir():
        with locked(out.parent):
            clear_leftovers(out)
    check_replaceable(out, by=by)
    made = _make_parents(out.parent)
    try:
        with locked(out.parent):
            work = unfinished_folder(out)
    except OSError as error:
        _remove_empty(made)
        raise InputError(
            tr(
                "{folder}: cannot be written ({why}). Choose another place with --out.",
                folder=out.parent,
                why=error.strerror,
            )
        ) from error
    with locked(work):
        try:
            yield work
            seal(work)
            flush_below(work)
            kept = _put(work, out, by)
        except BaseException as error:
            shutil.rmtree(work, ignore_errors=True)
            _remove_empty(made)
            if isinstance(error, OSError) and _of_ours(error, work):
                raise InputError(
                    tr(
                        "{folder}: could not be written to its end ({why}). What stood there "
                        "before is as it was.",
                        folder=out,
                        why=error.strerror,
                    )
                ) from error
            raise
    if notice is not None:
        for sentence in kept:
            notice(sentence)


def _of_ours(error: OSError, work: Path) -> bool:
    """Whether it was a file of the report that could not be written, and no recording's read."""
    return error.strerror is not None and (
        error.filename is None or Path(os.fsdecode(error.filename)).is_relative_to(work)
    )


def _make_parents(parent: Path) -> list[Path]:
    """Make missing parents; return those made, the deepest first."""
    missing = []
    place = parent
    while not place.exists():
        missing.append(place)
        place = place.parent
    try:
        parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            tr(
                "{folder}: cannot be made ({why}). Choose another place with --out.",
                folder=parent,
                why=error.strerror,
            )
        ) from error
    return missing


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


def _put(work: Path, out: Path, by: str) -> tuple[str, ...]:
    """Put ``work`` in the place of ``out``, with what is the user's there; one run at a time."""
    with locked(out.parent):
        check_replaceable(out, by=by)  # it may have changed while the report was being made
        kept = carry_over(out, work) if out.exists() else ()
        replace_folder(work, out)
        return kept
