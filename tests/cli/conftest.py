"""Stages of small synthetic recordings, and a way to run the program on them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from small_takes import two_stages

from tonecompare.cli import main


@pytest.fixture(autouse=True)
def _once(measured_once) -> None:
    """Measure equal takes once a run: what is done with what was measured is tested here."""


@pytest.fixture(scope="session")
def _made(tmp_path_factory) -> Path:
    return two_stages(tmp_path_factory.mktemp("made"))


@pytest.fixture
def pair(_made, tmp_path, monkeypatch) -> Path:
    """Return a folder with ``before`` and ``after`` of two good voices, and stand in it."""
    shutil.copytree(_made, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def compared(_made, tmp_path_factory):
    """Return the folder of ``before`` and ``after`` with the report ``out``, and what was said."""
    folder = tmp_path_factory.mktemp("compared")
    shutil.copytree(_made, folder, dirs_exist_ok=True)
    names = [str(folder / name) for name in ("before", "after")]
    arguments = ["compare", *names, "--out", str(folder / "out"), "--no-clips", "--progress"]
    return folder, CliRunner().invoke(main, [*arguments, "--workers", "1"])


@pytest.fixture
def run_plain():
    """Return a function that runs the program in this process, with answers for its questions."""

    def call(*arguments, answers=None):
        typed = None if answers is None else "".join(f"{answer}\n" for answer in answers)
        return CliRunner().invoke(main, [*map(str, arguments)], input=typed)

    return call


@pytest.fixture
def run(run_plain):
    """Return the same for commands that measure, with one worker unless told otherwise."""

    def call(*arguments, workers=1):
        return run_plain(*arguments, "--workers", workers)

    return call
