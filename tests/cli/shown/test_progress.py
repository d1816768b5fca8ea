"""Progress goes to stderr, on a terminal or when asked for."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

import pytest

from tonecompare.cli.shown.progress import Progress, time_left

_SHOW = """
from tonecompare.cli.shown.progress import Progress
with Progress() as shown:
    shown(1, 2, "neck.wav")
    shown.step("Comparing " + "x" * 500)
print("done")
"""


def test_quiet_when_stderr_is_no_terminal(capsys):
    with Progress() as shown:
        shown(1, 2, "neck.wav")
    assert capsys.readouterr() == ("", "")


def test_a_line_per_step_when_asked_for(capsys):
    with Progress(True) as shown:
        shown(1, 2, "neck.wav")
        shown(2, 2)
    assert capsys.readouterr() == ("", "Measured 1 of 2: neck.wav\nMeasured 2 of 2\n")


def test_one_line_rewritten_on_a_terminal():
    ours, theirs = pty.openpty()
    run = subprocess.run(
        [sys.executable, "-c", _SHOW],
        stderr=theirs,
        stdout=subprocess.PIPE,
        env={**os.environ, "COLUMNS": "60"},
        timeout=60,
        check=True,
    )
    os.close(theirs)
    shown = os.read(ours, 4096).decode()
    os.close(ours)
    assert run.stdout == b"done\n"
    assert "\n" not in shown
    steps = [step for step in shown.split("\r\x1b[K") if step]
    assert steps == ["Measured 1 of 2: neck.wav", ("Comparing " + "x" * 500)[:59]]
    assert shown.endswith("\r\x1b[K")


@pytest.mark.parametrize(
    ("taken_s", "steps", "left", "said"),
    [
        (60.0, 100, 1900, ", about 19 min left"),
        (30.0, 100, 200, ", about 60 s left"),
        (3600.0, 100, 900, ", about 9 h 0 min left"),
        (86400.0, 10, 90, ", about 9 days left"),
        (60.0, 100, 0, ""),
        (4.0, 100, 1900, ""),
        (60.0, 0, 1900, ""),
    ],
)
def test_the_time_left_is_what_the_steps_so_far_took(taken_s, steps, left, said):
    assert time_left(taken_s, steps, left) == said


def test_what_was_found_counts_for_nothing_in_the_time_left(capsys, monkeypatch):
    now_s = 0.0
    monkeypatch.setattr("tonecompare.cli.shown.progress.time.monotonic", lambda: now_s)
    with Progress(True) as shown:
        shown(0, 90, "50 looked up")
        for _ in range(2):
            shown(80, 90, "kept")
        now_s = 20.0
        shown(82, 90)
    assert capsys.readouterr().err.splitlines()[-1] == "Measured 82 of 90, about 80 s left"


def test_of_2000_steps_a_line_for_each_hundredth(capsys):
    with Progress(True) as shown:
        for done in range(1, 2001):
            shown(done, 2000)
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 101
    assert lines[1:3] == ["Measured 20 of 2000", "Measured 40 of 2000"]
    assert lines[-1] == "Measured 2000 of 2000"
