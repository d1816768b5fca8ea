"""Riffs that happen to be played alike to a hair claim nothing by that alone."""

from __future__ import annotations

import numpy as np
import pytest
from compare_frames import measurements, plucks, session

from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.difference.stage_differences import STEADIEST
from tonecompare.quantities.compared import spread_of
from tonecompare.session.model import ComparisonSpec


def _level(note: str, change_db: float, scatter_db: float) -> tuple[float, str]:
    alike = scatter_db * np.array([-1.0, 0.3, 1.0, -0.3])
    stages = [
        plucks(stage, {"level_dbfs": {note: list(-20.0 + shift + alike)}})
        for stage, shift in (("before", 0.0), ("after", change_db))
    ]
    of = session("before", "after", comparisons=[ComparisonSpec("before", "after")])
    rows = to_frame(judge_session(of, measurements(*stages)).rows)
    row = rows[(rows["note"] == "all") & (rows["quantity"] == "level_dbfs")].iloc[0]
    return float(row["ci_high"] - row["ci_low"]), str(row["verdict"])


def test_repeats_alike_to_a_hair_are_taken_to_scatter_a_little() -> None:
    width_db, verdict = _level("riff", 0.2, 0.002)
    # Twice Student's t of 6 degrees of freedom times the standard error of 4 and 4.
    least_db = 2.0 * 2.4469 * STEADIEST * spread_of("level_dbfs") * np.sqrt(0.5)
    assert width_db == pytest.approx(least_db, rel=1e-3)
    assert verdict == "no-change"


def test_riffs_that_scatter_more_are_judged_by_their_own_scatter() -> None:
    width_db, verdict = _level("riff", 2.0, 0.5)
    own = 0.5 * np.sqrt(2.0 * (1.0 + 0.3**2) / 3.0)
    assert width_db == pytest.approx(2.0 * 2.4469 * own * np.sqrt(0.5), rel=1e-3)
    assert verdict in ("measurable", "likely-audible")
