"""``takes.csv`` beside the recordings: what a person puts right in the cutting of plucks.

One row per pluck, in the stage folder, with these columns: ``file`` (relative to that folder,
"neck.wav" or "neck/E2.1.wav"), ``pluck`` (its number in the file, as found without overrides),
``onset_s``, ``note``, ``string``, ``use``, ``reason``. An empty cell means: as found. ``use`` is
"no" for a pluck to leave out. Columns but ``file`` and ``pluck`` may be missing. Spreadsheets that
separate by semicolon or tab and write decimal commas are understood.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from tonecompare.errors import SessionError
from tonecompare.language import tr_later
from tonecompare.session.naming import did_you_mean, listed, match_key
from tonecompare.session.note_names import note_name, note_number
from tonecompare.session.sound_folders import is_audio
from tonecompare.session.toml.control_signs import refuse_control_signs
from tonecompare.session.toml.schema import Problems
from tonecompare.session.toml.text import refuse_what_is_no_file
from tonecompare.whole_file import write_whole

#: Name of the file in a stage folder.
OVERRIDES_FILE = "takes.csv"
COLUMNS = ("file", "pluck", "onset_s", "note", "string", "use", "reason")
_NEEDED = ("file", "pluck")
_YES, _NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")


@dataclass(frozen=True)
class Override:
    """What a person says of one pluck; None and "" mean: as found."""

    file: str
    pluck: int
    onset_s: float | None = None
    note: str = ""
    string: int | None = None
    use: bool = True
    reason: str = ""


def read_overrides(path: Path) -> Mapping[tuple[str, int], Override]:
    """Read a ``takes.csv``.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    overrides
        By (file as written, with forward slashes; pluck number from 1).

    Raises
    ------
    SessionError
        With every bad cell at once: line, column, what was found, what is allowed.
    """
    lines, delimiter = _rows(path)
    problems = Problems(path)
    header = [cell.strip().lower() for cell in lines[0][1]]
    for name in header:
        if name not in COLUMNS:
            guess = did_you_mean(name, COLUMNS)
            problems.add(
                "line 1",
                tr_later(
                    'unknown column "{name}".{guess} Columns: {columns}.',
                    name=name,
                    guess=guess,
                    columns=COLUMNS,
                ),
            )
    for name in COLUMNS:
        if header.count(name) > 1:
            problems.add("line 1", tr_later('the column "{name}" stands there twice.', name=name))
        elif name in _NEEDED and name not in header:
            problems.add(
                "line 1",
                tr_later(
                    'the column "{name}" is missing. Columns: {columns}.',
                    name=name,
                    columns=COLUMNS,
                ),
            )
    problems.raise_if_any()
    found: dict[tuple[str, int], Override] = {}
    first_line: dict[tuple[str, int], int] = {}
    for number, cells in lines[1:]:
        if len(cells) > len(header) and any(cell.strip() for cell in cells[len(header) :]):
            problems.add(
                tr_later("line {n}", n=number),
                tr_later(
                    "{cells} cells for {columns} columns.", cells=len(cells), columns=len(header)
                ),
            )
            continue
        row = dict(zip(header, (cell.strip() for cell in cells), strict=False))
        override = _override(row, number, problems, comma=delimiter != ",")
        if override is None:
            continue
        key = (override.file, override.pluck)
        if key in found:
            problems.add(
                tr_later("line {n}", n=number),
                tr_later(
                    "pluck {pluck} of {file} is on line {line} already.",
                    pluck=key[1],
                    file=key[0],
                    line=first_line[key],
                ),
            )
            continue
        found[key], first_line[key] = override, number
    problems.raise_if_any()
    return found


def stage_overrides(folder: Path) -> Mapping[tuple[str, int], Override]:
    """Read the ``takes.csv`` of a stage folder; empty when there is none.

    The file part of each key is the path of a file that exists, relative to ``folder`` with
    forward slashes; upper case and the way accents are coded make no difference in ``takes.csv``.

    Raises
    ------
    SessionError
        As :func:`read_overrides`, and when a row names a file that is not there.
    """
    path = folder / OVERRIDES_FILE
    if not path.is_file():
        refuse_what_is_no_file(path)
        return {}
    overrides = read_overrides(path)
    there = {
        match_key(each.relative_to(folder).as_posix()): each.relative_to(folder).as_posix()
        for pattern in ("*", "*/*")
        for each in sorted(folder.glob(pattern))
        if is_audio(each) and not each.name.startswith(".")
    }
    problems = Problems(path)
    matched = {}
    for (file, pluck), override in overrides.items():
        real = file if file in there.values() else there.get(match_key(file))
        if real is None:
            problems.add(
                tr_later("pluck {pluck} of {file}", pluck=pluck, file=file),
                _no_such_file(file, there.values()),
            )
            continue
        matched[real, pluck] = override
    problems.raise_if_any()
    return matched


def _no_such_file(file: str, there: Iterable[str]) -> str:
    path = PurePosixPath(file)
    if path.is_absolute() or ".." in path.parts or re.match("[A-Za-z]:", file):
        return tr_later(
            "leads out of the stage folder; files are named as they lie in it, like {like}.",
            like=path.name or "neck.wav",
        )
    return tr_later("there is no such file here.{guess}", guess=did_you_mean(file, there))


def write_overrides(path: Path, overrides: Iterable[Override]) -> None:
    """Write a ``takes.csv``; times with six decimals (a microsecond).

    Raises
    ------
    SessionError
        When the file exists: a person may have edited it.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(COLUMNS)
    for each in overrides:
        onset = "" if each.onset_s is None else f"{each.onset_s:.6f}"
        string = "" if each.string is None else each.string
        use = "yes" if each.use else "no"
        writer.writerow([each.file, each.pluck, onset, each.note, string, use, each.reason])
    try:
        write_whole(path, buffer.getvalue())
    except FileExistsError as error:
        raise SessionError(
            tr_later("exists already and may hold corrections; rename or remove it first."),
            file=path,
        ) from error


