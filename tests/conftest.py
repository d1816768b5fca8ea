"""Fixtures shared by all tests."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

#: Where the checkout stands; a check of a copy of the checkout says where the original stands.
_BESIDE = Path(os.environ.get("TONECOMPARE_BESIDE", Path(__file__).resolve().parents[2]))
_RECORDINGS = _BESIDE / "shared" / "recordings"


@pytest.fixture(scope="session")
def recordings() -> Path:
    """Folder of real takes that some developers keep beside the checkout; skips without it."""
    if not _RECORDINGS.is_dir():
        pytest.skip("no real recordings beside this checkout")
    return _RECORDINGS
