"""A store of results on the disk: SQLite, so that several runs may share it and none can spoil it.

A result is there whole or not at all, whenever a run is killed. Nothing here may stop a
measurement: a store that cannot be read or written, or holds what is no result, is as good as none.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import sqlite3
import sys
import time
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

#: Moves the store.
VARIABLE = "TONECOMPARE_STORE"
#: Changes how much it holds, in gigabytes.
SIZE_VARIABLE = "TONECOMPARE_STORE_GB"
MOST_BYTES = 2_000_000_000
_FILE = "measurements.sqlite"
#: Not SQLite's, broken, or with other tables than ours: of no use any more.
_SPOILED = (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_ERROR)
#: How long another run is waited for that writes to the same store.
_WAIT_S = 10.0
#: Stores that another run held for longer: this process waits for them no more.
_HELD: set[Path] = set()


@dataclass(frozen=True)
class Store:
    """Results by key in ``folder``; with ``fresh`` none is taken out, but all are put in.

    The least recently used go when all take more than ``most_bytes``: by when they were put in,
    and from half of that on by when they were last taken out.
    """

    folder: Path
    fresh: bool = False
    most_bytes: int = MOST_BYTES

    def holds_any(self) -> bool:
        """Whether anything was ever put in here, as far as can be seen."""
        return os.path.exists(self.folder / _FILE)  # noqa: PTH110 - Path's raises where forbidden

    def goes_on(self) -> bool:
        """Whether a next run finds what was measured: it holds something and takes more."""
        if self.holds_any():
            with suppress(Exception), self._opened() as store:
                written = store.execute("UPDATE kept SET used = used WHERE rowid IN"
                                        " (SELECT rowid FROM kept LIMIT 1)")  # fmt: skip
                return written.rowcount > 0
        return False

    def get(self, key: str) -> Any:
        """Return the result of a key, None when there is none that can be used."""
        if self.fresh or not self.holds_any():
            return None
        # Whatever is there instead of a result, it is none.
        with suppress(Exception), self._opened() as store:
            row = store.execute("SELECT sum, value FROM kept WHERE key = ?", (key,)).fetchone()
            if row is None or _sum(key, row[1]) != row[0]:
                return None
            # Writing it down takes longer than reading; far from full nothing is about to go.
            if self._share_filled(store) > 0.5:
                store.execute("UPDATE kept SET used = ? WHERE key = ?", (time.time(), key))
            return pickle.loads(zlib.decompress(row[1]))  # our own, as its checksum says
        return None

    def put(self, key: str, result: Any) -> None:
        """Keep a result, unless it would push out most others."""
        value = zlib.compress(pickle.dumps(result, pickle.HIGHEST_PROTOCOL), 1)
        if len(value) > self.most_bytes / 2:
            return
        with suppress(Exception):
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            with self._opened() as store:
                row = (key, time.time(), _sum(key, value), value)
                store.execute("INSERT OR REPLACE INTO kept VALUES (?, ?, ?, ?)", row)
                self._trim(store)

    def _share_filled(self, store: sqlite3.Connection) -> float:
        """Return how full it is; the sum over all results would take longer the more there are."""
        names = ("page_count", "freelist_count", "page_size")
        pages, free, size = (store.execute(f"PRAGMA {name}").fetchone()[0] for name in names)
        return float((pages - free) * size) / self.most_bytes

    def _trim(self, store: sqlite3.Connection) -> None:
        while (
            self._share_filled(store) > 1.0
            and store.execute("SELECT 1 FROM kept LIMIT 1").fetchone()
        ):
            store.execute(
                "DELETE FROM kept WHERE rowid = (SELECT rowid FROM kept ORDER BY used LIMIT 1)"
            )

    @contextmanager
    def _opened(self) -> Iterator[sqlite3.Connection]:
        path = self.folder / _FILE
        try:
            wait_s = 0.0 if self.folder in _HELD else _WAIT_S
            with closing(sqlite3.connect(path, timeout=wait_s)) as store, store:
                if not store.execute("SELECT 1 FROM sqlite_master WHERE name = 'kept'").fetchone():
                    store.execute("PRAGMA auto_vacuum = FULL")
                    store.execute(
                        "CREATE TABLE IF NOT EXISTS kept"
                        " (key TEXT PRIMARY KEY, used REAL, sum TEXT, value BLOB)"
                    )
                yield store
        except (sqlite3.Error, UnicodeDecodeError) as error:  # the latter where names rotted
            code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
            if code == sqlite3.SQLITE_BUSY:
                _HELD.add(self.folder)
            # One that is full or not to be written keeps what it holds.
            elif code in _SPOILED:
                path.unlink(missing_ok=True)
            raise


def _sum(key: str, value: bytes) -> str:
    """Return the checksum of a result and its key: a page that rotted may lead to another's."""
    return hashlib.sha256(key.encode() + value).hexdigest()


def user_store(*, fresh: bool = False) -> Store:
    """Return the user's store: where :data:`VARIABLE` says, else in the system's cache folder.

    It holds what :data:`SIZE_VARIABLE` says, :data:`MOST_BYTES` where that is no number above 0.
    """
    told = os.environ.get(VARIABLE)
    try:
        folder = Path(told).expanduser() if told else _cache_folder() / "tonecompare"
    except RuntimeError:  # nobody's home is known
        folder = Path(os.devnull)
    return Store(folder, fresh=fresh, most_bytes=_most_bytes())


def _most_bytes() -> int:
    try:
        gigabytes = float(os.environ.get(SIZE_VARIABLE, ""))
    except ValueError:
        return MOST_BYTES
    return max(1, round(1e9 * gigabytes)) if 0.0 < gigabytes < 1e6 else MOST_BYTES


def _cache_folder() -> Path:
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    variable = "LOCALAPPDATA" if sys.platform == "win32" else "XDG_CACHE_HOME"
    told = Path(os.environ.get(variable, ""))
    # By the XDG base directory specification a relative one is to be ignored.
    return told if told.is_absolute() else Path.home() / ".cache"
