"""How a command ends: errors become a sentence on stderr and an exit code."""

from __future__ import annotations

import functools
import os
import sys
import traceback
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from tonecompare.cli.shown.terminal import say
from tonecompare.errors import InputError, message_of
from tonecompare.language import in_language, language, tr, tr_later
from tonecompare.session.model import LeftOut
from tonecompare.workers.ctrl_c import Stop

if TYPE_CHECKING:
    from tonecompare.kept.store import Store

DONE = 0
LEFT_OUT = 1
UNUSABLE = 2
INTERNAL = 3
STOPPED = 130

#: Files named where one sentence holds for several.
_FILES_NAMED = 6

_WRITTEN = "tonecompare.written"
_KEPT = "tonecompare.kept"
_STORE = "tonecompare.store"
_STOP = "tonecompare.stop"
_REPORT_IT = tr_later(
    "This is a fault in tonecompare, not in your recordings. {written} Please report it with the "
    "command you ran and what the same command prints with --debug added."
)


def wrote(path: Path) -> None:
    """Note that something is written, so that what is said afterwards does not deny it."""
    click.get_current_context().meta[_WRITTEN] = path


def kept_in(path: Path) -> None:
    """Note that answers are kept, so that who stops knows where they are."""
    click.get_current_context().meta[_KEPT] = path


def goes_on_from(context: click.Context, store: Store) -> None:
    """Note where measurements are kept, so that who stops knows what the next run need not do."""
    context.meta[_STORE] = store


def _goes_on() -> str:
    store: Store | None = click.get_current_context().meta.get(_STORE)
    if store is None or not store.goes_on():
        return ""
    if store.fresh:
        return " " + tr(
            "What was measured is kept: the same command without --fresh goes on from there."
        )
    return " " + tr("What was measured is kept: the same command goes on from there.")


def _written() -> str:
    kept = click.get_current_context().meta.get(_KEPT)
    if kept:
        return tr("Your answers are kept in {file}; the same command goes on from them.", file=kept)
    path = click.get_current_context().meta.get(_WRITTEN)
    if path:
        return tr("{path} was written before that, whole.", path=path)
    return tr("Nothing was written.")


def os_error_sentence(error: OSError) -> str:
    """Return what the system says of a path, and what to look at."""
    where = f"{error.filename}: " if error.filename else ""
    what = error.strerror or str(error) or type(error).__name__
    return f"{where}{what}. {tr('Check the path, the permissions and the free space.')}"


def end_without_stdout(error: OSError) -> NoReturn:
    """Say that stdout took nothing (a full disk), and end."""
    _give_up_stdout()
    say(tr("Error: {error}", error=os_error_sentence(error)))
    sys.exit(UNUSABLE)


def _give_up_stdout() -> None:
    """Let go what it could not take: Python would try again at its end, with a code of its own."""
    with suppress(OSError, ValueError):  # stdout of a test has no number
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def hear_ctrl_c() -> None:
    """Raise a Ctrl-C that something dropped on the way; long work asks at every step.

    Raises
    ------
    KeyboardInterrupt
        Ctrl-C was pressed since the command began.
    """
    context = click.get_current_context(silent=True)
    stop: Stop | None = context.meta.get(_STOP) if context is not None else None
    if stop is not None:
        stop.raise_if_asked()


def _finish(function: Callable[..., int], debug: bool, kwargs: dict[str, Any]) -> int:
    stop = click.get_current_context().meta[_STOP] = Stop()
    stop.listen()
    try:
        code = function(**kwargs)
        hear_ctrl_c()
        return code
    except (Exception, KeyboardInterrupt) as error:
        # A library that is stopped while it loads may say that it cannot be loaded.
        if stop.asked or isinstance(error, KeyboardInterrupt | click.Abort):
            say(f"\n{tr('Stopped.')} {_written()}{_goes_on()}")
            return STOPPED
        if isinstance(error, click.ClickException | click.exceptions.Exit):
            raise
        return _said(error, debug)
    finally:
        stop.leave()


def _said(error: Exception, debug: bool) -> int:
    """Say an error in a sentence, and return the exit code it has."""
    if isinstance(error, BrokenPipeError):
        # The reader of our output went away (`… | head`): no error, but nothing more to say.
        _give_up_stdout()
        return DONE
    if debug:
        say(traceback.format_exc())
    if isinstance(error, InputError):
        say(tr("Error: {error}", error=message_of(error)))
        return UNUSABLE
    if isinstance(error, OSError):
        _give_up_stdout()
        said = os_error_sentence(error)
        if _WRITTEN in click.get_current_context().meta:  # what was to be said of it was not
            said += f" {_written()}"
        say(tr("Error: {error}", error=said))
        return UNUSABLE
    if isinstance(error, MemoryError):
        say(tr("Error: {error}", error=tr("There is not enough memory. End other programs, or run "
                                          "the same command with --workers 1.")))  # fmt: skip
        return UNUSABLE
    what = tr("Internal error ({error}).", error=f"{type(error).__name__}: {error}")
    say(f"{what}\n{tr(_REPORT_IT, written=_written())}")
    return INTERNAL


def with_exit_code(function: Callable[..., int]) -> Callable[..., None]:
    """Let a command return its exit code, and turn its errors into sentences.

    Adds the ``--debug`` option, which prints the traceback of an error before its sentence.
    """

    @functools.wraps(function)
    def run(*, debug: bool, **kwargs: Any) -> None:
        # Not by "with": commands enter the session's language after this one, and leave it last.
        context = click.get_current_context()
        context.with_resource(in_language(kwargs.get("spoken") or language()))
        sys.exit(_finish(function, debug, kwargs))

    return click.option("--debug", is_flag=True, help="Show the traceback of an error.")(run)


def files_named(names: Sequence[str], *, most: int) -> str:
    """Return files for one sentence that holds for all: "a.wav, b.wav and 5 more"."""
    named = ", ".join(names[:most])
    if len(names) <= most:
        return named
    return tr("{files} and {n} more", files=named, n=len(names) - most)


def name_left_out(left_out: Iterable[LeftOut]) -> int:
    """Name the recordings left out on stderr, each reason once, and return the exit code."""
    distinct = list(dict.fromkeys(left_out))
    by_reason: dict[str, list[LeftOut]] = {}
    for item in distinct:
        by_reason.setdefault(item.reason, []).append(item)
    for reason, items in by_reason.items():
        names = files_named([item.file for item in items], most=_FILES_NAMED)
        named = "" if items[0].names_its_file else f"{names}: "
        say(tr("Left out: {what}", what=named + tr(reason)))
    return LEFT_OUT if distinct else DONE
