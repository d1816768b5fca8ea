"""How far long work has come, on stderr."""

from __future__ import annotations

import shutil
import sys
import time

from tonecompare.cli.outcome import hear_ctrl_c
from tonecompare.cli.shown.terminal import to_stderr, written_out
from tonecompare.language import tr, tr_later

#: What is nearly done, or only just begun, is not given a time.
_WORTH_TELLING_S = 5.0
#: Where each step has a line of its own, more steps than this get one for each further hundredth.
_MOST_LINES = 100


class Progress:
    """A line on stderr that says which of how many is being worked on.

    On a terminal the line is rewritten in place; elsewhere each step gets a line of its own, of
    long work each hundredth. Long work says how much time is left: as the steps since the clock
    was started took on the mean. A call that is no further than the one before starts it anew, so
    that what was found and not worked for counts for nothing. Use as a context manager, so that
    the line is gone before anything else is printed.

    Parameters
    ----------
    shown
        True or False to force it; None shows it only when stderr is a terminal.
    said
        What has been done to how many, ``{done} of {total}``; English, to be said in the language
        that is spoken by then.
    """

    def __init__(
        self, shown: bool | None = None, *, said: str = tr_later("Measured {done} of {total}")
    ) -> None:
        self._said = said
        self._terminal = sys.stderr.isatty()
        self._shown = self._terminal if shown is None else shown
        #: Steps done at the last call, and at which the clock was started, when.
        self._done, self._since, self._started_s = -1, 0, 0.0
        self._hundredth = -1

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_error: object) -> None:
        self.clear()

    def __call__(self, done: int, total: int, what: str = "") -> None:
        """Show that ``done`` of ``total`` recordings are done, the last one being ``what``."""
        now_s = time.monotonic()
        if self._done in (-1, done):
            self._since, self._started_s = done, now_s
        self._done = done
        hundredth = 100 * done // max(total, 1)
        if not self._terminal and total > _MOST_LINES and hundredth == self._hundredth:
            hear_ctrl_c()
            return
        self._hundredth = hundredth
        left = time_left(now_s - self._started_s, done - self._since, total - done)
        text = tr(self._said, done=done, total=total) + left
        self.step(f"{text}: {what}" if what else text)

    def step(self, text: str) -> None:
        """Show one step of the work; a Ctrl-C that was dropped before is raised here."""
        hear_ctrl_c()
        if not self._shown:
            return
        text = written_out(text)
        if self._terminal:
            width = shutil.get_terminal_size().columns - 1
            to_stderr(f"\r\x1b[K{text[:width]}", nl=False)
        else:
            to_stderr(text)

    def clear(self) -> None:
        """Take the line away again."""
        if self._shown and self._terminal:
            to_stderr("\r\x1b[K", nl=False)


def time_left(taken_s: float, steps: int, left: int) -> str:
    """Return ", about … left" after ``steps`` that took ``taken_s``, "" where it is not worth it.

    Examples
    --------
    >>> time_left(60.0, 100, 1900)
    ', about 19 min left'
    >>> time_left(1.0, 100, 1900)
    ''
    """
    left_s = taken_s / max(steps, 1) * left
    if not steps or taken_s < _WORTH_TELLING_S or left_s < _WORTH_TELLING_S:
        return ""
    minutes = round(left_s / 60)
    if left_s < 90:
        said = tr("about {s} s left", s=f"{round(left_s, -1) or 5:.0f}")
    elif minutes < 90:
        said = tr("about {min} min left", min=minutes)
    elif minutes < 48 * 60:
        said = tr("about {h} h {min} min left", h=minutes // 60, min=minutes % 60)
    else:
        said = tr("about {days} days left", days=f"{minutes / 1440:.0f}")
    return f", {said}"
