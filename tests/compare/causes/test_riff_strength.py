"""Riffs played harder: told by their glides, or by voices that moved as one.

Levels are the hand's and the work's decibels, glides the hand's alone (10 lg per dB and GROWTH).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import pytest
from compare_frames import measurements, plucks, session

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.find_causes import apply_confounds, find_confounds
from tonecompare.compare.causes.hand.glide_strength import GROWTH
from tonecompare.compare.causes.hand.passage_strength import (
    BEATS_CENTS,
    only_passages,
    riff_strengths,
)
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import Confound
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.finding_words.explanations import strength_left_open
from tonecompare.session.model import ComparisonSpec

#: How hard the four repeats were played, dB: a hand that differs by most of a decibel.
HANDS = ((-0.9, 0.3, 0.8, -0.2), (0.7, -0.8, 0.1, 0.6))
REST = ((0.05, -0.1, 0.0, 0.08), (-0.06, 0.02, 0.1, -0.05))


def _riffs(
    stage: str, hand: Sequence[float], rest: Sequence[float], *, voice: str, glide_cents: float,
    brighter: float = 1.0,
) -> pd.DataFrame:  # fmt: skip
    strength, left = np.array(hand), np.array(rest)
    values = {"level_dbfs": -20.0 + strength + left, "centroid_hz": 900.0 * brighter + 10.0 * left}
    if glide_cents:
        values["glide_cents"] = BEATS_CENTS + glide_cents * 10.0 ** (GROWTH * strength / 10.0)
        values["glide_cents_se"] = np.full(strength.size, 0.03 * glide_cents)
    return plucks(stage, {name: {"riff": list(v)} for name, v in values.items()}, voice=voice)


def _judged(
    harder_db: float, work_db: dict[str, float], *, glide_cents: float, brighter: float = 1.0,
    quantity: str = "level_dbfs",
) -> tuple[pd.DataFrame, tuple[Confound, ...]]:  # fmt: skip
    frames = []
    for at, (voice, change_db) in enumerate(work_db.items()):
        before, after = np.roll(HANDS[0], at), np.roll(HANDS[1], at) + harder_db
        for stage, hand, rest, work in (
            ("before", before, REST[0], 0.0), ("after", after, REST[1], change_db),
        ):  # fmt: skip
            frames.append(_riffs(stage, hand, np.array(rest) + work, voice=voice,
                                 glide_cents=glide_cents,
                                 brighter=brighter if stage == "after" else 1.0))  # fmt: skip
    of = session("before", "after", comparisons=[ComparisonSpec("before", "after")])
    measured = measurements(*frames)
    rows, confounds = find_confounds(of, measured, judge_session(of, measured).rows)
    table = to_frame(apply_confounds(rows, confounds))
    level = table[(table["note"] == "all") & (table["quantity"] == quantity)]
    strengths = tuple(one for one in confounds if one.kind == "pick-strength")
    return level.set_index("voice"), strengths


def test_the_work_is_found_under_a_hand_that_scatters() -> None:
    level, (cause,) = _judged(0.0, {"bridge": 0.8}, glide_cents=1.5)
    assert level.loc["bridge", "verdict"] == "measurable"
    assert level.loc["bridge", "difference"] == pytest.approx(0.8, abs=0.1)
    assert not cause.found
    # Without glides the same riffs show nothing.
    level, causes = _judged(0.0, {"bridge": 0.8}, glide_cents=0.0)
    assert level.loc["bridge", "verdict"] not in ("measurable", "likely-audible")
    assert not causes


@pytest.mark.parametrize("harder_db", [-2.0, 1.5, 3.0])
def test_a_harder_hand_is_taken_out_and_named(harder_db: float) -> None:
    level, (cause,) = _judged(harder_db, {"bridge": 0.0}, glide_cents=1.5)
    assert cause.found
    assert cause.estimate == pytest.approx(harder_db + 0.15, abs=0.1)
    assert level.loc["bridge", "ci_low"] < 0.0 < level.loc["bridge", "ci_high"]
    assert level.loc["bridge", "verdict"] not in ("measurable", "likely-audible", "confounded")
    assert isinstance(cause.facts, StrengthFacts)
    assert cause.facts.by_glide
    # The interval holds what is not known of how glide grows: a fifth of the strength.
    assert cause.estimate is not None
    assert cause.ci_low is not None
    assert cause.ci_high is not None
    assert cause.ci_high - cause.ci_low > 2 * 1.96 * 0.2 * abs(cause.estimate)


def _share_8000(risen_db: float) -> tuple[str, float]:
    """Verdict and difference of the 8 kHz band under a hand 3 dB harder, the power at 500 Hz."""
    shares_db = dict.fromkeys(BAND_SHAPES, -40.0) | {"shape_0500_db": 0.0, "shape_8000_db": -45.0}
    frames = []
    for stage, hand, rest, more_db in (
        ("before", HANDS[0], REST[0], 0.0), ("after", np.array(HANDS[1]) + 3.0, REST[1], risen_db),
    ):  # fmt: skip
        riffs = _riffs(stage, hand, rest, voice="bridge", glide_cents=1.5)
        shares = {name: level_db + np.array(rest) for name, level_db in shares_db.items()}
        shares["shape_8000_db"] = shares["shape_8000_db"] + more_db
        frames.append(riffs.assign(**shares))
    of = session("before", "after", comparisons=[ComparisonSpec("before", "after")])
    rows, confounds = find_confounds(
        of, measurements(*frames), judge_session(of, measurements(*frames)).rows
    )
    assert any(one.found for one in confounds if one.kind == "pick-strength")
    table = to_frame(apply_confounds(rows, confounds))
    (row,) = table[(table["note"] == "all") & (table["quantity"] == "shape_8000_db")].itertuples()
    return str(row.verdict), float(row.difference)


def test_a_harder_hand_brightens_by_the_octave_and_more_than_that_is_the_works() -> None:
    # Four octaves above 500 Hz at 0.25 dB an octave and dB, 3.15 dB harder: 3.15 dB.
    assert _share_8000(3.15)[1] == pytest.approx(0.0, abs=0.2)
    assert _share_8000(3.15)[0] not in ("measurable", "likely-audible", "confounded")
    verdict, left_db = _share_8000(18.0)
    assert verdict in ("measurable", "likely-audible")
    assert left_db == pytest.approx(14.85, abs=0.2)
    assert _share_8000(-12.0)[0] in ("measurable", "likely-audible")


def test_work_and_hand_together_are_told_apart() -> None:
    level, (cause,) = _judged(-3.0, {"bridge": 3.0}, glide_cents=1.5)
    assert cause.found
    assert level.loc["bridge", "difference"] == pytest.approx(2.85, abs=0.3)
    assert level.loc["bridge", "verdict"] in ("measurable", "likely-audible")


def test_voices_that_moved_as_one_are_in_doubt() -> None:
    level, causes = _judged(4.0, {"bridge": 0.0, "neck": 0.0, "middle": 0.0}, glide_cents=0.0)
    assert set(level["verdict"]) == {"confounded"}
    assert len(causes) == 3
    for one in causes:
        assert isinstance(one.facts, StrengthFacts)
        assert one.facts.every_voice


def test_levels_that_stayed_show_no_hand_and_leave_brightness_to_the_work() -> None:
    """All voices 0.15 dB louder, by chance alike, and each a third brighter."""
    bright, causes = _judged(
        0.0, {"bridge": 0.0, "neck": 0.0}, glide_cents=0.0, brighter=1.33, quantity="centroid_hz"
    )
    assert not causes
    assert set(bright["verdict"]) <= {"measurable", "likely-audible"}


@pytest.mark.parametrize("moved_db", [-2.5, 2.5])
def test_one_voice_that_nothing_checks_is_said_to_be_in_doubt(moved_db: float) -> None:
    level, (cause,) = _judged(moved_db, {"bridge": 0.0}, glide_cents=0.0)
    assert level.loc["bridge", "verdict"] in ("measurable", "likely-audible")
    assert isinstance(cause.facts, StrengthFacts)
    assert cause.facts.alone
    assert not cause.found
    assert ("louder" if moved_db > 0.0 else "softer") in cause_text(cause)
    assert "cannot be told apart" in cause_text(cause)
    assert list(strength_left_open([cause])) == [cause.comparison]
    # Not so where a second voice stayed, where nothing is claimed, or where it came out darker.
    _, causes = _judged(0.0, {"bridge": moved_db, "neck": 0.0}, glide_cents=0.0)
    assert not [one for one in causes if one.facts.alone]  # type: ignore[union-attr]
    assert not _judged(0.1, {"bridge": 0.0}, glide_cents=0.0)[1]
    darker = 0.7 if moved_db > 0.0 else 1.4
    assert not _judged(moved_db, {"bridge": 0.0}, glide_cents=0.0, brighter=darker)[1]


def test_one_voice_that_moved_alone_is_the_works() -> None:
    level, causes = _judged(0.0, {"bridge": 4.0, "neck": 0.0, "middle": 0.0}, glide_cents=0.0)
    assert level.loc["bridge", "verdict"] in ("measurable", "likely-audible")
    assert "bridge" not in {one.voice for one in causes}


def test_glides_of_bends_and_vibrato_tell_nothing() -> None:
    """Where one passage's strength is not known to a decibel the level is left alone."""
    frames = [
        _riffs(stage, hand, rest, voice="bridge", glide_cents=1.5).assign(glide_cents_se=0.6)
        for stage, hand, rest in zip(("before", "after"), HANDS, REST, strict=True)
    ]
    assert not riff_strengths(pd.concat(frames), before="before", after="after")
    sure = [frame.assign(glide_cents_se=0.2) for frame in frames]
    assert riff_strengths(pd.concat(sure), before="before", after="after")


def test_a_repeat_that_broke_off_hides_no_hand() -> None:
    """Single notes on one side alone, left of such a repeat, do not make it a voice of plucks."""
    sides = zip(("before", "after"), HANDS, REST, strict=True)
    frames = [_riffs(*side, voice="bridge", glide_cents=1.5) for side in sides]
    stray = plucks("after", {"level_dbfs": {"E3": [-22.0]}})
    whole = pd.concat([*frames, stray])
    assert only_passages(whole, before="before", after="after")
    assert len(riff_strengths(whole, before="before", after="after")) == 1
    both = pd.concat([whole, plucks("before", {"level_dbfs": {"E3": [-22.0]}})])
    assert not only_passages(both, before="before", after="after")
