"""A recording read again to be heard, and only if it is still what was measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from tonecompare.errors import RecordingError
from tonecompare.language import tr_later
from tonecompare.measure.model import FileRecord
from tonecompare.takes.model import Audio
from tonecompare.takes.read import read_audio


def checksums_of(files: Sequence[FileRecord]) -> dict[str, str]:
    """Return what each file held when it was measured, as SHA-256 by its name."""
    return {record.file: record.sha256 for record in files}


def read_as_measured(root: Path, file: str, measured: Mapping[str, str]) -> Audio:
    """Read a recording for its sounds.

    Parameters
    ----------
    root, file
        The session's folder and the name that measurements give the file in it.
    measured
        SHA-256 of the files when they were measured; one that is not among them is not held
        against anything.

    Raises
    ------
    RecordingError
        When it cannot be read, or holds other bytes than when it was measured: onsets in the
        table would then cut another sound.
    """
    audio = read_audio(root / file)
    if audio.sha256 != measured.get(file, audio.sha256):
        raise RecordingError(
            root / file,
            tr_later("was changed after it was measured"),
            tr_later("Run it again once nothing writes to it."),
        )
    return audio
