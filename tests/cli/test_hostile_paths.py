"""Paths that lead nowhere, wait for ever or hold what nobody expects: a sentence, never a fault."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner
from small_takes import take, write

from tonecompare.cli import main


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "loop").symlink_to("loop")
    return tmp_path


def _run(*words):
    return CliRunner().invoke(main, [*map(str, words)])


@pytest.mark.parametrize("path", ["loop", "loop/x"])
@pytest.mark.parametrize(
    "words",
    [("measure", "PATH"), ("cut", "PATH", "--voices", "a,b"), ("plan", "PATH", "--no-ask"),
     ("report", "PATH"), ("compare", "PATH", "PATH")],
)  # fmt: skip
def test_a_link_that_leads_to_itself_is_an_error_in_words(here, words, path):
    result = _run(*(path if word == "PATH" else word for word in words))
    assert result.exit_code == 2
    assert "fault in tonecompare" not in result.stderr
    assert path in result.stderr
    assert [each.name for each in here.iterdir()] == ["loop"]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("pipe", "pipe: is a pipe or a device, not a file"),
        ("folder", "folder: is a folder, not an audio file"),
        ("empty", "empty: is empty (0 bytes)"),
        ("text", "text: is not audio: it holds text"),
        ("missing", "missing: does not exist"),
    ],
)
def test_what_cannot_be_cut_is_told_as_when_it_is_measured(here, name, said):
    os.mkfifo("pipe")
    (here / "folder").mkdir()
    (here / "empty").touch()
    (here / "text").write_text("not a sound\n", encoding="utf-8")
    result = _run("cut", name, "--voices", "a,b")
    assert result.exit_code == 2
    assert said in result.stderr


def test_a_file_is_no_folder_to_cut_into(here):
    (here / "notes.txt").touch()
    result = _run("cut", "x.wav", "--voices", "a,b", "--into", "notes.txt")
    assert (result.exit_code, result.stderr) == (2, "Error: notes.txt: is a file; give a folder.\n")


def test_no_plan_is_put_where_a_link_leads_to_nothing(here):
    (here / "lost").symlink_to("nowhere")
    result = _run("plan", "lost", "--no-ask")
    assert "lost: is a link to nothing" in result.stderr
    assert result.exit_code == 2


@pytest.mark.parametrize(
    ("name", "words"), [("session.toml", ["demo"]), ("plan-answers.json", ["plan", "--ask"])]
)
def test_a_pipe_of_a_name_of_ours_is_not_waited_for(here, name, words):
    os.mkfifo(name)
    command = [sys.executable, "-m", "tonecompare", *words, "."]
    run = subprocess.run(command, input=b"\n" * 9, capture_output=True, timeout=30, check=False)
    assert run.returncode == 2
    assert name.encode() in run.stderr


def test_no_voice_to_cut_is_told(here):
    write(here / "all.wav", np.zeros(44_100))
    result = _run("cut", "all.wav", "--voices", " , ")
    assert result.exit_code == 2
    assert "--voices names no voice" in result.stderr


def test_a_file_named_like_a_word_of_the_reason_is_named_all_the_same(here):
    (here / "empty").touch()
    (here / "a").write_bytes(b"\0" * 100)
    result = _run("measure", "empty", "a", "--workers", "1")
    assert "empty: Is empty (0 bytes)." in result.stderr
    assert "a: Is not audio in a format that can be read here" in result.stderr


def test_the_demo_does_not_become_part_of_another_session(here):
    write(here / "heron" / "before" / "neck.wav", np.zeros(10))
    result = _run("demo", "heron")
    assert result.exit_code == 2
    assert "heron: holds other things" in result.stderr
    assert [path.name for path in (here / "heron").iterdir()] == ["before"]


def _stages(folder, file, **settings):
    for number, stage in enumerate(("before", "after")):
        samples = take(notes=("A2",), repeats=1, seed=number, **settings)
        (folder / stage).mkdir(parents=True)
        rate_hz = settings.get("rate_hz", 44_100)
        sf.write(os.fsencode(folder / stage / file), samples, rate_hz, subtype="PCM_24")


def test_clips_of_names_that_are_no_utf_8(here):
    _stages(here / "s", os.fsdecode(b"\xff\xfe.wav"))
    result = _run("clips", "s", "--out", "out", "--workers", "1")
    assert result.exit_code == 0, result.stderr
    assert len(list((here / "out").glob("*.flac"))) == 3


@pytest.mark.long
def test_clips_of_a_rate_that_flac_has_not(here):
    _stages(here / "s", "neck.wav", rate_hz=768_000)
    result = _run("clips", "s", "--out", "out", "--workers", "1")
    assert result.exit_code == 0, result.stderr
    rates = {path.suffix: sf.info(path).samplerate for path in (here / "out").glob("*-before.*")}
    assert rates == {".wav": 768_000, ".flac": 384_000}


def test_no_test_by_ear_is_offered_where_no_clip_could_be_made(here):
    _stages(here / "s", "neck.wav")
    samples = take(notes=("A2",), repeats=1, rate_hz=48_000)
    sf.write(here / "s" / "after" / "neck.wav", samples, 48_000)
    result = _run("clips", "s", "--out", "out", "--workers", "1")
    assert result.exit_code == 1
    assert "the two recordings have different sample rates" in result.stderr
    assert "tonecompare blind" not in result.stderr


@pytest.mark.long
@pytest.mark.filterwarnings("error")
def test_a_line_end_in_a_name_is_drawn_as_a_space(here):
    _stages(here / "s", "a\nb.wav")
    result = _run("charts", "s", "--out", "out", "--workers", "1")
    assert result.exit_code == 0, result.stderr
