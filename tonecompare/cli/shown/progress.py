"""How far long work has come, on stderr."""

from __future__ import annotations

import shutil
import sys

import click

from tonecompare.cli.shown.terminal import written_out


class Progress:
    """A line on stderr that says which of how many is being worked on.

    On a terminal the line is rewritten in place; elsewhere each step gets a line of its own.
    Use as a context manager, so that the line is gone before anything else is printed.

    Parameters
    ----------
    shown
        True or False to force it; None shows it only when stderr is a terminal.
    word
        What has been done to each recording.
    """

    def __init__(self, shown: bool | None = None, *, word: str = "Measured") -> None:
        self._word = word
        self._terminal = sys.stderr.isatty()
        self._shown = self._terminal if shown is None else shown

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_error: object) -> None:
        self.clear()

    def __call__(self, done: int, total: int, what: str = "") -> None:
        """Show that ``done`` of ``total`` recordings are done, the last one being ``what``."""
        self.step(f"{self._word} {done} of {total}" + (f": {what}" if what else ""))

    def step(self, text: str) -> None:
        """Show one step of the work."""
        if not self._shown:
            return
        text = written_out(text)
        if self._terminal:
            width = shutil.get_terminal_size().columns - 1
            click.echo(f"\r\x1b[K{text[:width]}", nl=False, file=sys.stderr)
        else:
            click.echo(text, file=sys.stderr)

    def clear(self) -> None:
        """Take the line away again."""
        if self._shown and self._terminal:
            click.echo("\r\x1b[K", nl=False, file=sys.stderr)
