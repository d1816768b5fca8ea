"""A dask cluster: calls handed out to its workers, results as they come, no waiting in vain.

dask.distributed is asked directly. What dies on the way it gives to another worker by itself; what
kills three workers comes back as an error of that call alone.
"""

from __future__ import annotations

import logging
import re
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError
from contextlib import suppress
from itertools import islice
from types import TracebackType
from typing import Any

from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.workers.ctrl_c import Stop

#: How long a scheduler may take to answer, and a cluster to have a worker.
PATIENCE_S = 20.0
#: Calls that are with the cluster at a time: enough that no worker waits for this computer.
_FEWEST_HANDED_OUT = 32
_HANDED_OUT_PER_THREAD = 4
_ADDRESS = re.compile(r"(?:(?:tcp|tls|wss?|ucx)://)?(?:\[[0-9a-fA-F:.%]+\]|[^\s/:\[\]]+):\d+")


class Cluster:
    """The workers of one scheduler; a context manager.

    Parameters
    ----------
    scheduler
        Its address, like ``tcp://HOST:8786``.
    patience_s
        After so long without an answer, or without any worker, it is given up.

    Raises
    ------
    InputError
        On entering: dask.distributed is not installed, nothing answers at the address, or there
        is no worker. Later: the scheduler or every worker went away.
    """

    def __init__(self, scheduler: str, *, patience_s: float = PATIENCE_S) -> None:
        self._address, self._patience_s = scheduler, patience_s
        self._client: Any = None
        self._stop = Stop()

    def __enter__(self) -> Cluster:
        try:
            from distributed import Client
        except ImportError as error:
            raise InputError(
                tr("--engine dask needs dask.distributed. Install it with: {command}",
                   command='pip install "tonecompare[cluster]"')
            ) from error  # fmt: skip
        if not _ADDRESS.fullmatch(self._address):
            raise InputError(
                tr("--scheduler {address} is no address of a scheduler. It looks like "
                   "tcp://HOST:8786; `dask scheduler` prints it.", address=self._address)
            )  # fmt: skip
        # Its own messages are for those who run the cluster; what matters is said here.
        for name in ("distributed", "tornado", *logging.root.manager.loggerDict):
            if name.partition(".")[0] in ("distributed", "tornado"):
                logging.getLogger(name).setLevel(logging.CRITICAL)
        try:
            self._client = Client(
                self._address, timeout=self._patience_s, set_as_default=False, name="tonecompare"
            )
        except (OSError, ValueError, TypeError) as error:
            raise InputError(
                tr("No dask scheduler answers at {address}. Start one with: dask scheduler; it "
                   "prints the address to give to --scheduler.", address=self._address)
            ) from error  # fmt: skip
        try:
            self._until_there_is_a_worker()
        except BaseException:
            self._close()
            raise
        self._stop.listen()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        self._stop.leave()
        self._close()
        if isinstance(error, (CancelledError, OSError)) and not isinstance(error, InputError):
            raise self._gone() from error

    def each(
        self, function: Callable[..., Any], arguments: Sequence[tuple[Any, ...]]
    ) -> Iterator[tuple[int, Any]]:
        """Yield, as they come, each call's number and result; an exception stands for a failure.

        Parameters
        ----------
        function
            Of a module, so that workers find it.
        arguments
            Of each call.
        """
        from distributed import wait

        waiting = iter(enumerate(arguments))
        out: dict[Any, int] = {}
        while True:
            self._stop.raise_if_asked()
            room = max(_FEWEST_HANDED_OUT, _HANDED_OUT_PER_THREAD * self._threads()) - len(out)
            for number, given in islice(waiting, max(room, 0)):
                out[self._client.submit(function, *given, pure=False)] = number
            if not out:
                return
            try:
                with self._client.as_current():
                    done = wait(list(out), self._patience_s, return_when="FIRST_COMPLETED").done
            except TimeoutError:
                self._until_there_is_a_worker()
                continue
            for future in done:
                number = out.pop(future)
                status = future.status
                if status == "lost":  # its worker died with it; another works it out again
                    out[future] = number
                    continue
                if status == "cancelled":
                    raise self._gone()
                self._stop.raise_if_asked()
                yield number, future.exception() or future.result()

    def _close(self) -> None:
        with suppress(Exception, CancelledError):
            self._client.close(timeout=2)

    def _threads(self) -> int:
        return sum(self._client.nthreads().values())

    def _until_there_is_a_worker(self) -> None:
        until_s = time.monotonic() + self._patience_s
        while not self._threads():
            if time.monotonic() > until_s:
                raise InputError(
                    tr("The dask scheduler at {address} has no worker. Start some with: dask "
                       "worker {address} --nthreads 1. What was measured is kept.",
                       address=self._address)
                )  # fmt: skip
            time.sleep(0.2)

    def _gone(self) -> InputError:
        return InputError(
            tr("The dask scheduler at {address} went away. What was measured is kept: once it "
               "runs again, the same command goes on from there.", address=self._address)
        )  # fmt: skip