def _rows(path: Path) -> tuple[list[tuple[int, list[str]]], str]:
    """Return (line number, cells) of every row that is not blank, and what separates cells."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise SessionError(
            tr_later("cannot be read: {why}.", why=str(error.strerror)), file=path
        ) from error
    except UnicodeDecodeError as error:
        raise SessionError(
            tr_later("is not UTF-8 text; save it as CSV UTF-8."), file=path
        ) from error
    refuse_control_signs(text, path)
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((reader.line_num, cells))
    except csv.Error as error:
        raise SessionError(
            tr_later("cannot be read as CSV: {why}.", why=str(error)),
            file=path,
            key=tr_later("line {n}", n=reader.line_num),
        ) from error
    if not rows:
        raise SessionError(
            tr_later("is empty; the first line names the columns: {columns}.", columns=COLUMNS),
            file=path,
        )
    return rows, delimiter


def _override(
    row: Mapping[str, str], line: int, problems: Problems, *, comma: bool
) -> Override | None:
    before = len(problems.found)

    def cell(name: str, read: Callable[[str], Any], allowed: str, empty: Any) -> Any:
        text = row.get(name, "")
        if not text and name not in _NEEDED:
            return empty
        try:
            return read(text)
        except ValueError as error:
            why = tr_later(" ({why})", why=error.args[0]) if name == "note" and text else ""
            return problems.add(
                tr_later("line {n}, {column}", n=line, column=name),
                tr_later(
                    'found "{text}"; {allowed} is allowed.{why}',
                    text=text,
                    allowed=allowed,
                    why=why,
                ),
            )

    def seconds(text: str) -> float:
        value = float(text.replace(",", ".") if comma else text)
        if not 0.0 <= value < math.inf:
            raise ValueError
        return value

    onset = cell(
        "onset_s", seconds, tr_later("seconds from the start of the file, like 2.184,"), None
    )
    override = Override(
        file=cell("file", _file, tr_later("a file name"), ""),
        pluck=cell("pluck", lambda t: _whole(t, 99999), tr_later("a number 1, 2, 3 …"), 0),
        onset_s=onset,
        note=cell(
            "note", lambda t: note_name(note_number(t)), tr_later("a note name like E2 or F#3"), ""
        ),
        string=cell(
            "string", lambda t: _whole(t, 24), tr_later("a string number (1 = thinnest)"), None
        ),
        use=cell("use", _yes_or_no, listed(("yes", "no"), join="or"), True),
        reason=row.get("reason", ""),
    )
    return override if len(problems.found) == before else None


def _file(text: str) -> str:
    if not text:
        raise ValueError
    return text.replace("\\", "/").removeprefix("./")


def _whole(text: str, highest: int) -> int:
    value = int(text.removesuffix(".0"))
    if not 1 <= value <= highest:
        raise ValueError
    return value


def _yes_or_no(text: str) -> bool:
    if text.lower() not in (*_YES, *_NO):
        raise ValueError
    return text.lower() in _YES
