"""Progress goes to stderr, on a terminal or when asked for."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

from tonecompare.cli.shown.progress import Progress

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
