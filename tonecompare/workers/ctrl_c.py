"""Ctrl-C that is not lost among finalizers, threads and libraries that load."""

from __future__ import annotations

import signal
import threading
from typing import Any


class Stop:
    """Ctrl-C, heard even where Python drops it.

    It arrives wherever this thread happens to be; in a finalizer, and every future has one, Python
    prints it as ignored and goes on, and a library that is just loading may take it for a part that
    is missing. So it is noted as well, and raised at the next step.

    Attributes
    ----------
    asked
        Whether Ctrl-C was pressed.
    """

    def __init__(self) -> None:
        self.asked = False
        self._before: Any = None

    def listen(self) -> None:
        """Note every Ctrl-C from now on; only the main thread may, and only there it arrives."""
        handler = signal.getsignal(signal.SIGINT)
        if callable(handler) and threading.current_thread() is threading.main_thread():
            self._before = handler
            signal.signal(signal.SIGINT, self._note)

    def leave(self) -> None:
        """Hand Ctrl-C back."""
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)
            self._before = None

    def raise_if_asked(self) -> None:
        """Raise what was dropped.

        Raises
        ------
        KeyboardInterrupt
            Ctrl-C was pressed since :meth:`listen`.
        """
        if self.asked:
            raise KeyboardInterrupt

    def _note(self, number: int, frame: Any) -> None:
        self.asked = True
        if self._before is not None:
            self._before(number, frame)
