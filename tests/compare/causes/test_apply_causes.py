"""What a found confound does to the table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulated_tables import Scatter, simulated_session

from tonecompare.compare.cause_facts import GainFacts, PlaceFacts, StrengthFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.find_causes import apply_confounds
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import DifferenceRows, join_rows, text
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import Confound
from tonecompare.compare.reasons import Reason
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.reason_words import told_differences


def _rows() -> DifferenceRows:
    known, measured = simulated_session(
        np.random.default_rng(9),
        Scatter(voices=("bridge", "neck")),
        effects={"level_dbfs": 5.0, "decay_s": -1.0},
    )
    return judge_session(known, measured).rows


def _confound(*, voice: str = "", found: bool = True) -> Confound:
    return Confound(
        "before to after", voice, "pick-strength", found, 1.0, "dB", 0.5, 1.5, 0.001,
        ("level_dbfs", "h03_db"), StrengthFacts(4.0, 1.0, at_peak=False),
    )  # fmt: skip


def _place(rows: DifferenceRows, voice: str) -> int:
    at = (rows.note == "all") & (rows.column == "level_dbfs") & (rows.voice == voice)
    return int(np.flatnonzero(at)[0])


def _level(table: DifferenceRows | pd.DataFrame, voice: str) -> pd.Series:
    table = to_frame(table) if isinstance(table, DifferenceRows) else table
    rows = (table["note"] == "all") & (table["quantity"] == "level_dbfs")
    return table[rows & (table["voice"] == voice)].iloc[0]


def test_only_explained_claims_are_confounded() -> None:
    before = _rows()
    after = apply_confounds(before, ConfoundFindings((_confound(),)))
    assert _level(before, "bridge")["verdict"] == "likely-audible"
    assert _level(after, "bridge")["verdict"] == "confounded"
    assert _level(after, "bridge")["reason"] == Reason("causes", "level_dbfs", (0,))
    assert set(after.column[before.verdict != after.verdict]) == {"level_dbfs"}
    partial = (before.column == "h03_db") & (before.note == "all")
    assert (before.verdict[partial] == after.verdict[partial]).all()


def test_a_confound_of_one_voice_leaves_the_others() -> None:
    after = apply_confounds(_rows(), ConfoundFindings((_confound(voice="neck"),)))
    assert _level(after, "neck")["verdict"] == "confounded"
    assert _level(after, "bridge")["verdict"] == "likely-audible"


def test_a_confound_not_found_changes_nothing() -> None:
    before = _rows()
    after = apply_confounds(before, ConfoundFindings((_confound(found=False),)))
    pd.testing.assert_frame_equal(to_frame(before), to_frame(after))


def test_adjusted_differences_stand_beside_the_plain_ones() -> None:
    before = _rows()
    adjustment = Adjustment(_place(before, "neck"), 4.0, 3.0, 5.0, "gain")
    after = apply_confounds(before, ConfoundFindings((), (adjustment,)))
    row = _level(after, "neck")
    assert (row["difference_adjusted"], row["ci_low_adjusted"], row["ci_high_adjusted"]) == (
        4.0,
        3.0,
        5.0,
    )
    assert row["adjusted_for"] == ("gain",)
    assert row["difference"] == _level(before, "neck")["difference"]
    assert np.isfinite(after.adjusted).sum() == 1


def test_a_confound_of_one_output_leaves_the_other() -> None:
    before = _rows()
    both = join_rows([before, replace(before, output=text("piezo", len(before)))])
    gain = replace(_confound(voice="bridge"), kind="gain", output="piezo")
    after = apply_confounds(both, ConfoundFindings((gain,)))
    table = to_frame(after)
    level = table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")]
    verdicts = level[level["voice"] == "bridge"].set_index("output")["verdict"]
    assert dict(verdicts) == {"magnetic": "likely-audible", "piezo": "confounded"}


def _adjusted(row: int, kind: str, value: float, half: float) -> Adjustment:
    return Adjustment(row, value, value - half, value + half, kind)


def test_two_causes_of_a_row_are_both_named_and_both_taken_out() -> None:
    before = _rows()
    judged, place_of_row = _level(before, "neck"), _place(before, "neck")
    gain = replace(_confound(voice="neck"), kind="gain", facts=GainFacts(1.0))
    place = replace(_confound(voice="neck"), kind="pick-position", facts=PlaceFacts(None, None))
    # The order in which they were adjusted is not that in which they were found.
    adjustments = (
        _adjusted(place_of_row, "gain", judged["difference"] - 2.0, 1.5),
        _adjusted(place_of_row, "pick-position", judged["difference"] + 1.0, 2.5),
    )
    gain_elsewhere = replace(gain, comparison="elsewhere")
    after = apply_confounds(before, ConfoundFindings((gain_elsewhere, place, gain), adjustments))
    row = _level(after, "neck")
    assert row["verdict"] == "confounded"
    told = _level(told_differences(Comparisons(after, (gain_elsewhere, place, gain))), "neck")
    assert told["reason"] == f"{cause_text(place)} {cause_text(gain)}"
    assert row["adjusted_for"] == ("pick-position", "gain")
    assert row["difference_adjusted"] == pytest.approx(judged["difference"] - 1.0)
    own = judged["ci_high"] - judged["difference"]
    half = np.sqrt(1.5**2 + 2.5**2 - own**2)
    assert row["ci_high_adjusted"] - row["difference_adjusted"] == pytest.approx(half)


def test_ratios_compose_as_ratios() -> None:
    (row,) = np.flatnonzero((before := _rows()).column == "decay_s")[:1]
    # Each cause alone explains a doubling; both together take it out twice.
    doubled = replace(before, difference=np.full(len(before), np.log(2.0)))
    each = [_adjusted(int(row), kind, 0.0, 0.1) for kind in ("gain", "drift")]
    table = to_frame(apply_confounds(doubled, ConfoundFindings((), tuple(each))))
    (shown,) = table["difference_adjusted"].dropna()
    assert shown == pytest.approx(-50.0)
