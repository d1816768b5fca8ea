"""A few voices of the table of bent pickups."""

from __future__ import annotations

from pathlib import Path

from bent_voices_truth import bent_columns


def test_bent_pickups_are_within_what_is_stated(tmp_path: Path) -> None:
    found = bent_columns(range(6), tmp_path)
    for name in ("pick mm", "stretch %"):
        assert found[name].inside(1.96) >= 0.9, name
