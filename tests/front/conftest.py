"""A folder with two small stages to stand in, and their comparison."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from small_takes import two_stages

import tonecompare as tc


@pytest.fixture(scope="session")
def stages(tmp_path_factory) -> Path:
    return two_stages(tmp_path_factory.mktemp("front"))


@pytest.fixture
def standing(stages, tmp_path, monkeypatch) -> Path:
    shutil.copytree(stages, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="session")
def result(stages):
    return tc.compare(stages / "before", stages / "after")
