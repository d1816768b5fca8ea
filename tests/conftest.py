"""Fixtures shared by all tests."""

from __future__ import annotations

from pathlib import Path

import pytest

_RECORDINGS = Path(__file__).resolve().parents[2] / "shared" / "recordings"


@pytest.fixture(scope="session")
def recordings() -> Path:
    """Folder of real takes that some developers keep beside the checkout; skips without it."""
    if not _RECORDINGS.is_dir():
        pytest.skip("no real recordings beside this checkout")
    return _RECORDINGS
