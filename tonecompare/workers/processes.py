"""Processes of this computer that work beside this one, begun at once where the system allows it.

A process that is started anew loads Python and every library again, longer than it takes to measure
a take. Where a process can be copied as it stands (Linux; macOS and Windows cannot do it safely),
the copy has all of that. It is made only while this process has no other thread, of Python's or of
a library's, which a copy would leave in the middle of whatever it did. Elsewhere joblib's own
(loky) are taken, which start anew and are kept for the next call.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TypeVar

from tonecompare.errors import InputError
from tonecompare.language import tr

_T = TypeVar("_T")


def start_at_once() -> bool:
    """Whether processes that are asked for now are copies of this one."""
    return sys.platform == "linux" and len(os.listdir("/proc/self/task")) == 1  # noqa: PTH208


@contextmanager
def processes(number: int) -> Iterator[Executor]:
    """Hand out work to processes; functions must be of a module, so that they are found there.

    What copies have not begun when the block is left by an exception never is, and what they are at
    is broken off.

    Parameters
    ----------
    number
        How many.

    Raises
    ------
    InputError
        One of them was ended from outside: what it worked at takes more memory than there is.
    """
    with _told_when_ended():
        if start_at_once():
            with _copies(number) as executor:
                yield executor
        else:
            yield _begun_anew(number)


@contextmanager
def beside(work: Callable[[], _T], *, workers: int) -> Iterator[Callable[[], _T]]:
    """Have something done by a copy of this process while the block goes on.

    Yields what gives its result, once it is there. With one worker, and where no copy can be made,
    it is done here and then. Its result must be such as can be sent from process to process.

    Raises
    ------
    InputError
        As :func:`processes`.
    """
    if workers < 2 or not start_at_once():
        yield work
        return
    with _told_when_ended(), _copies(1, work) as other:
        yield other.submit(_known).result


@contextmanager
def _told_when_ended() -> Iterator[None]:
    try:
        yield
    except BrokenProcessPool as error:
        raise InputError(
            tr("The system ended a process that was at work, most likely for want of memory. Run "
               "the same command again with --workers 1. What was measured is kept.")
        ) from error  # fmt: skip


class _Copies(ProcessPoolExecutor):
    """Copies of this process whose work can be broken off."""

    def __init__(self, number: int, known: Callable[[], Any] | None = None) -> None:
        self._others = set(multiprocessing.active_children())
        context = multiprocessing.get_context("fork")
        super().__init__(number, mp_context=context, initializer=_begin, initargs=(known,))

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        """Hand out one call; the first makes the copies.

        Ctrl-C, which reaches every process of a terminal, is for the one that was asked: copies are
        made with it blocked, and keep it so.
        """
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            return super().submit(_worked, work, *given, **named)
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    def break_off(self) -> None:
        """End what is being done, at the next line of Python.

        A process that was killed while it hands in a result would leave half of it, and this one
        waiting for the other half.
        """
        for mine in set(multiprocessing.active_children()) - self._others:
            mine.terminate()


@contextmanager
def _copies(number: int, known: Callable[[], Any] | None = None) -> Iterator[Executor]:
    executor = _Copies(number, known)
    try:
        yield executor
    except BaseException:
        executor.break_off()
        raise
    finally:
        executor.shutdown(cancel_futures=True)


def _begun_anew(number: int) -> Executor:
    """Return joblib's processes, those of the call before if they are as many.

    Its own way from one number to another waits for ever if one of them ends meanwhile; where their
    environment differs it ends them and begins others.
    """
    from joblib.externals.loky import get_reusable_executor

    environment = {"TONECOMPARE_WORKERS": str(number)}
    executor: Executor = get_reusable_executor(max_workers=number, env=environment)
    return executor


@dataclass
class _Work:
    """What a copy knows of its work: whether it is at it, and whether it may go on."""

    begun: bool = False
    broken_off: bool = False
    #: Work that it knows as it was copied; no other process could be told of it.
    known: Callable[[], Any] | None = None

    def break_off(self, _number: int, _frame: object) -> None:
        self.broken_off = True
        if self.begun:
            raise KeyboardInterrupt


_work = _Work()


def _worked(work: Callable[..., Any], /, *given: Any, **named: Any) -> Any:
    _work.begun = True
    try:
        if _work.broken_off:
            raise KeyboardInterrupt
        return work(*given, **named)
    finally:
        _work.begun = False


def _known() -> Any:
    assert _work.known is not None
    return _work.known()


def _begin(known: Callable[[], Any] | None) -> None:
    """Let work be broken off, by this process or by the end of the one that it is a copy of."""
    _work.known = known
    signal.signal(signal.SIGTERM, _work.break_off)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        signal.raise_signal(signal.SIGKILL)
