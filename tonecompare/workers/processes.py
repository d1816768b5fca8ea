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
from typing import Any

from tonecompare.errors import InputError
from tonecompare.language import tr


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
    try:
        if start_at_once():
            with _copies(number) as executor:
                yield executor
        else:
            yield _begun_anew(number)
    except BrokenProcessPool as error:
        raise InputError(
            tr("The system ended a process that was at work, most likely for want of memory. Run "
               "the same command again with --workers 1. What was measured is kept.")
        ) from error  # fmt: skip


class _Copies(ProcessPoolExecutor):
    """Copies of this process whose work can be broken off."""

    def __init__(self, number: int) -> None:
        self._others = set(multiprocessing.active_children())
        super().__init__(number, mp_context=multiprocessing.get_context("fork"), initializer=_begin)

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
def _copies(number: int) -> Iterator[Executor]:
    executor = _Copies(number)
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


def _begin() -> None:
    """Let work be broken off, by this process or by the end of the one that it is a copy of."""
    signal.signal(signal.SIGTERM, _work.break_off)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        signal.raise_signal(signal.SIGKILL)
