"""A file that is there whole or not at all: a full disk or a kill leaves no half of it."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path


def write_whole(path: Path, text: str, *, replace: bool = False) -> None:
    """Write a text as UTF-8, whole or not at all.

    Parameters
    ----------
    path
        The file. Its folder must be there.
    text
        What it is to hold; line ends stay as they are, half characters become question marks.
    replace
        Whether an earlier file may go; it stays until the new one is on the disk.

    Raises
    ------
    FileExistsError
        When a file is there and ``replace`` is False.
    OSError
        When it cannot be written; ``filename`` is always ``path``.
    """
    beside = path.with_name(f".{path.name[:40]}.{os.urandom(4).hex()}")
    try:
        with beside.open("xb") as file:
            file.write(text.encode("utf-8", "replace"))
            file.flush()
            with suppress(OSError):  # some file systems refuse to flush
                os.fsync(file.fileno())
        if not replace and os.path.lexists(path):
            raise FileExistsError(17, os.strerror(17))
        beside.replace(path)
    except OSError as error:
        error.filename, error.filename2 = str(path), None
        raise
    finally:
        with suppress(OSError):
            beside.unlink()
