"""From the bytes of a TOML file to plain tables, with syntax errors in plain words."""

from __future__ import annotations

import codecs
import os
import re
import tomllib
from pathlib import Path
from typing import Any

from tonecompare.errors import SessionError
from tonecompare.language import tr_later
from tonecompare.session.toml.control_signs import refuse_control_signs

#: What tomllib says -> what that means for somebody who never heard of TOML. First match counts.
_PLAIN = (
    (r"Cannot overwrite a value", tr_later("a key or section stands there twice; keep one")),
    (r"Expected '=' after a key", tr_later(
        'a key must be followed by "="; names with spaces or letters beyond a-z need quotes: '
        '[stages."as delivered"]')),
    (r"Expected '\]'", tr_later(
        'a section line must end in "]"; names with spaces or letters beyond a-z need quotes: '
        '[stages."as delivered"]')),
    (r"Unescaped '\\' in a string", tr_later(
        'a backslash inside "…" means something else; use "/" or single quotes \'…\'')),
    (r"Illegal character|Unterminated string", tr_later(
        "a quoted text is not closed on its line")),
    (r"Unclosed array", tr_later('a list is opened with "[" and never closed with "]"')),
    (r"Unclosed inline table|Invalid initial character for a key part", tr_later(
        'a key is missing or has no name; a table in "{…}" must stand on one line')),
    (r"Expected newline or end of document", tr_later(
        "something stands behind the value; one key a line, decimal point instead of comma, text "
        "in quotes, dates as 2026-03-01")),
    (r"Invalid value", tr_later("the value is missing or is text without quotes")),
    (r"Invalid statement", tr_later(
        'a line must be "key = value", a [section] or a # comment')),
)  # fmt: skip
_TWICE = r"Cannot declare \((.*)\) twice"

#: Signs of a faulty line that are shown.
_LINE_SHOWN = 120
_LARGEST = 10**30
_TOO_LONG = tr_later(
    "a number has more than 30 digits; no quantity needs so many. Check what was pasted."
)

_BOMS = ((codecs.BOM_UTF16_LE, "UTF-16"), (codecs.BOM_UTF16_BE, "UTF-16"))


def refuse_what_is_no_file(path: Path) -> None:
    """Raise :class:`SessionError` when something else has the name of a file that would be read."""
    if os.path.lexists(path):
        raise SessionError(
            tr_later("is no file but a folder, a pipe or a link to nothing. Remove or rename it."),
            file=path,
        )


def read_toml(path: Path) -> dict[str, Any]:
    """Return the tables of a TOML file.

    A byte-order mark and Windows line ends are accepted.

    Raises
    ------
    SessionError
        When the file cannot be read, is not UTF-8 or is not TOML; with line and column.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise SessionError(
            tr_later("cannot be read: {why}.", why=str(error.strerror)), file=path
        ) from error
    text = _decode(raw, path)
    refuse_control_signs(text, path)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SessionError(_plain_words(str(error), text), file=path) from error
    except RecursionError as error:
        raise SessionError(
            tr_later(
                "lists or tables stand in each other hundreds deep; nothing here needs more than "
                "three. Look for brackets that are not closed."
            ),
            file=path,
        ) from error
    except ValueError as error:
        raise SessionError(_TOO_LONG, file=path) from error
    _refuse_long_numbers(tables, path)
    return tables


def _refuse_long_numbers(tables: dict[str, Any], path: Path) -> None:
    """Refuse whole numbers that no quantity has; written out they would fill the terminal."""
    left: list[tuple[str, Any]] = [("", tables)]
    while left:
        key, value = left.pop()
        if isinstance(value, dict):
            left += [(f"{key}.{name}" if key else name, each) for name, each in value.items()]
        elif isinstance(value, list):
            left += [(f"{key}[{i}]", each) for i, each in enumerate(value, start=1)]
        elif isinstance(value, int) and abs(value) > _LARGEST:
            raise SessionError(_TOO_LONG, file=path, key=key)


def _decode(raw: bytes, path: Path) -> str:
    for bom, encoding in _BOMS:
        if raw.startswith(bom):
            raise SessionError(
                tr_later("is {encoding} text; save it as UTF-8.", encoding=encoding), file=path
            )
    try:
        text = raw.removeprefix(codecs.BOM_UTF8).decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise SessionError(
            tr_later(
                "line {line}: a letter is not UTF-8 (byte {byte}); save the file as UTF-8.",
                line=line,
                byte=f"{raw[error.start]:#04x}",
            ),
            file=path,
        ) from error
    return text.replace("\r\n", "\n")


def _plain_words(message: str, text: str) -> str:
    """Return "line 3, column 5: what is wrong. The line reads: …"."""
    place = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    lines = text.split("\n")
    if place and place[1]:
        line, column = int(place[1]), int(place[2])
        if "Illegal character" in message and column > len(lines[line - 1]):
            column = len(lines[line - 1])
    else:
        line = max((i for i, each in enumerate(lines, start=1) if each.strip()), default=1)
        column = len(lines[line - 1].rstrip())
    said = message[: place.start()] if place else message
    plain = next((plain for pattern, plain in _PLAIN if re.search(pattern, said)), said)
    twice = re.search(_TWICE, said)
    if twice:
        plain = tr_later(
            "the section [{name}] stands there twice; join the two",
            name=".".join(re.findall(r"'(.*?)'", twice[1])),
        )
    line_text = lines[line - 1].strip()
    line_text = line_text if len(line_text) <= _LINE_SHOWN else f"{line_text[:_LINE_SHOWN]} …"
    return tr_later(
        "line {line}, column {column}: {what}. The line reads: {text}",
        line=line,
        column=max(column, 1),
        what=plain,
        text=line_text,
    )
