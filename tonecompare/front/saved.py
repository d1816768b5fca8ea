"""One file that holds a whole comparison: a zip of JSON and number tables, no code in it."""

from __future__ import annotations

import io
import json
import zipfile
import zlib
from pathlib import Path
from typing import Any
from uuid import uuid4

import numpy as np

from tonecompare import __version__
from tonecompare.errors import InputError
from tonecompare.front.plain_data import from_plain, to_plain
from tonecompare.front.results import ComparedSession
from tonecompare.language import tr

#: Number of the format; another number is another format.
FORMAT = 4
_MARK = "tonecompare comparison"
#: What reading a damaged file may raise.
_DAMAGE = (
    OSError, EOFError, ValueError, KeyError, TypeError, AttributeError, RecursionError,
    zipfile.BadZipFile, zlib.error,
)  # fmt: skip
_MANIFEST, _RESULT, _ARRAYS = "manifest.json", "result.json", "arrays.npz"


def save(result: ComparedSession, path: Path) -> Path:
    """Write a comparison to a file, whole or not at all; see :meth:`ComparedSession.save`."""
    if path.exists() and _manifest(path) is None:
        raise InputError(
            tr(
                "{path}: is no comparison saved by tonecompare, so it is left alone. Give another "
                'name, like "heron.tc".',
                path=path,
            )
        )
    arrays: dict[str, np.ndarray[Any, Any]] = {}
    plain = json.dumps(to_plain(result, arrays), ensure_ascii=True)
    numbers = io.BytesIO()
    np.savez(numbers, allow_pickle=False, **arrays)
    manifest = {"mark": _MARK, "format": FORMAT, "version": __version__}
    part = path.with_name(f".{path.name}.{uuid4().hex}")
    try:
        with zipfile.ZipFile(part, "x", zipfile.ZIP_DEFLATED) as packed:
            packed.writestr(_MANIFEST, json.dumps(manifest))
            packed.writestr(_RESULT, plain)
            packed.writestr(_ARRAYS, numbers.getvalue())
        part.replace(path)
    except OSError as error:
        raise InputError(
            tr("{path}: cannot be written: {why}.", path=path, why=error.strerror)
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return path


def load(path: Path | str) -> ComparedSession:
    """Read a comparison that ``save`` wrote.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    ComparedSession
        With the same tables, findings and charts as when it was saved.

    Raises
    ------
    InputError
        When there is no such file, it is none of ours, it is damaged, or another version of the
        format is needed; the message says which.

    Examples
    --------
    >>> import tonecompare as tc
    >>> saved = tc.compare("before", "after").save("heron.tc")
    >>> tc.load("heron.tc").voices
    ('bridge', 'neck')
    """
    path = Path(path)
    if not path.is_file():
        raise InputError(tr("{path}: there is no such file.", path=path))
    manifest = _manifest(path)
    if manifest is None:
        raise InputError(
            tr(
                "{path}: is no comparison saved by tonecompare, or it was cut short. Give a file "
                "that save() wrote.",
                path=path,
            )
        )
    if manifest.get("format") != FORMAT:
        raise InputError(
            tr(
                "{path}: was saved in format {saved} by tonecompare {version}; this one reads "
                "format {read}. Compare the recordings again, or use that version.",
                path=path,
                saved=manifest.get("format"),
                version=manifest.get("version"),
                read=FORMAT,
            )
        )
    try:
        with zipfile.ZipFile(path) as packed:
            plain = json.loads(packed.read(_RESULT))
            with np.load(io.BytesIO(packed.read(_ARRAYS)), allow_pickle=False) as held:
                arrays = {name: held[name] for name in held.files}
        result = from_plain(plain, arrays)
    except _DAMAGE as error:
        raise InputError(
            tr(
                "{path}: cannot be read, it is damaged or was changed ({error}). Compare the "
                "recordings again.",
                path=path,
                error=error,
            )
        ) from error
    if not isinstance(result, ComparedSession):
        raise InputError(tr("{path}: holds no comparison.", path=path))
    return result


def _manifest(path: Path) -> dict[str, Any] | None:
    """Return what a file of ours says of itself, None for any other file."""
    try:
        with zipfile.ZipFile(path) as packed:
            said = json.loads(packed.read(_MANIFEST))
    except _DAMAGE:
        return None
    return said if isinstance(said, dict) and said.get("mark") == _MARK else None
