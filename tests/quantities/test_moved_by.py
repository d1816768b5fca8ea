"""The lists of what a cause can move: hand-written expectations, and only known columns."""

from __future__ import annotations

import pytest

from tonecompare.quantities.compared import QUANTITIES
from tonecompare.quantities.moved_by import BY_MARK, by_pick_strength, causes_of
from tonecompare.report.words.cause_words.cause_terms import CAUSES


@pytest.mark.parametrize(
    ("column", "causes"),
    [
        ("hiss_dbfs", ("gain", "processing")),
        ("hum_03_dbfs", ("gain", "mains")),
        ("inharmonicity", ("pick-strength", "strings")),
        ("h04_db", ("pick-strength", "load")),
        ("signal_to_hum_db", ("pick-strength", "mains")),
        ("band_1000_db", ("gain", "pick-strength", "load", "processing")),
        ("shape_0125_db", ("pick-strength",)),
        ("shape_4000_db", ("pick-strength", "strings", "load", "processing", "quiet")),
        ("stage", ()),
    ],
)
def test_what_can_move_a_column(column: str, causes: tuple[str, ...]) -> None:
    assert causes_of(column) == causes


def test_a_light_hand_leaves_the_decay() -> None:
    assert "decay_s" not in by_pick_strength(moves_decay=False)
    assert "decay_s" in by_pick_strength(moves_decay=True)


def test_marks_move_compared_columns_only() -> None:
    compared = {quantity.column for quantity in QUANTITIES}
    assert all(set(columns) <= compared for columns in BY_MARK.values())


def test_every_cause_is_explained() -> None:
    named = {cause for quantity in QUANTITIES for cause in causes_of(quantity.column)}
    assert len(named) == 7
    assert named <= set(CAUSES)
