"""Recordings one after the other, and what is said of those that are kept."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from concurrent.futures import Executor, Future
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tonecompare.errors import InputError, RecordingError, message_of
from tonecompare.kept.store import Store
from tonecompare.language import in_language
from tonecompare.session.model import Recording, Session, Stage
from tonecompare.workers import in_turn
from tonecompare.workers.in_turn import LOOKED_UP_AT_ONCE, recordings_in_turn


def _name(_session: Session, recording: Recording) -> str:
    return recording.voice


def _changed(_session: Session, recording: Recording) -> str:
    raise RecordingError(recording.files[0], "was changed", "Run it again.")


def _refused(_session: Session, _recording: Recording) -> str:
    raise InputError("takes.csv cannot be used")


def _told(_session: Session, _recording: Recording, error: Exception) -> str:
    return message_of(error)


def _session(folder: Path, count: int) -> Session:
    files = [folder / f"{n:02}.wav" for n in range(count)]
    for file in files:
        file.write_bytes(file.name.encode())
    return Session(
        "kept", folder, {"now": Stage("now", "", folder)},
        tuple(Recording("now", file.stem, (file,)) for file in files),
    )  # fmt: skip


def test_a_file_that_changed_is_told_of_alone_and_tried_again(tmp_path: Path) -> None:
    """Its content may be as before: kept, it would be left out of every later report."""
    session, store = _session(tmp_path, 1), Store(tmp_path / "store")
    said = list(recordings_in_turn(session, _changed, workers=1, store=store, instead=_told))
    assert said == [f"{tmp_path / '00.wav'}: was changed. Run it again."]
    with pytest.raises(RecordingError):  # so nothing was kept
        list(recordings_in_turn(session, _changed, workers=1, store=store))
    with pytest.raises(InputError, match="cannot be used"):
        list(recordings_in_turn(session, _refused, workers=1, store=store, instead=_told))


def test_an_error_of_a_file_comes_back_from_another_process() -> None:
    error = RecordingError(Path("a.wav"), "is empty", "Record it again.")
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.file, again.remedy) == (str(error), error.file, error.remedy)


def test_what_is_kept_is_told_in_the_language(tmp_path: Path) -> None:
    count = LOOKED_UP_AT_ONCE + 1
    session = _session(tmp_path, count)
    store = Store(tmp_path / "store")
    told: list[tuple[int, int, str]] = []
    one = replace(session, recordings=session.recordings[:1])
    list(recordings_in_turn(one, _name, workers=1, store=store))
    with in_language("de"):
        again = recordings_in_turn(
            session, _name, workers=1, store=store, progress=lambda *step: told.append(step)
        )
        assert list(again) == [each.voice for each in session.recordings]
    kept = (1, count, "aus früheren Läufen erhalten")
    assert told[:3] == [(0, count, f"{count - 1} in Erhaltenem nachgeschlagen"), kept, kept]
    assert told[3:] == [(n, count, f"now, {n - 1:02}") for n in range(2, count + 1)]


class _Here(Executor):
    """Does at once what it is given, and notes that something was handed out."""

    def __init__(self, noted: list[str]) -> None:
        self._noted = noted

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        self._noted.append("handed out")
        future: Future[Any] = Future()
        future.set_result(work(*given, **named))
        return future


def test_what_is_done_meanwhile_begins_once_all_is_handed_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    noted: list[str] = []
    monkeypatch.setattr(in_turn, "processes", lambda number: nullcontext(_Here(noted)))
    session = _session(tmp_path, 4)
    made = recordings_in_turn(
        session, _name, workers=2, meanwhile=lambda: noted.append("meanwhile")
    )  # fmt: skip
    assert list(made) == [each.voice for each in session.recordings]
    assert noted == ["handed out"] * 4 + ["meanwhile"]
