"""Which files of a report's folder are ours: those listed with their checksum and unchanged since.

``summary.json`` ends with ``files``, the SHA-256 of every file written beside it, and
``own_sha256``, the checksum of its own text with that value left empty. Whatever else lies in the
folder, and whatever was changed after it was written, belongs to the user.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tonecompare.language import tr

SUMMARY = "summary.json"
_OWN = "own_sha256"
_MARKED = re.compile(r"\.edited(-\d+)?$")


def seal(folder: Path) -> None:
    """Add the checksums of all files in a finished folder to its ``summary.json``."""
    summary = json.loads((folder / SUMMARY).read_text(encoding="utf-8"))
    files = {
        path.relative_to(folder).as_posix(): _sha256(path)
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path != folder / SUMMARY
    }
    summary |= {"files": files, _OWN: ""}
    text = _text(summary)
    summary[_OWN] = hashlib.sha256(text).hexdigest()
    (folder / SUMMARY).write_bytes(_text(summary))


def listed(folder: Path) -> dict[str, str] | None:
    """Return name and checksum of every file that was written to a report's folder.

    None when the summary lists no checksums (another version's), or is no summary at all. The
    summary itself is listed with a checksum that only an unchanged one has.
    """
    data = _summary(folder)
    files = data.get("files")
    if not isinstance(files, dict) or not isinstance(data.get(_OWN), str):
        return None
    own = hashlib.sha256(_text(data | {_OWN: ""})).hexdigest()
    unchanged = own == data[_OWN] and _text(data) == (folder / SUMMARY).read_bytes()
    mine = _sha256(folder / SUMMARY) if unchanged else ""
    return {str(name): str(value) for name, value in files.items()} | {SUMMARY: mine}


def carry_over(earlier: Path, fresh: Path) -> tuple[str, ...]:
    """Bring all that is the user's from an earlier report's folder into the fresh one.

    Files are linked, not moved, so that the earlier folder stays whole until it is given up; where
    the file system has no links they are copied. What we wrote and the user changed, or what now
    has the name of a file of ours, is kept beside as ``index.edited.html``.

    Parameters
    ----------
    earlier
        The folder of a report as it lies there, with what the user put in it.
    fresh
        The finished folder that will take its place.

    Returns
    -------
    tuple of str
        A sentence for each file that was kept under another name.
    """
    ours = listed(earlier) or {}
    said: list[str] = []
    for path in _all_below(earlier):
        name = path.relative_to(earlier)
        target = fresh / name
        if path.is_dir() and not path.is_symlink():
            if any(path.iterdir()) or name.as_posix() in _folders_of(ours):
                continue
            target.mkdir(parents=True, exist_ok=True)
            continue
        checksum = ours.get(name.as_posix())
        is_file = path.is_file() and not path.is_symlink()
        if checksum is not None and is_file and _sha256(path) == checksum:
            continue
        if os.path.lexists(target) or checksum is not None:
            target = _beside(target, earlier / name)
            names = {"file": name.as_posix(), "kept": target.relative_to(fresh).as_posix()}
            if checksum is not None:
                said.append(
                    tr(
                        "{file} was changed since it was written: your version is kept as {kept}.",
                        **names,
                    )
                )
            else:
                said.append(
                    tr(
                        "{file} is yours and has the name of a file of the new report: your "
                        "version is kept as {kept}.",
                        **names,
                    )
                )
        target.parent.mkdir(parents=True, exist_ok=True)
        _link(path, target)
    return tuple(said)


def _summary(folder: Path) -> dict[str, Any]:
    """Return what the summary says; nothing when it is broken or nested too deep to write again."""
    path = folder / SUMMARY
    try:
        data = json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
        json.dumps(data, indent=2)
    except (OSError, ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}


def maker_of(folder: Path) -> str:
    """Return what a folder's summary says it was made by, "" without one."""
    return str(_summary(folder).get("made_by", ""))


def _text(summary: dict[str, Any]) -> bytes:
    return (json.dumps(summary, ensure_ascii=False, indent=2) + "\n").encode("utf-8", "replace")


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _all_below(folder: Path) -> Iterator[Path]:
    for root, folders, files in os.walk(folder):
        for name in sorted((*folders, *files)):
            yield Path(root) / name


def _folders_of(files: dict[str, str]) -> set[str]:
    return {parent.as_posix() for name in files for parent in Path(name).parents}


def _beside(target: Path, earlier: Path) -> Path:
    """Return the first free name of ``index.edited.html``, ``index.edited-2.html`` and so on."""
    stem, number = _MARKED.sub("", target.stem), 1
    while True:
        mark = ".edited" if number == 1 else f".edited-{number}"
        name = f"{stem}{mark}{target.suffix}"
        if not os.path.lexists(target.with_name(name)) and not os.path.lexists(
            earlier.with_name(name)
        ):
            return target.with_name(name)
        number += 1


def _link(path: Path, target: Path) -> None:
    try:
        os.link(path, target, follow_symlinks=False)
    except OSError:
        shutil.copy2(path, target, follow_symlinks=False)
