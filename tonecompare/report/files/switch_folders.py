"""Put a finished folder in another's place, so that a kill at any moment leaves one of them whole.

Linux (``renameat2`` with ``RENAME_EXCHANGE``) and macOS (``renamex_np`` with ``RENAME_SWAP``)
exchange two folders in one step. Elsewhere, and on file systems without it, the earlier folder is
renamed aside and the new one to its place; a kill between the two is mended by
:func:`clear_leftovers` at the next start. Whoever switches or clears holds the parent's lock; a
run holds that of its unfinished folder, so that what a dead one left is known.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path

_AT_CWD, _EXCHANGE = -100, 2
_UNFINISHED, _EARLIER = "unfinished", "earlier"
#: So many files are waited for at a time until they are on the disk.
_FLUSHED_AT_ONCE = 8


def exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the system cannot."""
    if os.name != "posix":
        return False
    library = ctypes.CDLL(None)
    names = os.fsencode(one), os.fsencode(other)
    if hasattr(library, "renameat2"):
        return bool(library.renameat2(_AT_CWD, names[0], _AT_CWD, names[1], _EXCHANGE) == 0)
    if sys.platform == "darwin" and hasattr(library, "renamex_np"):
        return bool(library.renamex_np(*names, _EXCHANGE) == 0)
    return False


def replace_folder(work: Path, out: Path) -> None:
    """Put ``work`` in the place of ``out``, which is removed if there; hold the parent's lock."""
    if not os.path.lexists(out):
        work.rename(out)
        _flush(out.parent)
        return
    if exchange(work, out):
        _flush(out.parent)
        shutil.rmtree(work, ignore_errors=True)
        return
    aside = Path(tempfile.mkdtemp(prefix=_prefix(out, _EARLIER), dir=out.parent)) / "report"
    out.rename(aside)
    try:
        work.rename(out)
    except BaseException:
        aside.rename(out)
        aside.parent.rmdir()
        raise
    _flush(out.parent)
    shutil.rmtree(aside.parent, ignore_errors=True)


@contextmanager
def locked(folder: Path, *, wait: bool = True) -> Iterator[bool]:
    """Hold a folder's lock, which ends with the process whatever ends that.

    Gives False when another process holds it and ``wait`` is False, or where folders have no locks.
    """
    try:
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        yield False
        return
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            yield False
            return
        yield True
    finally:
        os.close(handle)


def unfinished_folder(out: Path) -> Path:
    """Make an empty folder beside ``out`` for what will take its place."""
    work = Path(tempfile.mkdtemp(prefix=_prefix(out, _UNFINISHED), dir=out.parent))
    work.chmod(0o755)
    return work


def clear_leftovers(out: Path) -> None:
    """Mend and remove what killed runs left beside ``out``; hold the parent's lock.

    An earlier folder that was moved aside comes back when nothing has taken its place.
    """
    for folder in out.parent.glob(f"{_escaped(_prefix(out, _EARLIER))}*"):
        with suppress(OSError):
            if not os.path.lexists(out) and (folder / "report").is_dir():
                (folder / "report").rename(out)
            shutil.rmtree(folder, ignore_errors=True)
    for folder in out.parent.glob(f"{_escaped(_prefix(out, _UNFINISHED))}*"):
        with locked(folder, wait=False) as abandoned:
            if abandoned:
                shutil.rmtree(folder, ignore_errors=True)


def flush_below(folder: Path) -> None:
    """Bring all files and folders below ``folder`` to the disk.

    Waited for side by side, many come there with one writing of the file system's journal.
    """
    every = (Path(root) / name for root, _, files in os.walk(folder) for name in (*files, ""))
    with ThreadPoolExecutor(_FLUSHED_AT_ONCE) as waiting:
        list(waiting.map(_flush, every))


def _flush(path: Path) -> None:
    # Folders cannot be opened everywhere, and some file systems refuse to flush.
    with suppress(OSError):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _prefix(out: Path, what: str) -> str:
    return f".{out.name[:40]}-{what}-"


def _escaped(name: str) -> str:
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
