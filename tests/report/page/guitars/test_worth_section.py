"""Money, hours and ratings as the page writes them."""

from __future__ import annotations

import pytest

from tonecompare.compare.worth.work_steps import Distance, NewVoice, Step
from tonecompare.report.page.guitars.worth_section import worth_table
from tonecompare.report.words.guitar_words.cost_words import amount, cost, short


def test_money_adds_up_as_written() -> None:
    # 33 + 3.5 h x 45 = 190.50 and 145 + 4 h x 45 = 325: together 515.50, by hand.
    assert cost(33.0, 3.5, 190.5, "EUR") == "33 EUR parts, 3.5 h, 190.50 EUR in all"
    assert cost(145.0, 4.0, 325.0, "EUR") == "145 EUR parts, 4 h, 325 EUR in all"
    assert cost(None, 7.5, 515.5, "EUR") == "7.5 h, 515.50 EUR in all"


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (0.25, "0.25"), (7.5, "7.5"), (10.0, "10"), (100.0, "100")]
)
def test_hours_and_ratings_keep_their_halves_and_quarters(value: float, text: str) -> None:
    assert short(value) == text


def test_money_without_a_currency() -> None:
    assert amount(18.0, "") == "18"


def test_the_table_names_new_voices_where_the_stage_before_stands() -> None:
    near, far = (Distance("level", value, 0.0, 2.0, 1) for value in (1.0, 1.5))
    step = Step(
        stage="two", instrument="wren", stock="stock", before="one", work=("piezo",),
        parts_cost=40.0, hours=0.0, money=40.0, total_money=60.0, total_hours=0.0,
        from_stock=(far,), from_before=(near,),
        new_voices=tuple(NewVoice("both", output, "", None, None, None) for output in "mp"),
        shared_voices=("bridge",), ratings={}, confounds=(),
    )  # fmt: skip
    table = worth_table([step])
    assert table["against"].tolist() == ["stock", "one"]
    assert table["new_voices"].tolist() == ["", "both"]
    assert tuple(table.columns)[:3] == ("stage", "instrument", "against")
    assert table.columns[-1] == "new_voices"
