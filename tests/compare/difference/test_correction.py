"""One correction for a whole report."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.compare.difference.correction import DETAILS, LEADS, SPEAKS_FOR, adjusted_p
from tonecompare.compare.difference.difference_rows import (
    ALL_NOTES,
    DifferenceRows,
    join_rows,
    make_rows,
    text,
)
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.quantities.compared import QUANTITIES, quantity_of


def _block(
    columns: list[str], t: list[float], *, note: str = ALL_NOTES, voice: str = "bridge"
) -> DifferenceRows:
    quantities = [quantity_of(column) for column in columns]
    count, values = len(columns), np.array(t, dtype=float)
    return make_rows(
        "a to b",
        voice,
        "magnetic",
        text(note, count),
        quantities,
        means=(np.zeros(count), values),
        counts=(np.full(count, 30.0), np.full(count, 30.0), np.full(count, 6.0)),
        estimate=Estimate(values, np.ones(count), np.full(count, np.inf)),
        repeat_variance=np.ones(count),
        unjudged=text("", count),
    )


def test_leads_are_quantities_or_families() -> None:
    families = {q.family for q in QUANTITIES}
    assert set(LEADS) <= {q.column for q in QUANTITIES} | families
    assert set(SPEAKS_FOR) == set(LEADS)
    assert {family for opened in SPEAKS_FOR.values() for family in opened} <= families


def test_details_cost_the_level_next_to_nothing() -> None:
    partials = [f"h{n:02d}_db" for n in range(1, 25)]
    alone, _ = adjusted_p(_block(["level_dbfs"], [3.0]))
    among, share = adjusted_p(_block(["level_dbfs", *partials], [3.0] + [0.1] * 24))
    assert alone[0] == pytest.approx(0.0027, abs=1e-4)
    of_level = LEADS["level_dbfs"] / (LEADS["level_dbfs"] + DETAILS)
    assert among[0] == pytest.approx(alone[0] / of_level)
    assert share[0] == pytest.approx(of_level)
    assert share[1:] == pytest.approx((1.0 - of_level) / 24)


def test_a_detail_is_shown_more_easily_where_its_lead_is() -> None:
    """A partial at 3.5 standard errors (p = 0.00047) among 24: 24 times that behind the gate.

    Decay and hum, which did not move, keep their parts of the first step.
    """
    partials = [f"h{n:02d}_db" for n in range(1, 25)]
    columns, t = ["level_dbfs", "decay_s", "hum_dbfs", *partials], [0.1, 0.1, 3.5] + [0.1] * 23
    opened, _ = adjusted_p(_block(columns, [9.0, *t]))
    shut, _ = adjusted_p(_block(columns, [0.1, *t]))
    left = LEADS["decay_s"] + LEADS["hum_dbfs"] + DETAILS
    assert opened[3] == pytest.approx(24 * 0.000465, rel=0.01)
    assert shut[3] == pytest.approx(
        24 * 0.000465 * (left + LEADS["level_dbfs"]) / DETAILS, rel=0.01
    )


def test_a_detail_behind_a_gate_is_no_surer_than_its_lead() -> None:
    """The level at 2.3 standard errors, one partial of 24 at 3.3."""
    partials = [f"h{n:02d}_db" for n in range(1, 25)]
    columns = ["level_dbfs", "decay_s", "hum_dbfs", *partials]
    adjusted, _ = adjusted_p(_block(columns, [2.3, 0.1, 0.1, 3.3] + [0.1] * 23))
    behind = 24 * 0.000967
    assert behind < adjusted[0]
    assert adjusted[3] == pytest.approx(adjusted[0])


def test_voices_share_alike() -> None:
    one, _ = adjusted_p(_block(["level_dbfs"], [3.0]))
    three, _ = adjusted_p(
        join_rows(
            [_block(["level_dbfs"], [x], voice=v) for v, x in (("a", 3.0), ("b", 0.1), ("c", 0.2))]
        )
    )
    assert three[0] == pytest.approx(3.0 * one[0])


def test_what_the_player_sets_does_not_count_among_the_claims() -> None:
    alone, _ = adjusted_p(_block(["level_dbfs"], [3.0]))
    beside, _ = adjusted_p(_block(["level_dbfs", "cents", "pluck_point"], [3.0, 9.0, 0.0]))
    assert beside[0] == pytest.approx(alone[0])


def test_a_note_row_never_goes_below_the_row_over_the_notes() -> None:
    block = join_rows(
        [
            _block(["level_dbfs", "centroid_hz"], [2.5, 0.0]),
            _block(["level_dbfs", "centroid_hz"], [9.0, 9.0], note="E2"),
            _block(["level_dbfs", "centroid_hz"], [0.5, 0.5], note="A2"),
        ]
    )
    adjusted, _ = adjusted_p(block)
    assert adjusted[2] == pytest.approx(adjusted[0])
    assert adjusted[3] == 1.0
    assert adjusted[4] > 0.5


def test_note_rows_are_corrected_over_the_notes() -> None:
    block = join_rows(
        [_block(["level_dbfs"], [20.0])]
        + [_block(["level_dbfs"], [t], note=n) for n, t in (("E2", 2.2), ("A2", 2.0), ("D3", 0.0))]
    )
    adjusted, _ = adjusted_p(block)
    # Two-sided normal p of 2.2 is 0.0278 (times 3), of 2.0 is 0.0455 (times 2).
    assert adjusted[1:] == pytest.approx([0.0834, 0.0910, 1.0], abs=1e-3)


def test_rows_that_may_claim_nothing_do_not_count() -> None:
    block = _block(["level_dbfs", "decay_s"], [3.0, np.nan])
    adjusted, _ = adjusted_p(block)
    assert adjusted[0] == pytest.approx(0.0027, abs=1e-4)
    assert len(block) == 2
    assert np.isnan(adjusted[1])


def test_the_shape_of_bands_has_intervals_for_all_eight_together() -> None:
    block = _block(["shape_1000_db", "level_dbfs"], [0.0, 0.0])
    # 99.6875 % and 97.5 % points of the normal distribution (tables).
    assert block.ends[1] == pytest.approx([2.7344, 1.95996], abs=1e-4)
