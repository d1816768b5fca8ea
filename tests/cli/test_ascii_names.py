"""A locale without letters beyond ASCII: files with umlauts are found, told and written.

``LC_ALL=C`` alone would do in UTF-8; the two variables of Python forbid that.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from small_takes import take, write

_ASCII = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


def _run(folder: Path, *words: str) -> subprocess.CompletedProcess[bytes]:
    told = {name: value for name, value in os.environ.items() if name != "PYTHONIOENCODING"}
    command = [sys.executable, "-m", "tonecompare", *words]
    return subprocess.run(command, capture_output=True, cwd=folder, env=told | _ASCII, timeout=120)


def test_a_plan_is_written_under_its_name_and_told_in_ascii(tmp_path):
    run = _run(tmp_path, "plan", "Grünfink", "--no-ask", "--instrument", "möwe")
    assert run.returncode == 0, run.stderr
    assert 'instrument = "möwe"' in (tmp_path / "Grünfink" / "session.toml").read_text("utf-8")
    assert b"tonecompare check Gruenfink" in run.stderr
    assert (run.stdout + run.stderr).isascii()


@pytest.mark.long
def test_a_session_with_umlauts_is_reported_with_them(tmp_path):
    for number, stage in enumerate(("vorher", "nachher")):
        samples = take(notes=("A2",), repeats=1, seed=number)
        write(tmp_path / "Möwe" / stage / "brücke.wav", samples)
    (tmp_path / "Möwe" / "session.toml").write_text(
        'title = "Möwe"\nlanguage = "de"\n[voices.steg]\nfiles = ["brücke.wav"]\n', "utf-8"
    )
    run = _run(tmp_path, "report", "Möwe", "--workers", "2")
    assert run.returncode == 0, run.stderr
    summary = json.loads((tmp_path / "reports" / "Möwe" / "summary.json").read_text("utf-8"))
    assert {record["file"] for record in summary["inputs"]} == {
        "vorher/brücke.wav", "nachher/brücke.wav",
    }  # fmt: skip
    assert (run.stdout + run.stderr).isascii()
    for command in ("check", "blind", "charts", "clips"):
        run = _run(tmp_path, command, "Möwe")
        assert run.returncode in (0, 1), run.stderr
        assert b"Error" not in run.stderr
