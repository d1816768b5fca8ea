"""Spread between unmodified guitars, and between sessions without work."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, session, told_notes
from scipy import stats

from tonecompare.compare import compare_session
from tonecompare.compare.guitars.guitar_spread import (
    guitars_table,
    repeat_pairs,
    sessions_table,
    stock_stages,
)
from tonecompare.session.model import ComparisonSpec, Instrument, Session, Stage, WorkItem


def _stage(name: str, instrument: str, origin: str | None = None, *, work: bool = False) -> Stage:
    items = (WorkItem("rewind"),) if work else ()
    return Stage(name, instrument, Path(name), origin, work=items)


def _levels(stage: str, at: float) -> pd.DataFrame:
    return plucks(stage, {"level_dbfs": {n: [at + 0.5 * x for x in FIVE] for n in STRINGS}})


STOCK = [_stage("heron-a", "heron a"), _stage("heron-b", "heron b"), _stage("heron-c", "heron c")]
DONE = _stage("heron-a-rewound", "heron a", "heron-a", work=True)
GUITARS = {name: Instrument(name, model="heron") for name in ("heron a", "heron b", "heron c")}
ACROSS = [ComparisonSpec("heron-b", "heron-a-rewound")]


def _session() -> Session:
    return session(*STOCK, DONE, comparisons=ACROSS, instruments=GUITARS)


def _frames(after: float) -> list[pd.DataFrame]:
    levels = {"heron-a": -21.0, "heron-b": -20.0, "heron-c": -19.0, "heron-a-rewound": after}
    return [_levels(stage, at) for stage, at in levels.items()]


@pytest.mark.parametrize(("after", "outside"), [(-14.0, True), (-17.0, False)])
def test_closed_form_of_the_expected_spread(after: float, outside: bool) -> None:
    table = guitars_table(_session(), measurements(*_frames(after)))
    row = table[table["quantity"] == "level_dbfs"].iloc[0]
    # Three guitars at -21, -20, -19: standard deviation 1, mean -20; one more is expected within
    # t(0.975, 2) sqrt(1 + 1/3) = 4.968 of the mean.
    expected = stats.t.ppf(0.975, 2) * np.sqrt(4.0 / 3.0)
    assert row["guitars_sd"] == pytest.approx(1.0)
    assert row["difference"] == pytest.approx(after + 20.0)
    assert row["expected_high"] == pytest.approx(expected)
    assert row["expected_low"] == pytest.approx(-expected)
    assert row["outside"] == outside
    assert (row["n_guitars"], row["n_notes"], row["stage"]) == (3, 6, "heron-a-rewound")


def test_two_unmodified_guitars_are_no_spread() -> None:
    known = session(*STOCK[:2], DONE, instruments=GUITARS)
    assert len(guitars_table(known, measurements(*_frames(-14.0)))) == 0


def test_a_worked_on_stage_is_no_stock() -> None:
    found = [stage.name for stage in stock_stages(_session(), "heron")]
    assert found == ["heron-a", "heron-b", "heron-c"]


@pytest.mark.parametrize("model", ["", "plover"])
def test_guitars_of_another_model_or_of_none_are_no_spread(model: str) -> None:
    other = GUITARS | {"heron c": Instrument("heron c", model=model)}
    known = session(*STOCK, DONE, comparisons=ACROSS, instruments=other)
    assert len(guitars_table(known, measurements(*_frames(-14.0)))) == 0
    unnamed = session(*STOCK, DONE, comparisons=ACROSS)
    assert len(guitars_table(unnamed, measurements(*_frames(-14.0)))) == 0


def test_two_guitars_compared_say_what_differs_not_why() -> None:
    result = compare_session(_session(), measurements(*_frames(-14.0)))
    notes = told_notes(result, "heron-b to heron-a-rewound")
    assert "says what differs, not why" in notes
    assert "set against its sister heron b" in notes
    assert "two guitars of one model (heron) differ before anyone touches them" in notes
    assert "3 unmodified ones were recorded" in notes
    assert len(result.tables["guitars"]) == 1
    few = session(STOCK[1], DONE, comparisons=ACROSS, instruments=GUITARS)
    result = compare_session(few, measurements(*_frames(-14.0)))
    assert "at least three unmodified ones" in told_notes(result, *result.notes)
    strangers = session(STOCK[1], DONE, comparisons=ACROSS)
    result = compare_session(strangers, measurements(*_frames(-14.0)))
    assert "sister" not in told_notes(result, *result.notes)
    assert "at least three unmodified guitars of its model" in told_notes(result, *result.notes)


def test_sessions_without_work_show_what_another_day_brings() -> None:
    stages = [
        _stage("plover-1", "plover"),
        _stage("plover-2", "plover", "plover-1"),
        _stage("plover-3", "plover", "plover-2"),
        *STOCK[:1],
        DONE,
    ]
    known = session(*stages, comparisons=[ComparisonSpec("heron-a", "heron-a-rewound")])
    assert repeat_pairs(known) == (("plover-1", "plover-2"), ("plover-2", "plover-3"))
    frames = [_levels(f"plover-{k}", at) for k, at in ((1, -20.0), (2, -19.0), (3, -20.5))]
    row = sessions_table(known, measurements(*frames, *_frames(-14.0))).iloc[0]
    # Drifts +1 and -1.5 dB: mean -0.25, root mean square sqrt((1 + 2.25)/2).
    assert (row["n_pairs"], row["drift"]) == (2, pytest.approx(-0.25))
    assert row["drift_sd"] == pytest.approx(np.sqrt(1.625))


def test_a_compared_pair_is_no_repeat_even_without_listed_work() -> None:
    stages = [_stage("stock", "heron"), _stage("rewound", "heron", "stock")]
    assert repeat_pairs(session(*stages)) == ()
    assert repeat_pairs(session(*stages, comparisons=[ComparisonSpec("stock", "rewound")])) == ()
