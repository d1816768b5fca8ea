"""Recordings one after the other, and what is said of those that are kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tonecompare.kept.store import Store
from tonecompare.language import in_language
from tonecompare.session.model import Recording, Session, Stage
from tonecompare.workers.in_turn import LOOKED_UP_AT_ONCE, recordings_in_turn


def _name(_session: Session, recording: Recording) -> str:
    return recording.voice


def test_what_is_kept_is_told_in_the_language(tmp_path: Path) -> None:
    count = LOOKED_UP_AT_ONCE + 1
    files = [tmp_path / f"{n:02}.wav" for n in range(count)]
    for file in files:
        file.write_bytes(file.name.encode())
    session = Session(
        "kept", tmp_path, {"now": Stage("now", "", tmp_path)},
        tuple(Recording("now", file.stem, (file,)) for file in files),
    )  # fmt: skip
    store = Store(tmp_path / "store")
    told: list[tuple[int, int, str]] = []
    one = replace(session, recordings=session.recordings[:1])
    list(recordings_in_turn(one, _name, workers=1, store=store))
    with in_language("de"):
        again = recordings_in_turn(
            session, _name, workers=1, store=store, progress=lambda *step: told.append(step)
        )
        assert list(again) == [file.stem for file in files]
    kept = (1, count, "aus früheren Läufen erhalten")
    assert told[:3] == [(0, count, f"{count - 1} in Erhaltenem nachgeschlagen"), kept, kept]
    assert told[3:] == [(n, count, f"now, {n - 1:02}") for n in range(2, count + 1)]
