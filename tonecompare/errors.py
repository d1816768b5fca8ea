"""Errors of the package: one root, input errors that say what, where and what to do.

Only :mod:`tonecompare.cli` turns an error into an exit code. Everything a user can mend is an
:class:`InputError`, which is a :class:`ValueError` too, so that library callers may catch either.
"""

from __future__ import annotations

from pathlib import Path

from tonecompare.language import tr, tr_later


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
        super().__init__(
            tr_later("{where}: {message}", where=where, message=message) if where else message
        )


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
        super().__init__(
            tr_later("{file}: {what}. {remedy}", file=str(file), what=what, remedy=remedy)
            if remedy
            else tr_later("{file}: {what}.", file=str(file), what=what)
        )

    def __reduce__(self) -> tuple[type[RecordingError], tuple[Path, str, str]]:
        """Come back whole from another process."""
        return RecordingError, (self.file, self.what, self.remedy)

    @property
    def as_sentences(self) -> str:
        """What is wrong and what to do, as sentences whose subject is the file."""
        if not self.remedy:
            return tr_later("{what:A}.", what=self.what)
        return tr_later("{what:A}. {remedy}", what=self.what, remedy=self.remedy)


def message_of(error: Exception) -> str:
    """Return what an error says, in the language that is spoken where it can be said in it.

    ``str(error)`` is plain English: the places of a text that is said later are lost in it.
    """
    message = error.args[0] if error.args else ""
    return tr(message) if isinstance(message, str) and message else str(error)
