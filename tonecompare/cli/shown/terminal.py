r"""What goes to stdout and stderr: no sign steers the terminal, none breaks it.

Names of files, stages and voices come from other people's computers. Escapes, bells and marks that
turn the direction of writing are written out (``\x1b``); letters that the terminal's encoding
does not have are replaced by the nearest it has.
"""

from __future__ import annotations

import codecs
import io
import os
import re
import shutil
import sys
import textwrap
import unicodedata

import click

from tonecompare.language import tr

#: Control characters but tab and line end, direction marks, separators, halves of characters.
_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
#: The columns of a terminal that text is wrapped to, at most.
_WIDEST = 100
#: What stands for a sign that an encoding lacks.
_INSTEAD = {
    "−": "-", "–": "-", "—": "-", "‐": "-", "→": "->", "…": "...", "×": "x", "±": "+/-",
    "“": '"', "”": '"', "„": '"', "’": "'", "‘": "'", "✓": "*", "•": "*", "·": "*", "≥": ">=",
    "≤": "<=", "≈": "~", "Ω": "Ohm", "μ": "u", "µ": "u", "ß": "ss", "æ": "ae", "ø": "o",
    "♯": "#", "♭": "b", "√": "sqrt", "Δ": "delta ", "σ": "s",
    "ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue",
}  # fmt: skip
_HANDLER = "tonecompare.nearest"


def written_out(text: str) -> str:
    r"""Return text in which no character steers a terminal.

    Examples
    --------
    >>> print(written_out("a\x1b[31mb\u202e"))
    a\x1b[31mb\u202e
    """
    return _STEERING.sub(_escape, text)


def _escape(match: re.Match[str]) -> str:
    number = ord(match[0])
    if 0xDC80 <= number <= 0xDCFF:  # a byte of a file's name that is no UTF-8
        number -= 0xDC00
    return f"\\x{number:02x}" if number < 0x100 else f"\\u{number:04x}"


def nearest_letters(error: UnicodeError) -> tuple[str, int]:
    """Answer an encoding error with what reads like the characters that are missing."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_nearest(sign) for sign in error.object[error.start : error.end]), error.end


def _nearest(sign: str) -> str:
    if sign in _INSTEAD:
        return _INSTEAD[sign]
    plain = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode()
    return plain or ("?" if not _STEERING.match(sign) else written_out(sign))


def never_refuse() -> None:
    """Let stdout and stderr take every text, whatever their encoding, and all of it.

    Without a buffer (PYTHONUNBUFFERED) what a disk has no room for is dropped without a word.
    """
    codecs.register_error(_HANDLER, nearest_letters)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        below = getattr(stream, "buffer", None)
        if isinstance(below, io.FileIO):
            whole = open(below.fileno(), "wb", closefd=False)  # noqa: SIM115 - a number
            setattr(sys, name, io.TextIOWrapper(whole, stream.encoding,
                                                errors=_HANDLER, write_through=True))  # fmt: skip
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)


def width() -> int:
    """Return the columns to write to: the terminal's, 80 where there is none, 100 at most."""
    return min(shutil.get_terminal_size().columns, _WIDEST)


def show(text: str = "") -> None:
    """Write text to stdout."""
    click.echo(written_out(text), file=sys.stdout)


def show_data(text: str) -> None:
    """Write CSV or JSON to stdout: as UTF-8 and unchanged, except where a person looks on."""
    if sys.stdout.isatty():
        click.echo(written_out(text), nl=False, file=sys.stdout)
    else:
        click.echo(text.encode("utf-8", "backslashreplace"), nl=False)


def say(message: str) -> None:
    """Write one message to stderr, wrapped where that is a terminal."""
    text = written_out(message)
    if sys.stderr.isatty():
        text = "\n".join(wrapped(line, later="  ") for line in text.split("\n"))
    to_stderr(text)


def to_stderr(text: str, *, nl: bool = True) -> None:
    """Write text to stderr as it is. A stderr that takes nothing (a full disk) stops no work."""
    try:
        click.echo(text, nl=nl, file=sys.stderr)
    except OSError:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115


def note(remark: str) -> None:
    """Write a remark on what was made to stderr; one made while measuring is said here."""
    say(tr("Note: {remark}", remark=tr(remark)))


def wrapped(text: str, first: str = "", later: str = "") -> str:
    """Return a paragraph wrapped to the terminal, its first and later lines indented so."""
    return textwrap.fill(
        written_out(text),
        width(),
        initial_indent=first,
        subsequent_indent=later,
        break_on_hyphens=False,
        break_long_words=False,
    )
