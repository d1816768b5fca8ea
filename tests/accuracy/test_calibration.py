"""A small calibration from audio to verdict; ``python tests/accuracy/calibration.py`` runs all.

Rates here are of few sessions dealt from few rendered hands, so the bars leave room: with a true
rate at its bar, each assertion fails about once in a hundred runs, and the seeds are fixed.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from calibration_pool import BASE, NOTES, REPEATS, Condition, Pool, make_pool
from calibration_real import halves, measure_sets, of_two

sys.path.insert(0, str(Path(__file__).resolve().parent))
import calibration

from tonecompare.compare.run import compare_session

ONE = ("bridge",)
pytestmark = pytest.mark.slow

SHORT = replace(BASE, spacing_s=1.7)


@pytest.fixture(scope="module")
def pool() -> Pool:
    every: dict[str, tuple[Condition, tuple[str, ...]]] = {
        "base": (SHORT, ONE),
        "decay": (replace(SHORT, decay_factor=0.75, hum_db={"bridge": 3.0}), ONE),
        "in": (replace(SHORT, pick_mm=-10.0), ONE),
        "gain": (replace(SHORT, gain_db=1.0), ONE),
    }
    return make_pool(every, files={"base": 3, "decay": 1, "in": 2, "gain": 1}, seed=7)


def outcomes(pool: Pool, condition: str, sessions: int) -> list[calibration.Outcome]:
    return calibration.dealt(pool, condition, sessions=sessions, seed=7, voices=ONE)


def test_a_dealt_session_has_other_hands_on_both_sides(pool: Pool) -> None:
    _, measured = pool.draw(np.random.default_rng(1), {"bridge": "base"})
    counts = measured.plucks.groupby(["stage", "note"]).size()
    assert counts.tolist() == [REPEATS] * 2 * len(NOTES)
    assert not measured.plucks.duplicated(["file", "pluck"]).any()


def test_verdicts_are_those_of_compare_session(pool: Pool) -> None:
    session, measured = pool.draw(np.random.default_rng(2), {"bridge": "in"})
    mine = calibration.judged(session, measured).table
    assert mine["verdict"].tolist() == (
        compare_session(session, measured).differences["verdict"].tolist()
    )


def test_nothing_changed_claims_nothing(pool: Pool) -> None:
    # At 5 %, more than 3 of 16 happen 0.7 times in a hundred.
    assert sum(len(o.claims()) > 0 for o in outcomes(pool, "base", 16)) <= 3


def test_shorter_decays_and_more_hum_are_found_and_are_no_compressor(pool: Pool) -> None:
    found = outcomes(pool, "decay", 8)
    for quantity in ("decay_s", "hum_dbfs"):
        # At 90 %, fewer than 5 of 8 happen 0.5 times in a hundred.
        assert sum(o.claims_at("bridge", quantity) for o in found) >= 5, quantity
    # A pluck that dies away sooner has its level further below its peak.
    assert not any("processing" in o.kinds() for o in found)


def test_a_pick_moved_by_10_mm_is_never_a_change_of_the_pickup(pool: Pool) -> None:
    found = outcomes(pool, "in", 8)
    # At 95 %, fewer than 6 of 8 happen 0.6 times in a hundred.
    assert sum("pick-position" in o.kinds("bridge") for o in found) >= 6
    assert sum(len(o.claims(*calibration.OF_A_PICKUP, raw=True)) > 0 for o in found) >= 4
    assert all(o.claims(*calibration.OF_A_PICKUP).empty for o in found)


def test_a_gain_of_1_db_is_found_and_not_credited_to_the_work(pool: Pool) -> None:
    found = outcomes(pool, "gain", 8)
    assert sum("gain" in o.kinds() for o in found) >= 6
    assert not any(o.claims_at("bridge", "level_dbfs") for o in found)


def test_real_takes_split_at_random_and_soft_against_hard(recordings: Path) -> None:
    """The green guitar; halves of 4 plucks are 2 a side, of which all splits hang together."""
    sets = measure_sets(recordings, ("green mf", "green f"))
    rng = np.random.default_rng(7)
    for name, measured in sets.items():
        found = [calibration.judged(*pair) for pair in halves(measured, most=14, rng=rng)]
        # At 5 %, more than 3 of 14 independent splits happen 0.4 times in a hundred.
        assert sum(len(o.claims()) > 0 for o in found) <= 3, name
    one = calibration.judged(*of_two(sets["green mf"], sets["green f"]))
    assert "pick-strength" in one.kinds()
    assert len(one.claims(raw=True)) >= 3
    assert one.claims().empty
