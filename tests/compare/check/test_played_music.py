"""Check of takes that hold riffs and strummed chords: counted and matched, never scolded."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from check_takes import check, take, write
from played_riffs import random_riff, render_riff

from tonecompare.report.words.check_text import headline
from tonecompare.report.words.check_words.fault_told import told
from tonecompare.report.words.check_words.played_words import played_sentence
from tonecompare.session import PlanOptions, write_plan
from tonecompare.strings.instruments import humbucker


def _riffs(path: Path, riff: int, *, repeats: int = 4, seed: int = 1) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    played, _ = render_riff(
        random_riff(riff, last_beat_s=4.6), humbucker(45.0), rng, repeats=repeats
    )
    played.write(path)


@pytest.fixture(scope="module")
def riffs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A take of one riff, played four times."""
    path = tmp_path_factory.mktemp("riffs") / "bridge.wav"
    _riffs(path, 810, seed=1)
    return path


@pytest.fixture(scope="module")
def stage(riffs: Path, tmp_path_factory: pytest.TempPathFactory):
    root = tmp_path_factory.mktemp("session")
    (root / "stock").mkdir()
    shutil.copy(riffs, root / "stock")
    _riffs(root / "stock" / "middle.wav", 810, seed=2, repeats=2)
    _riffs(root / "stock" / "neck.wav", 811, seed=3)
    (answer,) = check(root).stages
    return answer


def test_a_riff_is_counted_with_pauses_and_likeness(stage) -> None:
    by_voice = {each.voice: each for each in stage.played}
    assert {voice: each.times for voice, each in by_voice.items()} == {
        "bridge": 4, "middle": 2, "neck": 4,
    }  # fmt: skip
    bridge = by_voice["bridge"]
    assert bridge.pause_s == pytest.approx(1.5, abs=0.15)
    assert bridge.likeness is not None
    assert bridge.likeness > 0.6
    assert "played 4 times, pauses of 1." in played_sentence(bridge)
    assert "2 more" in played_sentence(by_voice["middle"])
    assert headline(stage).startswith("3 files, 10 riffs: ")


def test_only_what_is_wrong_with_a_riff_is_a_fault(stage) -> None:
    found = {(fault.kind, fault.voice) for fault in stage.faults}
    assert found == {("missing repeats", "middle"), ("other music", "neck")}
    said = {fault.kind: told(fault).what for fault in stage.faults}
    assert said["missing repeats"] == "Played too seldom: riff A 2 of 4 times."
    assert said["other music"].startswith("riff B is other music than in bridge (")


@pytest.mark.long
def test_single_notes_beside_riffs_are_checked_as_ever(tmp_path: Path) -> None:
    write(tmp_path / "stock" / "neck.wav", take(detune_cents=30.0))
    _riffs(tmp_path / "stock" / "neck.2.wav", 812)
    (answer,) = check(tmp_path).stages
    assert [fault.kind for fault in answer.faults] == ["out of tune"]
    assert [each.name for each in answer.played] == ["riff"]


def test_a_planned_riff_is_asked_for_and_no_single_note(riffs: Path, tmp_path: Path) -> None:
    options = PlanOptions(layout=("bridge", "neck"), play=("riff",), instruments=("wren",))
    write_plan(tmp_path, options)
    shutil.copy(riffs, tmp_path / "wren-before")
    write(tmp_path / "wren-before" / "neck.wav", take("neck"))
    (answer,) = check(tmp_path, stage="wren-before").stages
    said = {(f.voice, f.kind): told(f).what for f in answer.faults}
    assert said["neck", "missing repeats"] == "Played too seldom: riff 0 of 4 times."
    assert ("bridge", "missing repeats") not in said
    assert "missing notes" not in {kind for _, kind in said}
