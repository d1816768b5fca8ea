"""Text on a terminal: nothing steers it, no encoding stops it; the next command is quoted."""

from __future__ import annotations

import gc
import io
import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tonecompare.cli.shown.next_command import command_line, say_next
from tonecompare.cli.shown.terminal import never_refuse, say, show, written_out

PROGRAM = [sys.executable, "-m", "tonecompare"]
HOSTILE = "neck\x1b]0;owned\x07\u202e\u2066"


def _run(encoding, *arguments, cwd):
    return subprocess.run(
        [*PROGRAM, *map(str, arguments)],
        capture_output=True,
        cwd=cwd,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
        timeout=100,
        check=False,
    )


@pytest.mark.parametrize(
    "sign", ["\x00", "\x07", "\x1b", "\r", "\x9b", "\u202e", "\u2067", "\u200f"]
)
def test_what_steers_a_terminal_is_written_out(sign, capsys):
    show(f"a{sign}b")
    say(f"a{sign}b")
    out, err = capsys.readouterr()
    assert sign not in out + err
    assert f"{ord(sign):02x}" in out


def test_lines_tabs_and_letters_of_every_script_stay():
    assert written_out("Brücke\n\t鷺 Грыф – до") == "Brücke\n\t鷺 Грыф – до"
    assert written_out("neck\udcff.wav") == "neck\\xff.wav"


@pytest.mark.long
@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1", "utf-8"])
def test_every_encoding_is_written_to(encoding, pair):
    for side in ("before", "after"):
        (pair / side / "bridge.wav").unlink()
        (pair / side / "Brücke 鷺 −.wav").write_bytes(b"")
    commands = [(["explain", "decay_s"], 0), (["plan", f"Übung {encoding} 鷺"], 0)]
    commands += {
        "ascii": [(["check", ".", "--stage", "before"], 1)],
        "cp1252": [(["compare", "before", "after", "--out", "out", "--no-clips"], 1)],
    }.get(encoding, [])
    for arguments, code in commands:
        run = _run(encoding, *arguments, cwd=pair)
        assert run.returncode == code, run.stderr
        assert b"Traceback" not in run.stderr
        (run.stdout + run.stderr).decode(encoding)


@pytest.mark.long
def test_data_is_utf_8_whatever_the_terminal_has(pair):
    (pair / "before" / "neck.wav").rename(pair / "before" / "Brücke 鷺.wav")
    for shape in ("csv", "json"):
        run = _run("ascii", "measure", "before/Brücke 鷺.wav", "--format", shape, cwd=pair)
        assert run.returncode == 0, run.stderr
        assert b"Next" not in run.stderr
        text = run.stdout.decode("utf-8")
        assert "Brücke 鷺" in text
        if shape == "json":
            assert json.loads(text)["files"][0]["file"] == "before/Brücke 鷺.wav"


@pytest.mark.long
def test_escapes_and_direction_marks_in_names_never_reach_the_terminal(pair):
    for stage in ("before", "after"):
        (pair / stage / "bridge.wav").unlink()
        (pair / stage / "neck.wav").rename(pair / stage / f"{HOSTILE}.wav")
    (pair / "after" / "x\x1b[2J.m4a").touch()
    for arguments in (
        ["measure", f"before/{HOSTILE}.wav", "--progress"],
        ["compare", "before", "after", "--out", "out", "--no-clips", "--progress"],
        ["report", f"no such {HOSTILE}"],
        ["explain", HOSTILE],
        ["check", ".", "--stage", HOSTILE],
    ):
        run = _run("utf-8", *arguments, cwd=pair)
        said = (run.stdout + run.stderr).decode()
        assert run.returncode in (0, 1, 2), said
        assert not set(said) & set("\x1b\x07\u202e\u2066")


@pytest.mark.parametrize(
    "words", [("plain",), ("as delivered", "Überholt"), ("it's",), ("a;b", "$HOME", 'x"y', "*")]
)
def test_the_next_command_splits_into_its_words_again(words):
    assert shlex.split(command_line("check", *words)) == ["tonecompare", "check", *words]


def test_umlauts_need_no_quotes_and_dashes_are_no_options():
    assert command_line("report", Path("Überholt/höher")) == "tonecompare report Überholt/höher"
    assert command_line("report", Path("-x")) == "tonecompare report ./-x"


def test_a_name_no_command_line_shows_has_no_next_command(capsys):
    say_next("report", f"a{HOSTILE}")
    assert capsys.readouterr().err == ""


def test_what_takes_a_stream_s_place_does_not_close_it_when_it_goes(tmp_path, monkeypatch) -> None:
    with (tmp_path / "said").open("wb", buffering=0) as raw:
        given = io.TextIOWrapper(raw, "utf-8", write_through=True)
        monkeypatch.setattr(sys, "stdout", given)
        never_refuse()
        sys.stdout.write("kept")
        sys.stdout.flush()
        monkeypatch.undo()
        gc.collect()
        assert not given.closed
        raw.write(b" and more")
    assert (tmp_path / "said").read_text() == "kept and more"
