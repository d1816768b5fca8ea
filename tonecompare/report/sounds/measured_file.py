"""A recording read again to be heard, and only if it is still what was measured."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

import soundfile as sf

from tonecompare.errors import RecordingError
from tonecompare.language import tr_later
from tonecompare.measure.model import FileRecord
from tonecompare.takes.file_samples import FileSamples, can_be_read_in_parts
from tonecompare.takes.model import Audio
from tonecompare.takes.read import read_audio


def by_name(files: Sequence[FileRecord]) -> dict[str, FileRecord]:
    """Return what was measured of each file by its name."""
    return {record.file: record for record in files}


def read_as_measured(root: Path, file: str, measured: Mapping[str, FileRecord]) -> Audio:
    """Read a recording for its sounds; of what is still as it was measured, only what is asked for.

    Parameters
    ----------
    root, file
        The session's folder and the name that measurements give the file in it.
    measured
        The files as they were measured; one that is not among them is not held against anything.

    Raises
    ------
    RecordingError
        When it cannot be read, or holds other bytes than when it was measured: onsets in the
        table would then cut another sound.
    """
    path, record = root / file, measured.get(file)
    if record is None:
        return read_audio(path)
    audio = (_in_parts(path, record) if path.is_file() else None) or read_audio(path)
    if audio.sha256 != record.sha256:
        raise RecordingError(
            path,
            tr_later("was changed after it was measured"),
            tr_later("Run it again once nothing writes to it."),
        )
    return audio


def _in_parts(path: Path, record: FileRecord) -> Audio | None:
    """Return a file with samples that are read when they are asked for, None where it has changed.

    None too where all of it must be read to have the samples that were measured.
    """
    try:
        with path.open("rb") as whole, sf.SoundFile(os.fsencode(path)) as file:
            same = hashlib.file_digest(whole, "sha256").hexdigest() == record.sha256
            n = round(record.length_s * record.rate_hz)
            if not same or file.frames != n or not can_be_read_in_parts(file):
                return None
            samples = FileSamples.of(path, file.channels, n)
    except (sf.LibsndfileError, OSError, RuntimeError):
        return None
    return Audio(path, samples, record.rate_hz, record.subtype, record.sha256)
