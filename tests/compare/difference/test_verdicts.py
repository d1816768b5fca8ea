"""Rules of the verdicts that whole tables hardly reach, and their words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, session

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import (
    DifferenceRows,
    join_rows,
    make_rows,
    text,
)
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.compare.difference.verdicts import judge
from tonecompare.quantities.compared import quantity_of
from tonecompare.report.words.numbers import interval
from tonecompare.report.words.reason_words import reason_text, told_differences
from tonecompare.session.model import ComparisonSpec

SIX = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0]) / np.sqrt(6.0 / 5.0)


def _block(column: str, before: float, difference: float, *, se: float) -> DifferenceRows:
    return make_rows(
        "a to b",
        "bridge",
        "magnetic",
        text("all", 1),
        [quantity_of(column)],
        means=(np.array([before]), np.array([before + difference])),
        counts=(np.array([30.0]), np.array([30.0]), np.array([6.0])),
        estimate=Estimate(np.array([difference]), np.array([se]), np.array([5.0])),
        repeat_variance=np.array([se**2]),
        unjudged=text("", 1),
    )


def _judge(block: DifferenceRows, *, p_adjusted: float) -> DifferenceRows:
    return judge(block, np.array([p_adjusted]), np.array([0.1]))


@pytest.mark.parametrize(
    ("column", "table"), [("hum_08_dbfs", "quiet.csv"), ("h24_db", "measurements.csv")]
)
def test_what_was_not_measured_points_to_the_table_that_says_why(column: str, table: str) -> None:
    judged = _judge(_block(column, -90.0, np.nan, se=np.nan), p_adjusted=np.nan)
    assert f"the flags of {table} say why" in reason_text(judged.reason[0])


def test_plucks_that_nobody_plays_are_no_number_of_plucks() -> None:
    # A scatter 40 times what is asked for needs some 1600 times the plucks.
    few = _judge(_block("level_dbfs", -20.0, 0.3, se=0.5), p_adjusted=0.6)
    many = _judge(_block("level_dbfs", -20.0, 0.3, se=20.0), p_adjusted=0.99)
    assert 1.0 <= few.more_plucks[0] <= 50.0
    assert np.isnan(many.more_plucks[0])


def test_no_claim_while_the_interval_people_read_holds_zero() -> None:
    # The moderated test may be sharper than the interval; both must agree before anything is said.
    block = replace(_block("level_dbfs", -20.0, 2.0, se=1.0), test_se=np.array([0.1]))
    assert _judge(block, p_adjusted=0.001).verdict[0] == "undecided"
    sharper = _block("level_dbfs", -20.0, 2.0, se=0.5)
    assert _judge(sharper, p_adjusted=0.001).verdict[0] == "measurable"
    assert _judge(sharper, p_adjusted=0.06).verdict[0] == "undecided"


@pytest.mark.parametrize(
    ("column", "before", "verdict"),
    [
        ("shape_1000_db", -10.0, "likely-audible"),
        # Far below the whole sound: next to nothing.
        ("shape_1000_db", -60.0, "measurable"),
        # Single partials: no threshold is known but from memory.
        ("h05_db", -10.0, "measurable"),
        ("h12_db", -10.0, "measurable"),
    ],
)
def test_weak_bands_and_single_partials_are_not_called_likely_audible(
    column: str, before: float, verdict: str
) -> None:
    row = _judge(_block(column, before, 8.0, se=0.2), p_adjusted=0.001)
    assert row.verdict[0] == verdict


def test_decay_is_likely_audible_from_its_tolerance_on() -> None:
    def decay(ratio: float) -> str:
        block = _block("decay_s", np.log(5.0), float(np.log(ratio)), se=0.01)
        return str(_judge(block, p_adjusted=0.001).verdict[0])

    assert decay(0.70) == decay(1.50) == "likely-audible"
    # Within 0.75 to 1.40, or with the interval across its edge.
    assert decay(0.80) == decay(1.30) == decay(0.745) == "measurable"


def test_a_quantity_without_threshold_is_measurable_at_most_and_never_unchanged() -> None:
    shown = _judge(_block("tilt_db_per_octave", -6.0, 3.0, se=0.1), p_adjusted=0.001)
    assert shown.verdict[0] == "measurable"
    assert "is not known" in reason_text(shown.reason[0])
    still = _judge(_block("tilt_db_per_octave", -6.0, 0.0, se=0.001), p_adjusted=1.0)
    # Nothing to be undecided about: no verdict, and the reason says what the takes allow.
    assert still.verdict[0] == ""
    assert reason_text(still.reason[0]) == (
        "No difference is shown; the takes allow −0.003 to +0.003 dB/octave. How small a "
        "difference of this kind is heard is not known."
    )
    unmeasured = _judge(_block("tilt_db_per_octave", -6.0, np.nan, se=np.nan), p_adjusted=np.nan)
    assert unmeasured.verdict[0] == ""


@pytest.mark.parametrize(
    ("noise_dbfs", "verdict"), [(-75.0, "likely-audible"), (-95.0, "measurable")]
)
def test_hum_far_under_the_notes_is_measurable_and_no_more(noise_dbfs: float, verdict: str) -> None:
    # Notes at -20 dBFS: the noise lies 55 or 75 dB (A-weighted, louder side) under them.
    block = join_rows(
        [
            _block("level_dbfs", -20.0, 0.0, se=0.1),
            _block("noise_a_dbfs", noise_dbfs, -3.0, se=0.1),
            _block("hum_dbfs", -60.0, -6.0, se=0.1),
        ]
    )
    judged = judge(block, np.array([1.0, 0.001, 0.001]), np.full(3, 0.1))
    assert judged.verdict[2] == verdict
    said = reason_text(judged.reason[2])
    assert ("75 dB (A-weighted) under the notes" in said) == (verdict == "measurable")
    assert ("in the pauses, if heard at your volume" in said) == (verdict == "likely-audible")


def test_part_of_the_variance_that_more_plucks_shrink() -> None:
    # Six notes, five plucks a side, standard deviation 0.5: 0.5² (2/5) / 6.
    frames = [
        plucks(
            stage,
            {
                "level_dbfs": {
                    n: [s * y + 0.5 * x for x in FIVE] for n, y in zip(STRINGS, SIX, strict=True)
                }
            },
        )
        for stage, s in (("a", 0.0), ("b", 1.0))
    ]
    block = stage_block("a to b", "a", "b", measurements(*frames))
    row = np.flatnonzero(block.note == "all")[0]
    assert block.repeat_variance[row] == pytest.approx(0.25 * 0.4 / 6.0)


def test_sentences_carry_the_interval_and_never_say_heard() -> None:
    frames = [
        plucks(
            stage,
            {
                "level_dbfs": {
                    n: [at + 2.0 * y + x for x in FIVE] for n, y in zip(STRINGS, SIX, strict=True)
                }
            },
        )
        for stage, at in (("a", 0.0), ("b", 0.4))
    ]
    frames[0]["level_dbfs"] -= np.repeat(2.0 * SIX, 5)
    known = session("a", "b", comparisons=[ComparisonSpec("a", "b")])
    table = told_differences(Comparisons(judge_session(known, measurements(*frames)).rows))
    row = table[table["note"] == "all"].iloc[0]
    assert interval(row["ci_low"], row["ci_high"], "dB", signed=True) in row["reason"]
    assert not table["reason"].str.contains("be heard|was heard").any()


def test_not_expected_to_be_audible_holds_up_to_the_far_end_of_the_interval() -> None:
    # 0.8 dB is below the threshold of 1 dB; its interval reaches 1.06 dB in one case, 0.93 in the
    # other (t(0.975, 5) = 2.5706).
    wide = _judge(_block("level_dbfs", -20.0, 0.8, se=0.1), p_adjusted=0.001)
    narrow = _judge(_block("level_dbfs", -20.0, 0.8, se=0.05), p_adjusted=0.001)
    assert "may be audible in direct comparison" in reason_text(wide.reason[0])
    assert "not expected to be audible" in reason_text(narrow.reason[0])
