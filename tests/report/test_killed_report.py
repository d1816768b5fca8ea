"""A whole report killed at random moments; ``tests/helpers/killed_report.py`` kills more."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import killed_report
import pytest


@pytest.mark.long
def test_after_a_kill_a_report_stands_whole_and_the_next_run_gives_the_same_bytes() -> None:
    helper = Path(killed_report.__file__)
    ran = subprocess.run(
        [sys.executable, str(helper), "12"], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    ends = [line.strip().partition(" ") for line in ran.stdout.splitlines()]
    good = sum(int(n) for n, _, end in ends if n.isdigit() and end.strip() in killed_report.GOOD)
    assert good == 12, ran.stdout


@pytest.mark.long
def test_a_fault_of_a_killed_run_is_seen(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("TONECOMPARE_STORE", str(tmp_path))
    runs = killed_report.KilledRuns(tmp_path, "--no-clips")
    runs.earlier = {**runs.earlier, "index.html": b"spoilt"}
    assert runs.kill_at(0.0) == "no whole report"
    runs.earlier = {}
    assert runs.kill_at(0.0) not in killed_report.GOOD
