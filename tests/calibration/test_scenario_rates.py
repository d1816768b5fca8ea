"""The scenario table counts what it says it counts; ``scenario_rates.py`` prints it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scenario_rates
from calibration_pool import truth as model_truth
from scenario_list import Expected, scenarios
from scenario_oracle import LEVEL, TREBLE, known_levels, oracle_finds
from scenario_pool import Pool, truth_of
from scenario_rates import Row, is_false, verdict_on
from scenario_takes import ROOM_DBFS, STAGES, USUAL, noise_of, played_plucks, touches

from tonecompare import strings as st
from tonecompare.measure.session import collected

_NAMED = {scenario.name: scenario for scenario in scenarios()}
_TRUTH = {("bridge", "all", "level_dbfs"): -6.0, ("bridge", "all", "decay_s"): 0.0}


def _row(quantity: str, claimed: float, verdict: str = "likely-audible") -> Row:
    return Row("bridge", "all", quantity, verdict, claimed)


@pytest.mark.parametrize(
    ("row", "false"),
    [
        (_row("level_dbfs", -5.0), False),
        (_row("level_dbfs", 5.0), True),
        (_row("level_dbfs", -19.0), True),
        (_row("decay_s", 0.2), True),
        (_row("decay_s", 0.2, "undecided"), False),
        (_row("decay_s", 0.2, "confounded"), False),
    ],
)
def test_a_claim_is_false_by_sign_and_size(row: Row, *, false: bool) -> None:
    assert is_false(row, _TRUTH) is false


def test_every_claim_is_false_where_nothing_was_done() -> None:
    assert is_false(_row("level_dbfs", 0.5), {})


def test_a_swallowed_change_is_named_by_its_verdict() -> None:
    expected = Expected("bridge", ("level_dbfs", "band_*"))
    rows = [_row("level_dbfs", -6.0, "confounded"), _row("decay_s", 0.2)]
    assert verdict_on(expected, rows, _TRUTH) == "confounded"
    assert verdict_on(expected, [_row("level_dbfs", -6.0)], _TRUTH) == "claimed"
    # A claim of the wrong sign is no claim of the truth.
    assert verdict_on(expected, [_row("level_dbfs", 6.0)], _TRUTH) == "likely-audible"


def test_a_scenario_is_named_once() -> None:
    assert len(_NAMED) == len(scenarios())


@pytest.fixture(scope="module")
def takes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the files that tests render once for all."""
    return tmp_path_factory.mktemp("takes")


@pytest.mark.long
def test_a_null_session_takes_two_different_files(takes: Path) -> None:
    pool = Pool(2, 5, takes)
    null = replace(next(iter(_NAMED.values())), before=USUAL, after=USUAL)
    for _ in range(4):
        dealt = pool.deal(null, np.random.default_rng(5))
        for voice in null.voices:
            names = {
                name
                for stage in STAGES
                for name in collected([dealt[stage, voice].as_stage[stage]]).plucks["file"]
            }
            assert len(names) == 2


@pytest.mark.long
def test_the_truth_of_a_split_is_the_models_and_the_oracle_finds_it(takes: Path) -> None:
    scenario = _NAMED["bridge humbucker to split"]
    pool = Pool(1, 5, takes)
    truth = truth_of(scenario, pool)
    # Against the string model's own noiseless level (closed form of the modes), no measuring.
    before, after = (
        np.array([output.level_dbfs for output in model_truth(one.pickups["bridge"])])
        for one in (scenario.before, scenario.after)
    )
    assert truth["bridge", "all", "level_dbfs"] == pytest.approx(np.mean(after - before), abs=0.1)
    assert truth["neck", "all", "level_dbfs"] == pytest.approx(0.0, abs=0.01)
    said = scenario_rates.said_of(scenario, pool, truth, np.random.default_rng(5))
    assert said.oracle == (True,)
    # The same hand twice is no change, whatever the work would do.
    bridge = scenario.before.pickups["bridge"]
    played = pool.files(scenario.before, "bridge")[0]
    twice = {(stage, "bridge"): played for stage in STAGES}
    assert not oracle_finds(twice, "bridge", LEVEL, pickup=bridge, truth=truth)
    # Nor is a change of the other sign the one that was made.
    turned = {key: -value for key, value in truth.items()}
    dealt = pool.deal(scenario, np.random.default_rng(5))
    assert not oracle_finds(dealt, "bridge", LEVEL, pickup=bridge, truth=turned)


def test_truth_is_not_cut_off_at_the_hiss_of_a_usual_file() -> None:
    alone, usual = (
        noise_of(condition, "bridge", np.random.default_rng(1))
        for condition in (USUAL.work_alone(), USUAL)
    )
    assert alone.hiss_dbfs < usual.hiss_dbfs - 30.0
    assert alone.pink_dbfs < usual.pink_dbfs - 30.0
    # Its hum is part of the truth.
    assert alone.line_dbfs == pytest.approx(ROOM_DBFS)


def test_levels_known_of_a_pluck_follow_its_force_and_sum_up() -> None:
    pickup = st.single_coil(150.0)
    soft, hard = (
        known_levels(st.PluckSpec(0.0, 1, strength_db=db), pickup) for db in (-12.0, -6.0)
    )
    for column in (*LEVEL, *TREBLE):
        # A string twice as far aside moves twice as fast.
        if np.isfinite(soft[column]):
            assert hard[column] - soft[column] == pytest.approx(6.0)
    heard = [10 ** (soft[c] / 10) for c in TREBLE if np.isfinite(soft[c])]
    assert len(heard) >= 8
    assert 10 * np.log10(sum(heard)) < soft[LEVEL[0]]


def test_a_touch_stands_at_the_end_of_a_note_far_below_it() -> None:
    condition = replace(USUAL, touched=0.3)
    plucks = played_plucks(condition, np.random.default_rng(3))
    touched = touches(condition, plucks, np.random.default_rng(4))
    assert 4 <= len(touched) <= 15
    for touch in touched:
        note = max((p for p in plucks if p.time_s < touch.time_s), key=lambda p: p.time_s)
        assert touch.string == note.string
        assert 1.8 < touch.time_s - note.time_s < 1.9
        assert -35.0 <= touch.strength_db - note.strength_db <= -22.0
