"""Riffs that happen to be played alike to a hair claim nothing by that alone."""

from __future__ import annotations

import numpy as np
import pytest
from compare_frames import measurements, plucks, session
from scipy import stats

from tonecompare.compare.check.check_results import Checked
from tonecompare.compare.check.smallest_shown import resolution
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.session.model import ComparisonSpec

#: Repeats with mean 0 and standard deviation 1 (n - 1).
FOUR = np.array([-1.0, 0.3, 1.0, -0.3]) / np.sqrt(2.18 / 3.0)
#: A hand's usual scatter of level, and with how many degrees of freedom it is known.
HAND_DB, KNOWN = 0.7, 4.0


def _level(change_db: float, scatter_db: float, quantity: str = "level_dbfs") -> tuple[float, str]:
    stages = [
        plucks(stage, {quantity: {"riff": list(-20.0 + shift + scatter_db * FOUR)}})
        for stage, shift in (("before", 0.0), ("after", change_db))
    ]
    of = session("before", "after", comparisons=[ComparisonSpec("before", "after")])
    rows = to_frame(judge_session(of, measurements(*stages)).rows)
    row = rows[(rows["note"] == "all") & (rows["quantity"] == quantity)].iloc[0]
    return float(row["ci_high"] - row["ci_low"]), str(row["verdict"])


def _width_db(scatter_db: float) -> float:
    """Width of a 95 % interval from the mean of both variances, 6 and 4 degrees of freedom."""
    variance = (6.0 * scatter_db**2 + KNOWN * HAND_DB**2) / (6.0 + KNOWN)
    return float(2.0 * stats.t.ppf(0.975, 6.0 + KNOWN) * np.sqrt(variance * (1 / 4 + 1 / 4)))


@pytest.mark.parametrize("scatter_db", [0.002, 0.4, 1.2])
def test_a_riffs_scatter_is_drawn_to_what_hands_do(scatter_db: float) -> None:
    assert _level(0.3, scatter_db)[0] == pytest.approx(_width_db(scatter_db), rel=1e-3)


def test_repeats_alike_to_a_hair_claim_no_small_difference() -> None:
    assert _level(0.5, 0.002)[1] not in ("measurable", "likely-audible")
    assert _level(2.0, 0.3)[1] in ("measurable", "likely-audible")
    # A riff of finite-difference strings: 0.045 dB of scatter, 0.24 dB apart, and nothing changed.
    assert _level(0.24, 0.045, "shape_2000_db")[1] not in ("measurable", "likely-audible")
    assert _level(1.5, 0.3, "shape_2000_db")[1] in ("measurable", "likely-audible")


def test_a_stages_riffs_promise_no_more_than_a_hand_can_keep() -> None:
    def smallest(scatter_db: float) -> float:
        values = {"level_dbfs": {"riff": list(-20.0 + scatter_db * FOUR)}}
        of = Checked(session("before"), (), measurements(plucks("before", values)))
        found = {each.quantity: each for each in resolution(of, "before")}
        assert {"shape_0125_db", "shape_1000_db", "shape_4000_db"} < set(found)
        shown = found["level_dbfs"].smallest
        assert shown is not None
        return shown

    # Three own and four known degrees of freedom of variance.
    ratio = np.sqrt((3.0 * 0.002**2 + KNOWN * HAND_DB**2) / (3.0 * 1.2**2 + KNOWN * HAND_DB**2))
    assert smallest(0.002) / smallest(1.2) == pytest.approx(ratio, rel=1e-6)


def test_a_second_riff_shows_no_less_than_one_alone() -> None:
    """Riffs are judged by their repeats, not by how two riffs agree."""

    def smallest(*riffs: str) -> float:
        values = {"level_dbfs": {name: list(-20.0 + 0.7 * FOUR) for name in riffs}}
        of = Checked(session("before"), (), measurements(plucks("before", values)))
        return next(e.smallest for e in resolution(of, "before") if e.quantity == "level_dbfs")

    # Standard errors go by 1 / sqrt(2); a few more degrees of freedom take off some more.
    ratio = smallest("riff A", "riff B") / smallest("riff")
    assert 0.6 < ratio < 1.0 / np.sqrt(2.0)
