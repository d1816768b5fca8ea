"""What checks say of takes is tested here; equal takes are measured once for all of these tests."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _once(measured_once: None) -> None:
    """Take from the run's store what another test has measured."""
