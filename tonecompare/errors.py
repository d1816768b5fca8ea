"""Errors of the package: one root, input errors that say what, where and what to do.

Only :mod:`tonecompare.cli` turns an error into an exit code. Everything a user can mend is an
:class:`InputError`, which is a :class:`ValueError` too, so that library callers may catch either.
"""

from __future__ import annotations

from pathlib import Path


class TonecompareError(Exception):
    """Root of every error this package raises on purpose."""


class InputError(TonecompareError, ValueError):
    """Something handed in cannot be used; the message says what, where and what to do."""


class SessionError(InputError):
    """A ``session.toml`` or the folders beside it cannot be used.

    Parameters
    ----------
    message
        What was found and what is allowed.
    file
        The file the problem stands in, if one.
    key
        Dotted key inside the file, if one (``stages.heron-rewound.from``).
    """

    def __init__(self, message: str, *, file: Path | None = None, key: str = "") -> None:
        self.file = file
        self.key = key
        where = ": ".join(part for part in (str(file) if file else "", key) if part)
        super().__init__(f"{where}: {message}" if where else message)


class RecordingError(InputError):
    """One audio file cannot be used; the rest of the session goes on without it.

    Parameters
    ----------
    file
        The audio file.
    what
        What is wrong, as a full clause ("is empty (0 bytes)").
    remedy
        What to do about it, as a full sentence.
    """

    def __init__(self, file: Path, what: str, remedy: str = "") -> None:
        self.file = file
        self.what = what
        self.remedy = remedy
        super().__init__(f"{file}: {what}." + (f" {remedy}" if remedy else ""))
