"""What a found confound does to the table."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from simulated_tables import Scatter, simulated_session

from tonecompare.compare.cause_facts import GainFacts, StrengthFacts
from tonecompare.compare.causes.cause_findings import Adjustment
from tonecompare.compare.causes.find_causes import apply_confounds
from tonecompare.compare.causes.taken_out import with_taken_out
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
    after = apply_confounds(before, (_confound(),))
    assert _level(before, "bridge")["verdict"] == "likely-audible"
    assert _level(after, "bridge")["verdict"] == "confounded"
    assert _level(after, "bridge")["reason"] == Reason("causes", "level_dbfs", (0,))
    assert set(after.column[before.verdict != after.verdict]) == {"level_dbfs"}
    partial = (before.column == "h03_db") & (before.note == "all")
    assert (before.verdict[partial] == after.verdict[partial]).all()


def test_a_confound_of_one_voice_leaves_the_others() -> None:
    after = apply_confounds(_rows(), (_confound(voice="neck"),))
    assert _level(after, "neck")["verdict"] == "confounded"
    assert _level(after, "bridge")["verdict"] == "likely-audible"


def test_a_confound_not_found_changes_nothing() -> None:
    before = _rows()
    after = apply_confounds(before, (_confound(found=False),))
    pd.testing.assert_frame_equal(to_frame(before), to_frame(after))


def test_what_is_taken_out_is_judged_anew() -> None:
    """5 dB louder of which 4.8 are the gain: what is left claims nothing, and says what left it."""
    before = _rows()
    place = _place(before, "neck")
    was = float(before.difference[place])
    after = with_taken_out(before, (Adjustment(place, was - 4.8, was - 5.4, was - 4.2, "gain"),))
    row = _level(after, "neck")
    assert _level(before, "neck")["verdict"] == "likely-audible"
    assert row["verdict"] not in ("likely-audible", "measurable", "confounded")
    assert row["adjusted_for"] == ("gain",)
    assert row["difference"] == pytest.approx(was - 4.8)
    assert (row["ci_low"], row["ci_high"]) == pytest.approx((was - 5.4, was - 4.2))
    assert row["raw_difference"] == pytest.approx(was)
    others = np.arange(len(before)) != place
    assert (after.difference[others] == before.difference[others]).all()


def test_a_true_change_survives_what_is_taken_out() -> None:
    before = _rows()
    place = _place(before, "neck")
    after = with_taken_out(before, (Adjustment(place, 3.5, 3.1, 3.9, "pick-strength"),))
    assert _level(after, "neck")["verdict"] == "likely-audible"


def test_two_causes_of_a_row_are_taken_out_one_after_the_other() -> None:
    before = _rows()
    place = _place(before, "neck")
    once = with_taken_out(before, (Adjustment(place, 2.0, 1.5, 2.5, "gain"),))
    twice = with_taken_out(once, (Adjustment(place, 0.5, -0.5, 1.5, "pick-position"),))
    row = _level(twice, "neck")
    assert row["adjusted_for"] == ("gain", "pick-position")
    assert row["difference"] == pytest.approx(0.5)


def test_a_confound_of_one_output_leaves_the_other() -> None:
    before = _rows()
    both = join_rows([before, replace(before, output=text("piezo", len(before)))])
    gain = replace(_confound(voice="bridge"), kind="gain", output="piezo")
    after = apply_confounds(both, (gain,))
    table = to_frame(after)
    level = table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")]
    verdicts = level[level["voice"] == "bridge"].set_index("output")["verdict"]
    assert dict(verdicts) == {"magnetic": "likely-audible", "piezo": "confounded"}


def test_every_cause_that_may_explain_a_row_is_named() -> None:
    before = _rows()
    gain = replace(_confound(voice="neck"), kind="gain", facts=GainFacts(1, sure=False))
    gain = replace(gain, estimate=1.0, ci_low=0.5, ci_high=1.5)
    strength = _confound(voice="neck")
    elsewhere = replace(gain, comparison="elsewhere")
    causes = (elsewhere, strength, gain)
    after = apply_confounds(before, causes)
    assert _level(after, "neck")["verdict"] == "confounded"
    told = _level(told_differences(Comparisons(after, causes)), "neck")
    assert told["reason"] == f"{cause_text(strength)} {cause_text(gain)}"


@pytest.mark.parametrize("factor", [0.5, 3.0])
def test_the_test_knows_what_the_interval_knows(factor: float) -> None:
    """Wider by v: so is the test's variance; narrower by a factor: so is the test's error."""
    before = _rows()
    place = _place(before, "neck")
    low, high = before.ends[0][place], before.ends[1][place]
    value, half = float(before.difference[place]), factor * float(high - low) / 2.0
    after = with_taken_out(before, (Adjustment(place, value, value - half, value + half, "gain"),))
    was, test = float(before.se[place]), float(before.test_se[place])
    assert after.se[place] == pytest.approx(factor * was)
    grown = np.sqrt(test**2 + (factor**2 - 1.0) * was**2) if factor > 1.0 else factor * test
    assert after.test_se[place] == pytest.approx(grown)
    assert (after.p_value[place] > before.p_value[place]) == (factor > 1.0)
