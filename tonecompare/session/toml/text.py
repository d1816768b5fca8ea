"""From the bytes of a TOML file to plain tables, with syntax errors in plain words."""

from __future__ import annotations

import codecs
import re
import tomllib
from pathlib import Path
from typing import Any

from tonecompare.errors import SessionError

#: What tomllib says -> what that means for somebody who never heard of TOML. First match counts.
_PLAIN = (
    (r"Cannot declare \((.*)\) twice", r"the section \1 stands there twice; join the two"),
    (r"Cannot overwrite a value", "a key or section stands there twice; keep one"),
    (r"Expected '=' after a key", 'a key must be followed by "="; names with spaces or '
     'letters beyond a-z need quotes: [stages."as delivered"]'),
    (r"Expected '\]'", 'a section line must end in "]"; names with spaces or letters beyond a-z '
     'need quotes: [stages."as delivered"]'),
    (r"Unescaped '\\' in a string", r'a backslash inside "…" means something else; use "/" or '
     r"single quotes '…'"),
    (r"Illegal character|Unterminated string", "a quoted text is not closed on its line"),
    (r"Unclosed array", 'a list is opened with "[" and never closed with "]"'),
    (r"Unclosed inline table|Invalid initial character for a key part",
     'a key is missing or has no name; a table in "{…}" must stand on one line'),
    (r"Expected newline or end of document", "something stands behind the value; one key a line, "
     "decimal point instead of comma, text in quotes, dates as 2026-03-01"),
    (r"Invalid value", "the value is missing or is text without quotes"),
    (r"Invalid statement", 'a line must be "key = value", a [section] or a # comment'),
)  # fmt: skip

#: Signs of a faulty line that are shown.
_LINE_SHOWN = 120
_LARGEST = 10**30
_TOO_LONG = "a number has more than 30 digits; no quantity needs so many. Check what was pasted."

_BOMS = ((codecs.BOM_UTF16_LE, "UTF-16"), (codecs.BOM_UTF16_BE, "UTF-16"))


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
        raise SessionError(f"cannot be read: {error.strerror}.", file=path) from error
    text = _decode(raw, path)
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SessionError(_plain_words(str(error), text), file=path) from error
    except RecursionError as error:
        raise SessionError(
            "lists or tables stand in each other hundreds deep; nothing here needs more than "
            "three. Look for brackets that are not closed.",
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
            raise SessionError(f"is {encoding} text; save it as UTF-8.", file=path)
    try:
        text = raw.removeprefix(codecs.BOM_UTF8).decode("utf-8")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise SessionError(
            f"line {line}: a letter is not UTF-8 (byte {raw[error.start]:#04x}); "
            "save the file as UTF-8.",
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
    for pattern, plain in _PLAIN:
        match = re.search(pattern, said)
        if match:
            said = match.expand(plain) if match.groups() else plain.replace("\\\\", "\\")
            break
    said = re.sub(r"section ('.*?'(?:, '.*?')*),? stands", _section, said)
    line_text = lines[line - 1].strip()
    line_text = line_text if len(line_text) <= _LINE_SHOWN else f"{line_text[:_LINE_SHOWN]} …"
    return f"line {line}, column {max(column, 1)}: {said}. The line reads: {line_text}"


def _section(match: re.Match[str]) -> str:
    names = re.findall(r"'(.*?)'", match[1])
    return f"section [{'.'.join(names)}] stands"
