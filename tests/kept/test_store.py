"""The store of results: whole or not at all, shared, bounded, never in the way."""

from __future__ import annotations

import multiprocessing
import os
import random
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest

from tonecompare.kept import store as store_module
from tonecompare.kept.store import MOST_BYTES, SIZE_VARIABLE, VARIABLE, Store, user_store


def test_what_was_put_in_comes_out_and_nothing_else(tmp_path: Path) -> None:
    store = Store(tmp_path / "a" / "b")
    assert store.get("one") is None
    store.put("one", {"x": (1.5, None)})
    assert store.get("one") == {"x": (1.5, None)}
    assert store.get("two") is None
    assert Store(store.folder, fresh=True).get("one") is None


def test_the_least_recently_used_go_when_it_is_full(tmp_path: Path) -> None:
    store = Store(tmp_path, most_bytes=250_000)
    for name in "abc":
        store.put(name, os.urandom(60_000))
    assert store.get("a") is not None
    store.put("d", os.urandom(100_000))
    assert [name for name in "abcd" if store.get(name) is not None] == ["a", "c", "d"]
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) < 300_000


@pytest.mark.parametrize("content", [b"", b"x" * 5000, b"SQLite format 3\0" + b"\xff" * 8000])
def test_a_broken_file_is_as_good_as_none_and_replaced(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "measurements.sqlite").write_bytes(content)
    store = Store(tmp_path)
    assert store.get("a") is None
    store.put("a", 1)
    store.put("a", 1)
    assert store.get("a") == 1


def test_a_result_that_rotted_is_measured_again(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put("a", os.urandom(50_000))
    path = tmp_path / "measurements.sqlite"
    data = bytearray(path.read_bytes())
    data[len(data) - 10_000] ^= 1  # within the pages of the result
    path.write_bytes(data)
    assert store.get("a") is None


def _spoil(folder: Path, *statements: str) -> None:
    with closing(sqlite3.connect(folder / "measurements.sqlite")) as opened, opened:
        for each in statements:
            opened.execute(each)


def test_a_result_that_lies_under_the_key_of_another_is_none(tmp_path: Path) -> None:
    """A page of the index that rotted leads there: figures of another recording, whole."""
    store = Store(tmp_path)
    store.put("a", "of a")
    store.put("b", "of b")
    _spoil(tmp_path, *(f"UPDATE kept SET key = '{new}' WHERE key = '{old}'"
                       for old, new in ("ac", "ba", "cb")))  # fmt: skip
    assert store.get("a") is None
    assert store.get("b") is None


@pytest.mark.parametrize("value", ["NULL", "5", "'text'", "x'00'"])
def test_what_is_no_result_is_as_good_as_none(tmp_path: Path, value: str) -> None:
    store = Store(tmp_path)
    store.put("a", 1)
    _spoil(tmp_path, f"UPDATE kept SET value = {value}")
    assert store.get("a") is None
    store.put("a", 2)
    assert store.get("a") == 2


@pytest.mark.parametrize("names", [b"tablekept", b"CREATE"])
def test_names_that_rotted_stop_nothing(tmp_path: Path, names: bytes) -> None:
    """SQLite repeats them in its errors, and Python cannot read those."""
    store, path = Store(tmp_path), tmp_path / "measurements.sqlite"
    store.put("a", 1)
    path.write_bytes(path.read_bytes().replace(names, names[:-1] + b"\xbf"))
    assert store.get("a") is None
    for value in (2, 3):
        store.put("a", value)
    assert store.get("a") == 3


@pytest.mark.long
def test_bytes_that_rot_anywhere_give_the_result_or_none(tmp_path: Path) -> None:
    store, path = Store(tmp_path), tmp_path / "measurements.sqlite"
    results = {str(n): os.urandom(10 ** (n % 5)) for n in range(12)}
    for key, value in results.items():
        store.put(key, value)
    whole = path.read_bytes()
    for seed in range(80):
        chance, rotted = random.Random(seed), bytearray(whole)
        for _ in range(chance.choice([1, 5, 500])):
            place = chance.randrange(100, chance.choice([12_000, len(whole)]))
            rotted[place] = chance.choice([0, 255, chance.randrange(256)])
        path.write_bytes(rotted)
        assert all(store.get(key) in (None, value) for key, value in results.items()), seed
        for _ in range(2):
            store.put("new", seed)
        assert store.get("new") == seed


def test_a_store_with_other_tables_than_ours_is_replaced(tmp_path: Path) -> None:
    _spoil(tmp_path, "CREATE TABLE kept (key TEXT, other REAL)")
    store = Store(tmp_path)
    store.put("a", 1)
    store.put("a", 2)
    assert store.get("a") == 2


def test_a_result_that_would_push_out_most_others_is_not_kept(tmp_path: Path) -> None:
    store = Store(tmp_path, most_bytes=250_000)
    store.put("a", 1)
    store.put("b", os.urandom(300_000))
    assert store.get("a") == 1
    assert store.get("b") is None


def test_a_store_that_another_run_holds_is_waited_for_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store_module, "_WAIT_S", 0.3)
    store = Store(tmp_path)
    store.put("a", 1)
    with closing(sqlite3.connect(tmp_path / "measurements.sqlite")) as other:
        other.execute("BEGIN EXCLUSIVE")
        begun_s = time.monotonic()
        assert [store.get("a") for _ in range(5)] == [None] * 5
        assert time.monotonic() - begun_s < 0.9
    assert store.get("a") == 1


