"""What a recording's measurements, and a whole report, depend on, as one checksum.

Files by content, the settings that reach them, and the code and libraries that measure. For
measurements the place on the disk is not among it: a session that was moved stays known.
"""

from __future__ import annotations

import hashlib
import platform
from dataclasses import replace
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import tonecompare
from tonecompare.session.model import Recording, Session
from tonecompare.session.overrides import OVERRIDES_FILE

#: Rooms whose code makes measurements; others only use them.
_ROOMS = ("measure", "takes", "session", "quantities")
_LIBRARIES = ("numpy", "scipy", "pandas", "librosa", "soundfile", "matplotlib", "Jinja2")


def recording_key(session: Session, recording: Recording, *, what: str) -> str | None:
    """Return the checksum of all that the measurements of a recording depend on.

    Parameters
    ----------
    session, recording
        What was recorded, and one voice at one stage of it.
    what
        What is made of it, where several things are.

    Returns
    -------
    str or None
        None when a file cannot be read; then nothing is known of what it holds.
    """
    stage = session.stages[recording.stage]
    files = [session.file_name(path) for path in recording.files]
    overrides = stage.folder / OVERRIDES_FILE
    try:
        contents = [_checksum(path) for path in recording.files]
        corrected = _checksum(overrides) if overrides.exists() else ""
    except OSError:
        return None
    inside = [_below(path, stage.folder) for path in recording.files]
    parts = (
        what, _code(_ROOMS), _libraries(), recording.stage, recording.voice, files, inside,
        contents, corrected, replace(stage, folder=Path(), work=(), ratings={}),
        session.instrument_of(recording.stage), session.told_voice(recording.voice),
        session.mains_hz, session.a4_hz,
    )  # fmt: skip
    return _of(parts)


def made_with() -> tuple[str, ...]:
    """Return what measures here: the checksum of the code, and versions of what it rests on."""
    return (_code(_ROOMS), *_libraries())


def report_key(session: Session, chosen: object) -> str | None:
    """Return the checksum of all that a session's report depends on, None as above.

    ``chosen`` is what else shapes it, of plain data whose ``repr`` says all.
    """
    keys = [recording_key(session, each, what="report") for each in session.recordings]
    if not keys or None in keys:
        return None
    return _of((_code(("",)), repr(session), chosen, keys))


def _of(parts: tuple[object, ...]) -> str:
    return hashlib.sha256(repr(parts).encode("utf-8", "surrogateescape")).hexdigest()


def _below(path: Path, folder: Path) -> str:
    try:
        return path.relative_to(folder).as_posix()
    except ValueError:
        return path.as_posix()


def _checksum(path: Path) -> str:
    if not path.is_file():  # a pipe or a device would be waited for
        raise FileNotFoundError(path)
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@lru_cache(maxsize=2)
def _code(rooms: tuple[str, ...]) -> str:
    """Return the package's version and the checksum of its code in some rooms, "" for all."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256(tonecompare.__version__.encode())
    found = {path for room in rooms for path in (package / room).rglob("*") if path.is_file()}
    for path in sorted({*found, *package.glob("*.py")}):
        if "__pycache__" not in path.parts:
            digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()


@lru_cache(maxsize=1)
def _libraries() -> tuple[str, ...]:
    """Return what else decides the last digits: libraries, Python and the kind of processor."""
    found = [platform.python_version(), platform.machine()]
    for name in _LIBRARIES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            continue
    return tuple(found)
