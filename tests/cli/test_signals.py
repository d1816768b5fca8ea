"""Ctrl-C and a reader that goes away, with real processes."""

from __future__ import annotations

import signal
import subprocess
import sys
import time

import pytest

from tonecompare.kept.store import VARIABLE

PROGRAM = [sys.executable, "-m", "tonecompare"]


def _started(*command: str) -> subprocess.Popen[str]:
    """Start the program, able to be stopped by Ctrl-C.

    A shell that starts tests in the background may have switched that off for all it starts.
    """
    return subprocess.Popen(
        [*PROGRAM, *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )


@pytest.mark.parametrize("at", ["Measured 1", "Comparing"])
def test_ctrl_c_leaves_nothing_partial(pair, at, tmp_path_factory, monkeypatch):
    monkeypatch.setenv(VARIABLE, str(tmp_path_factory.mktemp("store")))
    command = ["compare", "before", "after", "--out", "made/out", "--progress", "--workers", "1"]
    with _started(*command) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if line.startswith(at):
                break
        process.send_signal(signal.SIGINT)
        said, more = process.communicate(timeout=60)
    assert process.returncode == 130
    kept = "What was measured is kept: the same command goes on from there."
    assert f"Stopped. Nothing was written. {kept}" in more
    assert "Traceback" not in more
    assert said == ""
    assert sorted(path.name for path in pair.iterdir()) == ["after", "before"]


@pytest.mark.usefixtures("pair")
def test_a_reader_that_goes_away_is_no_error():
    with _started("measure", "before/neck.wav", "--csv") as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == ""
        assert process.wait(timeout=60) == 0


@pytest.mark.long
@pytest.mark.usefixtures("pair")
def test_ctrl_c_while_workers_are_waited_for_is_silent():
    command = ["check", ".", "--out", "made/out", "--no-progress", "--workers", "2"]
    with _started(*command) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith("Page:"):
                break
        time.sleep(0.05)  # past the last line of the command
        process.send_signal(signal.SIGINT)
        _, more = process.communicate(timeout=60)
    assert process.returncode in (0, 1)
    assert [line[:6] for line in more.splitlines()] == ["Note: ", "Next: "]


def test_ctrl_c_while_the_program_still_loads_ends_in_a_sentence() -> None:
    code = (
        "import tonecompare.__main__ as program\n"
        "def loads():\n    raise KeyboardInterrupt\n"
        "program._run = loads\nprogram.start()"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert (run.returncode, run.stderr) == (130, "\nStopped.\n")
