"""What a found confound does to the table."""

from __future__ import annotations

import numpy as np
import pandas as pd
from simulated_tables import Scatter, simulated_session

from tonecompare.compare import compare_session
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.find_causes import apply_confounds
from tonecompare.compare.model import Confound


def _table() -> pd.DataFrame:
    known, measured = simulated_session(
        np.random.default_rng(9),
        Scatter(voices=("bridge", "neck")),
        effects={"level_dbfs": 5.0, "decay_s": -1.0},
    )
    return compare_session(known, measured).differences


def _confound(*, voice: str = "", found: bool = True) -> Confound:
    return Confound(
        "before to after", voice, "pick-strength", found, 1.0, "dB", 0.5, 1.5, 0.001,
        ("level_dbfs", "h03_db"), "Picked harder in the second session.",
    )  # fmt: skip


def _level(table: pd.DataFrame, voice: str) -> pd.Series:
    rows = (table["note"] == "all") & (table["quantity"] == "level_dbfs")
    return table[rows & (table["voice"] == voice)].iloc[0]


def test_only_explained_claims_are_confounded() -> None:
    before = _table()
    after = apply_confounds(before, ConfoundFindings((_confound(),)))
    assert _level(before, "bridge")["verdict"] == "likely-audible"
    assert _level(after, "bridge")["verdict"] == "confounded"
    assert _level(after, "bridge")["reason"] == "Picked harder in the second session."
    changed = before["verdict"] != after["verdict"]
    assert set(after.loc[changed, "quantity"]) == {"level_dbfs"}
    partial = (before["quantity"] == "h03_db") & (before["note"] == "all")
    assert (before.loc[partial, "verdict"] == after.loc[partial, "verdict"]).all()


def test_a_confound_of_one_voice_leaves_the_others() -> None:
    after = apply_confounds(_table(), ConfoundFindings((_confound(voice="neck"),)))
    assert _level(after, "neck")["verdict"] == "confounded"
    assert _level(after, "bridge")["verdict"] == "likely-audible"


def test_a_confound_not_found_changes_nothing() -> None:
    before = _table()
    after = apply_confounds(before, ConfoundFindings((_confound(found=False),)))
    pd.testing.assert_frame_equal(before, after)


def test_adjusted_differences_stand_beside_the_plain_ones() -> None:
    before = _table()
    adjustment = Adjustment(
        "before to after", "neck", "magnetic", "all", "level_dbfs", "dB", 4.0, 3.0, 5.0, "gain"
    )
    stray = Adjustment("elsewhere", "neck", "", "all", "level_dbfs", "dB", 1.0, 1.0, 1.0, "gain")
    after = apply_confounds(before, ConfoundFindings((), (adjustment, stray)))
    row = _level(after, "neck")
    assert (row["difference_adjusted"], row["ci_low_adjusted"], row["ci_high_adjusted"]) == (
        4.0,
        3.0,
        5.0,
    )
    assert row["adjusted_for"] == "gain"
    assert row["difference"] == _level(before, "neck")["difference"]
    assert after["difference_adjusted"].notna().sum() == 1
