"""Voices that all came out louder: by the hand as well as by the work, unless something tells."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from simulated_picks import Playing, simulated_picks

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.find_causes import apply_confounds, find_confounds
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import Confound


def judged(after: Playing, *, only: str = "") -> tuple[pd.DataFrame, dict[str, Confound]]:
    """Level rows over the notes by voice, and the strengths found by voice."""
    session, measurements = simulated_picks(np.random.default_rng(3), Playing(), after, only=only)
    rows, confounds = find_confounds(
        session, measurements, judge_session(session, measurements).rows
    )
    table = to_frame(apply_confounds(rows, confounds))
    level = table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")]
    found = {one.voice: one for one in confounds if one.kind == "pick-strength" and one.found}
    return level.set_index("voice"), found


def louder(hz: np.ndarray) -> np.ndarray:
    """Three decibels at every frequency: a linear string picked harder does no more."""
    return 3.0 + 0.0 * hz


def test_every_voice_alike_is_the_hand_s_as_well() -> None:
    level, found = judged(Playing(response_db=louder))
    assert set(found) == {"bridge", "middle", "neck"}
    facts = found["neck"].facts
    assert isinstance(facts, StrengthFacts)
    assert facts.every_voice
    assert set(level["verdict"]) == {"confounded"}
    # A pickup bends what swings wider, so a harder pluck moves single partials too.
    assert {"level_dbfs", "h02_db"} <= set(found["neck"].explains)


@pytest.mark.parametrize("voice", ["bridge", "neck"])
def test_one_voice_is_the_work_s(voice: str) -> None:
    level, found = judged(Playing(response_db=louder), only=voice)
    assert not found
    assert level.loc[voice, "verdict"] == "likely-audible"


def test_louder_and_darker_is_no_hand() -> None:
    level, found = judged(Playing(response_db=lambda hz: 5.0 - 1.5 * np.log2(hz / 80.0)))
    assert not found
    assert "confounded" not in set(level["verdict"])
