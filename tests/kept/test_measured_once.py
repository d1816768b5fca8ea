"""Nothing is measured twice, a killed run goes on where it was, and no byte shows the store."""

from __future__ import annotations

import pickle
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from small_takes import stage, take, write

from tonecompare.cli import main
from tonecompare.kept.checksums import recording_key
from tonecompare.kept.store import VARIABLE, Store
from tonecompare.measure import session as measuring
from tonecompare.session import load_session
from tonecompare.session.tunings import with_tuning
from tonecompare.workers.in_turn import only

VOICES = {"neck": {"repeats": 2}, "bridge": {"repeats": 2, "slope": 0.7}}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("made")
    stage(folder / "before", VOICES, seed=1)
    stage(folder / "after", VOICES, seed=5)
    return folder


@pytest.fixture
def pair(made, tmp_path, monkeypatch):
    folder = tmp_path / "pair"
    shutil.copytree(made, folder)
    monkeypatch.setenv(VARIABLE, str(tmp_path / "store"))
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def measured(monkeypatch):
    """Names of the recordings that were measured, one after the other."""
    names: list[str] = []
    real = measuring.measure_takes

    def noted(session, recording, *rest):
        names.append(f"{recording.stage}/{recording.voice}")
        return real(session, recording, *rest)

    monkeypatch.setattr(measuring, "measure_takes", noted)
    return names


def _report(out, *more):
    result = CliRunner().invoke(
        main, ["report", ".", "--out", str(out), "--workers", "1", "--no-progress", *more]
    )
    assert result.exit_code == 0, result.stderr
    files = {
        path.relative_to(out): path.read_bytes() for path in Path(out).rglob("*") if path.is_file()
    }
    return files, result.stdout.replace(str(out), "OUT"), result.stderr.replace(str(out), "OUT")


@pytest.mark.long
def test_a_second_report_measures_nothing_and_has_the_same_bytes(
    pair, tmp_path, measured, monkeypatch
):
    first = _report(tmp_path / "one")
    assert len(measured) == 4
    assert _report(tmp_path / "two") == first
    assert len(measured) == 4
    assert _report(tmp_path / "fresh", "--fresh") == first
    assert len(measured) == 8
    monkeypatch.setenv(VARIABLE, "/dev/null")
    assert _report(tmp_path / "without") == first
    assert len(measured) == 12


@pytest.mark.long
def test_one_changed_file_measures_only_itself(pair, tmp_path, measured):
    _report(tmp_path / "one", "--no-clips")
    measured.clear()
    write(pair / "after" / "neck.wav", take(repeats=2, seed=77))
    _report(tmp_path / "two", "--no-clips")
    assert measured == ["after/neck"]


@pytest.mark.parametrize("what", ["takes", "a4", "mains", "voice", "tuning"])
def test_a_changed_setting_measures_again_and_another_title_does_not(pair, what, tmp_path):
    session = load_session(pair)
    recording = session.recordings[0]
    key = recording_key(session, recording, what="x")
    titled = replace(session, title="other", remarks=("said",), comparisons=())
    assert recording_key(titled, recording, what="x") == key
    moved = shutil.copytree(pair, tmp_path / "moved")
    assert recording_key(load_session(moved), load_session(moved).recordings[0], what="x") == key
    if what == "takes":
        row = f"file,pluck,note\n{recording.files[0].name},1,E2\n"
        (session.stages[recording.stage].folder / "takes.csv").write_text(row)
    changed = {
        "takes": session,
        "a4": replace(session, a4_hz=442.0),
        "mains": replace(session, mains_hz=60.0),
        "tuning": with_tuning(session, "E2,A2,D3"),
        "voice": replace(
            session,
            voices={recording.voice: replace(session.voice(recording.voice), outputs=("piezo",))},
        ),
    }[what]
    assert recording_key(changed, recording, what="x") != key
    assert recording_key(session, recording, what="y") != key


def test_a_run_that_was_stopped_goes_on_where_it_was(pair, tmp_path, measured):
    session, store = load_session(pair), Store(tmp_path / "store")

    def stop(done, _total, _what):
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        measuring.measure_session(session, progress=stop, store=store)
    assert len(measured) == 3
    measuring.measure_session(session, store=store)
    assert len(measured) == 4


def test_a_run_that_goes_on_says_what_is_kept_and_counts_on(pair, tmp_path):
    session, store = load_session(pair), Store(tmp_path / "store")
    half = replace(session, recordings=session.recordings[:2])
    measuring.measure_session(half, store=store)
    told: list[tuple[int, int]] = []
    measuring.measure_session(
        session, store=store, progress=lambda done, total, _: told.append((done, total))
    )
    assert told == [(2, 4), (2, 4), (3, 4), (4, 4)]


@pytest.mark.parametrize("number", [0, 3])
def test_a_recording_sent_alone_has_the_key_and_the_numbers_it_has_in_its_session(pair, number):
    session = load_session(pair)
    recording = session.recordings[number]
    alone = only(session, recording)
    assert recording_key(alone, recording, what="x") == recording_key(session, recording, what="x")
    assert len(pickle.dumps(alone)) < len(pickle.dumps(session))


def test_a_file_that_changes_while_it_is_measured_is_not_kept(pair, tmp_path, monkeypatch):
    session, store = load_session(pair), Store(tmp_path / "store")
    real = measuring.load_takes

    def growing(told, recording):
        found = real(told, recording)
        with recording.files[0].open("ab") as file:
            file.write(bytes(100))
        return found

    monkeypatch.setattr(measuring, "load_takes", growing)
    measuring.measure_session(session, store=store)
    monkeypatch.undo()
    keys = [recording_key(session, each, what="measure_recording") for each in session.recordings]
    assert [store.get(key) for key in keys if key] == [None] * 4


def test_a_fault_of_ours_is_not_kept(pair, tmp_path, monkeypatch):
    session, store = load_session(pair), Store(tmp_path / "store")

    def broken(*_args, **_more):
        raise ZeroDivisionError

    with monkeypatch.context() as patched:
        patched.setattr(measuring, "measure_take", broken)
        assert len(measuring.measure_session(session, store=store).left_out) == 4
    found = measuring.measure_session(session, store=store)
    assert found.left_out == ()
    assert np.isfinite(found.plucks["level_dbfs"]).all()
