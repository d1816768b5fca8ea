"""Fixtures shared by all tests."""

from __future__ import annotations

import gc
import getpass
import os
import sys
import tempfile
from pathlib import Path

# Two workers share two cores: linear algebra on several threads each halves the speed of both. It
# must be said before NumPy is loaded.
for _threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# No test takes its numbers from a store of what was measured before, unless it makes one or asks
# for the run's own: ``measured_once``.
os.environ["TONECOMPARE_STORE"] = os.devnull

# Rewriting the assertions of all tests takes seconds and every worker does it: what is rewritten is
# kept beside the tests, where Git ignores it, whatever else the environment says of bytecode.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Looking for cycles among all that 4,000 tests and their libraries hold takes a tenth of the time;
# references go without it.
gc.set_threshold(100_000, 10, 10)

# What hypothesis keeps names files of this machine by their whole path, so not in the checkout.
os.environ.setdefault(
    "HYPOTHESIS_STORAGE_DIRECTORY",
    str(Path(tempfile.gettempdir()) / f"tonecompare-hypothesis-{getpass.getuser()}"),
)

import pytest  # noqa: E402

#: Where the checkout stands; a check of a copy of the checkout says where the original stands.
_BESIDE = Path(os.environ.get("TONECOMPARE_BESIDE", Path(__file__).resolve().parents[2]))
_RECORDINGS = _BESIDE / "shared" / "recordings"


@pytest.fixture(scope="session")
def recordings() -> Path:
    """Folder of real takes that some developers keep beside the checkout; skips without it."""
    if not _RECORDINGS.is_dir():
        pytest.skip("no real recordings beside this checkout")
    return _RECORDINGS


@pytest.fixture(scope="session")
def _store_of_the_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.getbasetemp()  # each worker's own stands in that of the run
    return (folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder) / "measured-once"


@pytest.fixture
def measured_once(_store_of_the_run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Take from a store what another test of this run has measured, and keep there what is new.

    For tests of what is done with measurements: equal takes are then measured once for all tests
    and workers. The store begins empty with every run; its keys hold all that measuring depends on.
    """
    monkeypatch.setenv("TONECOMPARE_STORE", str(_store_of_the_run))


@pytest.fixture
def measured_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take nothing from any store, where the tests of a folder do otherwise."""
    monkeypatch.setenv("TONECOMPARE_STORE", os.devnull)


@pytest.fixture
def no_charts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the voices' charts out of a page where a test is about what stands beside them."""
    for name in ("voice_pictures", "response_pictures"):
        where = f"tonecompare.report.page.build_view.{name}"
        monkeypatch.setattr(where, lambda *_args, **_options: ())


#: Folders whose tests count rates or drive a browser: CI runs them, the daily run does not.
_COUNTED = {Path(__file__).parent / name for name in ("accuracy", "browser", "calibration")}


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Keep a daily run from loading tests that it would leave out."""
    return (collection_path in _COUNTED and "not long" in config.option.markexpr) or None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep what counts rates and what drives a browser out of the daily run; CI runs it."""
    for item in items:
        if _COUNTED & set(item.path.parents):
            item.add_marker(pytest.mark.long)