def test_that_a_run_goes_on_is_said_only_where_something_can_be_kept(tmp_path: Path) -> None:
    store = Store(tmp_path)
    assert not store.goes_on()
    store.put("a", 1)
    assert store.goes_on()
    with closing(sqlite3.connect(tmp_path / "measurements.sqlite")) as other:
        other.execute("DELETE FROM kept")
        other.commit()
    assert not store.goes_on()
    (tmp_path / "measurements.sqlite").unlink()
    (tmp_path / "measurements.sqlite").mkdir()
    assert not store.goes_on()


@pytest.mark.parametrize("folder", ["/dev/null", "/proc/nowhere", "n" * 300])
def test_a_place_that_cannot_be_written_keeps_nothing_and_stops_nothing(folder: str) -> None:
    store = Store(Path(folder))
    store.put("a", 1)
    assert store.get("a") is None


def _put_many(folder: Path, first: int) -> None:
    for number in range(first, first + 25):
        Store(folder).put(str(number), os.urandom(2000))


def test_several_runs_at_once_lose_nothing(tmp_path: Path) -> None:
    spawn = multiprocessing.get_context("fork")
    runs = [spawn.Process(target=_put_many, args=(tmp_path, 25 * n)) for n in range(4)]
    for run in runs:
        run.start()
    for run in runs:
        run.join()
    assert [run.exitcode for run in runs] == [0] * 4
    assert all(Store(tmp_path).get(str(number)) is not None for number in range(100))


def test_the_users_store_is_where_the_variable_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "moved"))
    assert user_store(fresh=True) == Store(tmp_path / "moved", fresh=True)
    monkeypatch.delenv(VARIABLE)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr("sys.platform", "linux")
    assert user_store().folder == tmp_path / "tonecompare"
    monkeypatch.setattr("sys.platform", "darwin")
    monkeypatch.setenv("HOME", str(tmp_path))
    assert user_store().folder == tmp_path / "Library" / "Caches" / "tonecompare"


@pytest.mark.parametrize(
    ("variable", "said", "folder"),
    [
        (VARIABLE, "~/kept", "HOME/kept"),
        (VARIABLE, "~nobody-of-this-name/kept", os.devnull),
        ("XDG_CACHE_HOME", "relative", "HOME/.cache/tonecompare"),
    ],
)
def test_places_that_are_no_paths_yet(
    variable: str, said: str, folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.platform", "linux")
    for name in (VARIABLE, "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv(variable, said)
    assert user_store().folder == Path(folder.replace("HOME", str(tmp_path)))


def test_who_has_no_home_keeps_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown() -> Path:
        raise RuntimeError("Could not determine home directory.")

    for name in (VARIABLE, "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(Path, "home", staticmethod(unknown))
    assert user_store().folder == Path(os.devnull)


def test_taking_out_of_a_store_far_from_full_writes_nothing(tmp_path: Path) -> None:
    store = Store(tmp_path)
    store.put("a", 1)
    before = (tmp_path / "measurements.sqlite").read_bytes()
    assert store.get("a") == 1
    assert (tmp_path / "measurements.sqlite").read_bytes() == before


@pytest.mark.parametrize(
    ("said", "most_bytes"),
    [("20", 20_000_000_000), ("0.5", 500_000_000), ("much", MOST_BYTES), ("nan", MOST_BYTES),
     ("-1", MOST_BYTES), ("", MOST_BYTES), ("1e-10", 1)],  # by 0 nothing can be divided
)  # fmt: skip
def test_the_users_store_holds_what_its_variable_says(
    said: str, most_bytes: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(SIZE_VARIABLE, said)
    assert user_store().most_bytes == most_bytes
