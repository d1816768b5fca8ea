"""A small calibration; ``python tests/calibration/verdict_rates.py`` runs the full one."""

from __future__ import annotations

import numpy as np
import pytest
from simulated_tables import SHAPES, Scatter, simulated_session
from verdict_rates import EFFECTS, Rate, coverage, detections, false_claims

ONE = Scatter(voices=("bridge",))


def test_rate_has_the_standard_error_of_a_binomial_share() -> None:
    assert (Rate(5, 100).share, Rate(5, 100).se) == pytest.approx((0.05, 0.02179), abs=1e-5)
    assert Rate(0, 100).se == pytest.approx(0.00995, abs=1e-5)
    assert str(Rate(5, 100)) == "5.0 % (±2.2)"


@pytest.mark.slow
def test_sessions_without_a_change_hardly_ever_claim_one() -> None:
    # At the permitted 5 %, more than 6 of 40 happens once in a hundred.
    assert false_claims(np.random.default_rng(1), ONE, sessions=40).hits <= 6


@pytest.mark.slow
def test_the_five_changes_are_found() -> None:
    found = detections(np.random.default_rng(2), ONE, sessions=12)
    assert set(found) == set(EFFECTS)
    for column in ("level_dbfs", "centroid_hz", "decay_s", "hum_dbfs", "h02_db"):
        # At 90 %, fewer than 9 of 12 happens three times in a hundred.
        assert found[column].hits >= 9, column


@pytest.mark.slow
@pytest.mark.parametrize("shape", SHAPES)
def test_intervals_cover(shape: str) -> None:
    # 60 rows of a session hang together; 10 sessions have a standard error near 1.2 %.
    rate = coverage(np.random.default_rng(3), Scatter(shape=shape, voices=("a", "b")), sessions=10)
    assert rate.share == pytest.approx(0.95, abs=0.03)


def test_simulated_scatter_is_what_it_says() -> None:
    rng = np.random.default_rng(4)
    scatter = Scatter(repeats=200, note_share=0.0, voices=("bridge",))
    frame = simulated_session(rng, scatter)[1].plucks
    first = frame[(frame["stage"] == "before") & (frame["note"] == "E2")]
    assert first["level_dbfs"].std() == pytest.approx(0.6, rel=0.2)
    assert 1200 * np.log2(first["centroid_hz"]).std() == pytest.approx(47.0, rel=0.2)
    assert first["h02_db"].std() == pytest.approx(0.4, rel=0.2)
    assert np.log(first["decay_s"]).std() == pytest.approx(0.05, rel=0.2)


def test_hand_position_is_shared_by_the_plucks_of_a_note() -> None:
    rng = np.random.default_rng(5)
    scatter = Scatter(repeats=40, note_share=2.0, voices=("bridge",))
    frame = simulated_session(rng, scatter)[1].plucks
    partials = [f"h{n:02d}_db" for n in range(1, 25)]
    levels = frame[frame["stage"] == "before"].groupby("note")[partials]
    alone = levels.std().mean() / np.sqrt(scatter.repeats)
    # Shares between 0 and 4 make notes scatter 2 sqrt(40) = 13 times as far as plucks alone would.
    assert 5.0 < (levels.mean().std() / alone).mean() < 20.0


def test_same_seed_same_session() -> None:
    first, second = (simulated_session(np.random.default_rng(6), ONE)[1].plucks for _ in range(2))
    assert first.equals(second)
