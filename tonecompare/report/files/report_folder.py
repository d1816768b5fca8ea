"""A report folder that appears whole or not at all."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tonecompare.errors import InputError

#: Marks ``summary.json`` as ours: that of a report, that of a check.
MADE_BY = "tonecompare report"
MADE_BY_CHECK = "tonecompare check"
_CALLED = {MADE_BY: "report", MADE_BY_CHECK: "check"}
#: Folders of a report and what it puts there.
_OWN_FOLDERS = {"charts": (".png", ".svg"), "clips": (".flac",), "equalisers": (".wav",)}
#: What file managers leave in any folder.
_SYSTEM_FILES = ("thumbs.db", "desktop.ini")


def made_by(folder: Path) -> str:
    """Return what of this program made a folder's page, "" when nothing did."""
    try:
        summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    maker = str(summary.get("made_by")) if isinstance(summary, dict) else ""
    return maker if maker in _CALLED else ""


def check_replaceable(out: Path, *, by: str = MADE_BY) -> None:
    """Raise :class:`InputError` when ``out`` holds something that is not ours to replace.

    A report replaces an earlier report, a check an earlier check; neither the other.
    """
    if out.is_symlink() and not out.exists():
        raise InputError(f"{out}: is a link to nothing. Name another folder for the report.")
    if not out.exists():
        return
    if not out.is_dir():
        raise InputError(f"{out}: is a file. Name a folder for the report that does not exist yet.")
    maker = made_by(out)
    if maker and maker != by:
        raise InputError(
            f"{out}: holds a {_CALLED[maker]}, which a {_CALLED[by]} would replace. Name another "
            "folder."
        )
    if any(out.iterdir()) and not maker:
        raise InputError(
            f"{out}: is a folder with other things in it, not an earlier report, so it is left "
            "alone. Name a folder that does not exist yet, or empty this one."
        )
    added = _added_files(out)
    if added:
        more = f" and {len(added) - 1} more" if len(added) > 1 else ""
        raise InputError(
            f"{out}: holds {added[0]}{more} beside an earlier report, which would be lost. Move it "
            "elsewhere, or name another folder."
        )


def _added_files(out: Path) -> list[str]:
    """Files in the folder of a report that the report did not write, hidden and system ones aside.

    A report lists its files in ``summary.json``; the page of a check is two files. Charts and clips
    left by another version count as the report's.
    """
    if not made_by(out):
        return []
    summary = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    listed = summary.get("files") or ["index.html", "summary.json"]
    there = (path for path in sorted(out.rglob("*")) if path.is_file())
    names = (path.relative_to(out) for path in there)
    return [
        name.as_posix()
        for name in names
        if name.as_posix() not in listed
        and _OWN_FOLDERS.get(name.parts[0], ()).count(name.suffix) == 0
        and not any(part.startswith(".") for part in name.parts)
        and name.name.casefold() not in _SYSTEM_FILES
    ]


@contextmanager
def whole_or_nothing(out: Path, *, by: str = MADE_BY) -> Iterator[Path]:
    """Give a temporary folder beside ``out`` that becomes ``out`` when the block ends well.

    An earlier report stays until the new one is finished; after a failure (Ctrl-C too) the
    temporary folder is gone and ``out`` is as it was.

    Raises
    ------
    InputError
        ``out`` holds something other than a report, or its parent cannot be written.
    """
    check_replaceable(out, by=by)
    out = out.resolve() if out.is_symlink() else out
    made = _make_parents(out.parent)
    try:
        work = Path(tempfile.mkdtemp(prefix=f".{out.name[:40]}-unfinished-", dir=out.parent))
    except OSError as error:
        _remove_empty(made)
        raise InputError(
            f"{out.parent}: cannot be written ({error.strerror}). Choose another place with --out."
        ) from error
    try:
        work.chmod(0o755)
        yield work
        _put(work, out, by)
    except BaseException:
        shutil.rmtree(work, ignore_errors=True)
        _remove_empty(made)
        raise


def _make_parents(parent: Path) -> list[Path]:
    """Make missing parents; return those made, the deepest first."""
    missing = []
    place = parent
    while not place.exists():
        missing.append(place)
        place = place.parent
    try:
        parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"{parent}: cannot be made ({error.strerror}). Choose another place with --out."
        ) from error
    return missing


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


def _put(work: Path, out: Path, by: str) -> None:
    """Rename ``work`` to ``out``, moving an earlier report aside until that has succeeded."""
    if not out.exists():
        work.rename(out)
        return
    check_replaceable(out, by=by)  # it may have changed while the report was being made
    aside = Path(tempfile.mkdtemp(prefix=f".{out.name[:40]}-earlier-", dir=out.parent)) / "report"
    out.rename(aside)
    try:
        work.rename(out)
    except BaseException:
        aside.rename(out)
        aside.parent.rmdir()
        raise
    shutil.rmtree(aside.parent, ignore_errors=True)
