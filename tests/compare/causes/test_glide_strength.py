"""Strength told by glides: closed forms, what small glides allow, real hands and pickups."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from calibration_real import DYNAMICS, STAGES, halves, measure_sets, of_two

from tonecompare.compare.causes.find_causes import apply_confounds, find_confounds
from tonecompare.compare.causes.hand.glide_strength import (
    GROWTH,
    HANDS_DB,
    GlideStrength,
    glide_strength,
)
from tonecompare.compare.causes.hand.hand_spread import HandDifference
from tonecompare.compare.causes.hand.picking_strength import find_strength, is_opposed, shows_a_hand
from tonecompare.compare.causes.rows_to_explain import CLAIMS, VoiceRows
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import quantity_of

BEFORE, AFTER = STAGES
BY_THE_HAND = ("level", "spectrum", "partials", "attack")


def table(
    before: dict[str, list[float]], after: dict[str, list[float]], *, se: float = 0.1
) -> pd.DataFrame:
    """Glides by note as plucks of two stages."""
    return pd.DataFrame(
        [
            {"stage": stage, "note": note, "glide_cents": cents, "glide_cents_se": se}
            for stage, side in zip(STAGES, (before, after), strict=True)
            for note, values in side.items()
            for cents in values
        ]
    )


def told(before: dict[str, list[float]], after: dict[str, list[float]]) -> GlideStrength:
    """Return the strength, which must be there."""
    found = glide_strength(table(before, after), before=BEFORE, after=AFTER)
    assert found is not None
    return found


def notes(cents: float, *, ratio: float = 1.0, spread: float = 0.05) -> dict[str, list[float]]:
    """Four notes of four plucks each about 0.7 to 1.3 times a glide."""
    each = (0.7, 0.9, 1.1, 1.3)
    steps = (-1.0, -0.3, 0.3, 1.0)
    return {
        name: [cents * of * ratio * (1.0 + spread * step) for step in steps]
        for name, of in zip(("E2", "A2", "D3", "G3"), each, strict=True)
    }


@pytest.mark.parametrize("strength_db", [-4.0, 0.0, 3.0, 6.0])
def test_ratio_of_glides_is_the_strength(strength_db: float) -> None:
    ratio = 10.0 ** (GROWTH * strength_db / 10.0)
    found = told(notes(6.0), notes(6.0, ratio=ratio))
    assert found.strength_db == pytest.approx(strength_db, abs=0.15)
    assert found.low_db < strength_db < found.high_db
    assert shows_a_hand(found) == (strength_db != 0.0)
    assert found.allows(1.2 * strength_db)
    # A split loses 6 dB and leaves the glides alone.
    assert found.allows(-6.0) == (strength_db == -4.0)


def test_sides_may_be_exchanged() -> None:
    one = told(notes(2.0), notes(5.0, spread=0.1))
    other = told(notes(5.0, spread=0.1), notes(2.0))
    assert other.strength_db == pytest.approx(-one.strength_db, abs=1e-9)
    assert other.low_db == pytest.approx(-one.high_db, abs=1e-9)


def test_small_glides_tell_nothing() -> None:
    # A string without tension modulation beats a little either way; that showed +10 dB once.
    for after in (notes(0.12), notes(-0.25)):
        assert glide_strength(table(notes(-0.01), after), before=BEFORE, after=AFTER) is None


def test_small_glides_that_grow_tell_a_harder_hand_but_not_how_hard() -> None:
    found = told(notes(0.1), notes(3.0))
    assert shows_a_hand(found)
    assert found.low_db > 2.0
    assert found.high_db == HANDS_DB


def test_one_odd_note_decides_nothing() -> None:
    after = notes(6.0) | {"G3": [20.0, 21.0, 22.0, 20.0]}
    assert not shows_a_hand(told(notes(6.0), after))


def test_notes_of_one_side_or_one_pluck_tell_nothing() -> None:
    plucks = table({"E2": [3.0, 3.1], "A2": [2.0]}, {"D3": [3.0, 3.1], "A2": [2.0]})
    assert glide_strength(plucks, before=BEFORE, after=AFTER) is None


@pytest.fixture(scope="module")
def sets(recordings: Path) -> dict[str, Measurements]:
    """Return every set of one guitar or bass at one dynamic, measured."""
    return measure_sets(recordings)


@pytest.mark.parametrize("pair", DYNAMICS[:4], ids=lambda pair: f"{pair[0]}-{pair[1]}")
def test_harder_playing_of_real_instruments_is_found(
    sets: dict[str, Measurements], pair: tuple[str, str]
) -> None:
    session, measured = of_two(sets[pair[0]], sets[pair[1]])
    rows = judge_session(session, measured).rows
    (found,) = find_strength(session, measured, rows).confounds
    assert found.found
    assert found.estimate is not None
    assert found.ci_low is not None
    assert found.estimate > 1.0
    assert found.ci_low > 0.0


def test_a_real_hand_leaves_nothing_of_the_level_to_the_work(
    sets: dict[str, Measurements],
) -> None:
    for soft, hard in DYNAMICS[:2]:
        session, measured = of_two(sets[soft], sets[hard])
        rows = judge_session(session, measured).rows
        left = {
            (rows.column[one.row], rows.note[one.row]): one
            for one in find_strength(session, measured, rows).adjustments
        }
        level = left["level_dbfs", "all"]
        assert level.low < 0.0 < level.high
        assert abs(level.difference) < 2.5


@pytest.mark.parametrize("pair", DYNAMICS, ids=lambda pair: f"{pair[0]}-{pair[1]}")
def test_nothing_of_a_real_hand_is_given_to_the_work(
    sets: dict[str, Measurements], pair: tuple[str, str]
) -> None:
    session, measured = of_two(sets[pair[0]], sets[pair[1]])
    rows, confounds = find_confounds(session, measured, judge_session(session, measured).rows)
    table = apply_confounds(rows, confounds)
    claimed = [
        column
        for column, note, verdict in zip(table.column, table.note, table.verdict, strict=True)
        if note == "all" and verdict in CLAIMS and quantity_of(column).family in BY_THE_HAND
    ]
    assert claimed == []


def test_a_hand_and_a_pickup_against_it_are_told_apart(sets: dict[str, Measurements]) -> None:
    # Six decibels harder through a pickup six decibels weaker: the level stays, neither is nothing.
    session, measured = of_two(sets["green mf"], sets["green f"])
    after = measured.plucks["stage"] == AFTER
    levels = ["level_dbfs", "peak_dbfs"]
    measured.plucks.loc[after, levels] -= 6.0
    rows = judge_session(session, measured).rows
    findings = find_strength(session, measured, rows)
    (found,) = findings.confounds
    assert found.found
    (level,) = (
        one
        for one in findings.adjustments
        if (rows.column[one.row], rows.note[one.row]) == ("level_dbfs", "all")
    )
    assert level.low < -6.0 < level.high < 0.0


def test_equal_plucks_never_show_a_hand(sets: dict[str, Measurements]) -> None:
    rng = np.random.default_rng(5)
    for of_set in sets.values():
        for _, dealt in halves(of_set, most=40, rng=rng):
            found = glide_strength(dealt.plucks, before=BEFORE, after=AFTER)
            assert found is None or not shows_a_hand(found)


@pytest.mark.parametrize("name", ["green f", "black f", "electric"])
def test_hard_playing_tells_a_split_from_the_hand(sets: dict[str, Measurements], name: str) -> None:
    # Six decibels less and the glides as before: not the hand, whatever the tilt did.
    rng = np.random.default_rng(6)
    for session, dealt in halves(sets[name], most=20, rng=rng):
        after = dealt.plucks["stage"] == AFTER
        dealt.plucks.loc[after, ["level_dbfs", "peak_dbfs"]] -= 6.0
        dealt.plucks.loc[after, "tilt_db_per_octave"] -= 1.5
        for n in range(1, 25):
            dealt.plucks.loc[after, f"h{n:02d}_db"] -= 1.5 * np.log2(n)
        rows = judge_session(session, dealt).rows
        (found,) = find_strength(session, dealt, rows).confounds
        assert not found.found


def _moved(middle: float) -> HandDifference:
    return HandDifference(middle, Estimate(np.array(middle), np.array(0.01), np.array(20.0)))


@pytest.mark.parametrize(
    ("level_db", "tilt", "opposed"),
    [
        (-6.0, 2.0, True),
        (6.0, -2.0, True),
        (6.0, 2.0, False),
        (-6.0, -2.0, False),
        (0.0, 2.0, False),
    ],
)
def test_no_hand_is_louder_and_darker_or_softer_and_brighter(
    level_db: float, tilt: float, opposed: bool
) -> None:
    nothing = VoiceRows(no_rows(), "", "", "", "", "", np.empty(0, dtype=np.intp), {})
    assert is_opposed(nothing, _moved(level_db), _moved(tilt)) is opposed
