"""Whether something can be written at a place, asked before minutes are spent on what to write."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from tonecompare.errors import InputError
from tonecompare.language import tr

#: With less than this free, no page of sounds and charts can be written.
LEAST_FREE_BYTES = 1 << 20


def check_can_be_written(path: Path) -> None:
    """Try whether a file or folder can be made at ``path``, and leave nothing behind.

    Raises
    ------
    InputError
        When the folder it would stand in, or be made in, takes no new files or is full.
    """
    place = Path(os.path.realpath(path)).parent
    while not os.path.lexists(place):
        place = place.parent
    try:
        Path(tempfile.mkdtemp(prefix=".tonecompare-", dir=place)).rmdir()
        free = shutil.disk_usage(place).free
    except OSError as error:
        raise InputError(
            tr(
                "{folder}: cannot be written ({why}). Choose another place with --out.",
                folder=place,
                why=error.strerror,
            )
        ) from error
    if free < LEAST_FREE_BYTES:
        raise InputError(
            tr(
                "{folder}: the disk is full ({free} kB are left). Make room, or choose another "
                "place with --out.",
                folder=place,
                free=free // 1000,
            )
        )
