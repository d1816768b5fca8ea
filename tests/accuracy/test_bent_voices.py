"""A few voices of the table of bent pickups."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from bent_voices_truth import bent_columns


def test_bent_pickups_are_within_what_is_stated(tmp_path: Path) -> None:
    found = bent_columns(range(6), tmp_path)
    resonance = found["resonance %"]
    assert len(resonance.errors) >= 0.8 * resonance.tried
    assert np.max(np.abs(resonance.errors)) < 8.0
    for name, least in (("resonance %", 0.9), ("pick mm", 0.9), ("stretch %", 0.9)):
        assert found[name].inside(1.96) >= least, name
    assert np.median(resonance.stated) < 6.0
