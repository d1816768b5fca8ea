"""Repeats of real plucks: no wider than what their description gives for one player.

Described median standard deviations: level 0.5–0.7 dB (casual playing up to 2.5 dB), centroid
20–110 cents, T20 3–7 %, pitch 0.3–0.6 cents. Skips without the recordings.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from real_repeats import Row, rows_of, spreads


@pytest.fixture(scope="module")
def groups(recordings: Path) -> dict[str, list[Row]]:
    return rows_of(recordings, "green") | rows_of(recordings, "electric")


@pytest.mark.parametrize(
    ("column", "per_cent", "widest"),
    [
        ("level_dbfs", False, 0.7),
        ("cents", False, 0.6),
        ("decay_s", True, 7.0),
        # 110 cents of frequency are 6.6 %.
        ("centroid_hz", True, 6.6),
        # No figure is given for the attack; ours on these sets, regression only.
        ("attack_ms", True, 4.0),
    ],
)
def test_median_spread(
    groups: dict[str, list[Row]], column: str, per_cent: bool, widest: float
) -> None:
    found = spreads(groups, column, (lambda v: 100.0 * np.log(v)) if per_cent else float)
    assert len(found) >= 8
    assert 0.0 < np.median(found) <= widest


def test_harder_plucks_are_louder_and_start_with_more_click(
    groups: dict[str, list[Row]],
) -> None:
    pairs = [
        (rows, groups[name.replace("_f_", "_mf_")])
        for name, rows in groups.items()
        if "_f_" in name
    ]
    assert len(pairs) == 4
    for column, sign in (("level_dbfs", 1.0), ("attack_ms", -1.0)):
        gains = [
            sign * (np.median([float(str(r[column])) for r in hard])
                    - np.median([float(str(r[column])) for r in soft]))
            for hard, soft in pairs
        ]  # fmt: skip
        assert np.median(gains) > 0.0, column


def test_uncertainties_are_not_wider_than_the_repeats_by_far(groups: dict[str, list[Row]]) -> None:
    for column in ("cents", "level_dbfs"):
        stated = [float(str(r[f"{column}_se"])) for rows in groups.values() for r in rows]
        assert np.median(stated) < 2.0 * np.median(spreads(groups, column, float))
