"""Help that is written down is Click's own, costs little, and steps aside for all else."""

from __future__ import annotations

import io
import statistics
import subprocess
import sys
import time

import pytest
import write_help_texts as written

from tonecompare.cli import help_at_once
from tonecompare.cli.app import main
from tonecompare.language import languages


def _run(*arguments: str, **environment: str) -> str:
    code = "from tonecompare.__main__ import start; start()"
    command = [sys.executable, "-c", code, *arguments]
    env = {"PATH": "/usr/bin:/bin", "PYTHONPATH": ":".join(sys.path), "PYTHONUTF8": "1"}
    return subprocess.run(
        command, env=env | environment, capture_output=True, text=True, check=True
    ).stdout


@pytest.mark.parametrize("code", languages())
def test_what_is_written_down_is_what_click_prints(code):
    # If this fails: python tests/helpers/write_help_texts.py
    path = written.FOLDER / help_at_once.file_name(code)
    assert path.read_text(encoding="utf-8") == written.whole(code)


@pytest.mark.parametrize(
    "arguments",
    [
        ["--language", "de", "cut", "--help"],
        ["compare", "--help", "--language", "de"],
        ["report", "--language=de", "-h"],
    ],
)
def test_help_in_german_is_written_down_too(monkeypatch, capsys, arguments):
    monkeypatch.setenv("COLUMNS", "80")
    assert help_at_once.help_at_once(arguments)
    assert capsys.readouterr().out.startswith("Aufruf: tonecompare ")


def test_a_language_that_is_not_there_is_clicks(monkeypatch):
    for code in ("xx", "../de", ""):
        assert not help_at_once.help_at_once(["--help", f"--language={code}x"])


@pytest.mark.parametrize("columns", [60, 80, 200])
def test_help_is_the_same_at_every_width(monkeypatch, capsys, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    shown = help_at_once.help_at_once(["compare", "--help"])
    assert shown == (columns in (80, 88, 200))
    assert capsys.readouterr().out == (written.clicks_own("compare", columns) if shown else "")
    assert _run("compare", "-h", COLUMNS=str(columns)) == written.clicks_own("compare", columns)


@pytest.mark.parametrize(
    "arguments", [[], ["compare"], ["nothing", "--help"], ["compare", "a", "--help"], ["--version"]]
)
def test_anything_else_is_clicks(capsys, arguments):
    assert not help_at_once.help_at_once(arguments)
    assert capsys.readouterr().out == ""


def test_terminals_that_are_not_utf8_are_clicks(monkeypatch):
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(io.BytesIO(), encoding="cp1252"))
    assert not help_at_once.help_at_once(["--help"])


def test_help_loads_neither_click_nor_anything_else_that_takes_time():
    code = (
        f"import sys; sys.path[:] = {sys.path}; sys.argv[1:] = ['compare', '--help']\n"
        "from tonecompare.__main__ import start; start()\n"
        "print(*sys.modules)"
    )
    ran = subprocess.run(
        [sys.executable, "-S", "-c", code], capture_output=True, text=True, check=True,
        env={"COLUMNS": "80", "PYTHONUTF8": "1"},
    )  # fmt: skip
    loaded = set(ran.stdout.splitlines()[-1].split())
    assert "tonecompare.cli.help_at_once" in loaded
    slow = {"click", "typing", "re", "inspect", "pathlib", "dataclasses", "importlib.metadata"}
    assert not loaded & slow


@pytest.mark.long
def test_help_takes_at_most_2_5_times_a_bare_interpreter():
    # In turn with a bare interpreter, and the median of the ratios: a busy machine is no fault.
    start = "import re; from tonecompare.__main__ import start; start()"
    calls = [["--help"], *([name, "--help"] for name in main.commands)]
    took: list[list[float]] = []
    for _ in range(9):
        took.append([])
        for code, given in (("pass", []), *((start, call) for call in calls)):
            began = time.perf_counter()
            subprocess.run([sys.executable, "-c", code, *given], capture_output=True, check=True)
            took[-1].append(time.perf_counter() - began)
    for i, call in enumerate(calls, start=1):
        assert statistics.median(each[i] / each[0] for each in took) <= 2.5, call
