"""One report and one browser for all tests of this folder."""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest
from chromium_driven import CHROMIUM, Tab, browser

from tonecompare.report import write_report


@pytest.fixture(scope="session")
def story_module() -> ModuleType:
    """The invented rewind of the report's own tests."""
    path = Path(__file__).resolve().parents[1] / "report" / "conftest.py"
    spec = importlib.util.spec_from_file_location("report_story", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def written(story_module: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a report whose title is longer than any line."""
    root = tmp_path_factory.mktemp("browser")
    story = story_module.build(
        root, title="A very long title of a report that has to wrap somewhere: " + "x" * 60
    )
    return write_report(story.session, story.measurements, story.comparisons, root / "report")


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tab]:
    """A tab of a headless Chromium."""
    if CHROMIUM is None:
        pytest.skip("no Chromium on the PATH")
    # As long as all browser tests may take between the others of their process.
    with browser(tmp_path_factory.mktemp("profile"), seconds=1500.0) as tab:
        yield tab
