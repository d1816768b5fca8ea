"""Which stages are compared, and which are a control, when nobody said so."""

from __future__ import annotations

import time
from datetime import date
from pathlib import Path

from tonecompare.session.choose import choose_comparisons, first_to_last, stock_stages
from tonecompare.session.model import Stage, WorkItem

WORK = (WorkItem("rewind"),)


def stage(name, instrument="", **more):
    if "origin" in more:
        more["from_stage"] = more.pop("origin")
    return Stage(name, instrument, Path(name), **more)


def chosen(*stages):
    specs, remarks = choose_comparisons({s.name: s for s in stages})
    return [(s.before, s.after) for s in specs], specs, " ".join(remarks)


def test_two_bare_folders_by_the_words_in_their_names():
    assert chosen(stage("heron-rewound"), stage("heron-stock"))[0] == [
        ("heron-stock", "heron-rewound")
    ]
    assert chosen(stage("after"), stage("before"))[0] == [("before", "after")]
    assert chosen(stage("new"), stage("mid"))[0] == [("mid", "new")]


def test_two_bare_folders_without_such_words_in_natural_order():
    assert chosen(stage("take 10"), stage("take 9"))[0] == [("take 9", "take 10")]


def test_dates_count_more_than_words():
    old, new = stage("new", date=date(2026, 1, 1)), stage("old", date=date(2026, 2, 1))
    assert [s.name for s in first_to_last([new, old])] == ["new", "old"]


def test_several_bare_folders_are_compared_with_the_first():
    pairs, _, said = chosen(stage("step-2"), stage("stock"), stage("step-1"))
    assert pairs == [("stock", "step-1"), ("stock", "step-2")]
    assert '"stock" with "step-1"; "stock" with "step-2"' in said


def test_bare_folders_that_begin_alike_are_one_instrument():
    pairs, _, _ = chosen(*(stage(n) for n in ("heron-stock", "heron-b", "wren-1", "wren-2")))
    assert pairs == [("heron-stock", "heron-b"), ("wren-1", "wren-2")]


def test_each_stage_with_the_one_it_came_from_and_with_the_first():
    pairs, _, _ = chosen(
        stage("stock", "heron"),
        stage("one", "heron", origin="stock", work=WORK),
        stage("two", "heron", origin="one", work=WORK),
        stage("three", "heron", origin="two", work=WORK),
    )
    assert pairs == [
        ("stock", "one"),
        ("one", "two"),
        ("stock", "two"),
        ("two", "three"),
        ("stock", "three"),
    ]


def test_an_instrument_never_recorded_stock_meets_the_stock_ones():
    pairs, _, _ = chosen(
        stage("sister-a", "a"), stage("sister-b", "b"), stage("done", "c", work=WORK)
    )
    assert pairs == [("sister-a", "done"), ("sister-b", "done")]


def test_a_stage_that_came_from_a_sisters_meets_that_one_alone():
    pairs, _, _ = chosen(
        stage("sister-a", "a"),
        stage("sister-b", "b"),
        stage("done", "c", origin="sister-a", work=WORK),
    )
    assert pairs == [("sister-a", "done")]


def test_two_instruments_with_one_stage_each():
    assert chosen(stage("green", "g"), stage("black", "b"))[0] == [("black", "green")]


def test_one_stage_gives_no_comparison_and_no_remark():
    assert chosen(stage("only")) == ([], (), "")


def day(number):
    return date(2026, 3, number)


def heron():
    return (
        stage("stock", "heron", date=day(1)),
        stage("rewound", "heron", origin="stock", date=day(9), work=WORK),
    )


def test_an_unchanged_instrument_on_the_same_two_days_is_the_control():
    pairs, specs, said = chosen(
        *heron(), stage("w1", "wren", date=day(1)), stage("w2", "wren", date=day(9))
    )
    assert pairs == [("stock", "rewound")]
    assert (specs[0].control_before, specs[0].control_after) == ("w1", "w2")
    assert "taken as control" in said


def test_conditions_serve_where_there_are_no_dates():
    _, specs, _ = chosen(
        stage("stock", "heron", conditions="march"),
        stage("rewound", "heron", origin="stock", conditions="april", work=WORK),
        stage("w1", "wren", conditions="march"),
        stage("w2", "wren", origin="w1", conditions="april"),
    )
    assert (specs[0].control_before, specs[0].control_after) == ("w1", "w2")


def test_what_is_not_unmistakable_is_no_control():
    cases = [
        [stage("w1", "wren", date=day(1)), stage("w2", "wren", date=day(8))],  # another day
        [stage("w1", "wren"), stage("w2", "wren")],  # nobody said when
        [stage("w1", "wren", date=day(1)), stage("w2", "wren", date=day(9), work=WORK)],
        [stage("w1", "wren", date=day(1)), stage("w2", "lark", date=day(9))],
    ]
    for more in cases:
        _, specs, said = chosen(*heron(), *more)
        assert all(spec.control_before is None for spec in specs)
        assert "taken as control" not in said


def test_two_possible_controls_are_left_to_the_owner():
    more = [stage(f"{n}{d}", n, date=day(d)) for n in ("wren", "lark") for d in (1, 9)]
    pairs, specs, said = chosen(*heron(), *more)
    assert specs[pairs.index(("stock", "rewound"))].control_before is None
    assert "Several instruments could be the control" in said


def test_stock_stages_are_those_no_work_led_to():
    stages = [*heron(), stage("bought", "x", work=WORK), stage("sister", "y")]
    assert [s.name for s in stock_stages(stages)] == ["stock", "sister"]


def test_four_hundred_stages_in_a_chain_take_no_noticeable_time():
    stages = {
        f"s{i}": Stage(
            f"s{i}", "heron", Path(f"s{i}"), from_stage=f"s{i - 1}" if i else None,
            work=(WorkItem("x"),),
        )
        for i in range(400)
    }  # fmt: skip
    began = time.process_time()
    comparisons, _ = choose_comparisons(stages)
    assert len(comparisons) == 797
    assert time.process_time() - began < 2.0


def test_of_hundreds_that_were_chosen_the_first_are_named():
    pairs, _, said = chosen(*(stage(f"heron-{n:03d}") for n in range(200)))
    assert len(pairs) == 199
    assert said.count('"heron-000" with') == 12
    assert "and so on, 199 in all" in said
