"""Whatever is planned, the session.toml written for it is read back as it was meant, or refused."""

from __future__ import annotations

import datetime
import tempfile
import unicodedata
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as some

from tonecompare.errors import InputError
from tonecompare.session import PlanOptions, WorkItem, read_session_toml, write_plan
from tonecompare.session.plan.planned_session import make_plan
from tonecompare.session.plan.selectors import LAYOUTS

#: Names with what TOML, folders and terminals stumble over.
NAMES = some.text(
    some.sampled_from("aÄé🎸 .-_#='\"\\[]{}<&\u202e\u05d0\x1b\x7f\n\t0\u0301"),
    min_size=1,
    max_size=6,
).map(lambda name: unicodedata.normalize("NFC", name))  # as every name is read
PLANS = some.builds(
    lambda **kept: kept,
    title=NAMES | some.just(""),
    instruments=some.lists(NAMES, min_size=1, max_size=2).map(tuple),
    controls=some.lists(NAMES, max_size=1).map(tuple),
    stages=some.lists(NAMES, min_size=1, max_size=3).map(tuple),
    layout=some.sampled_from(sorted(LAYOUTS)),
    frets=some.lists(some.integers(0, 24), min_size=1, max_size=3).map(tuple),
    repeats=some.integers(1, 20),
    mains_hz=some.sampled_from([None, 50, 60]),
    scale=some.floats(250.0, 1300.0),
    gain_db=some.floats(-100.0, 100.0),
    date=some.dates(datetime.date(1900, 1, 1)),
    what=NAMES,
    cost=some.floats(0.0, 1e7),
)


@pytest.mark.parametrize("count", [15, pytest.param(1000, marks=pytest.mark.long)])
def test_a_plan_comes_back_from_its_session_toml(count):
    came_back = 0

    @settings(max_examples=count, deadline=None, derandomize=True, database=None,
              phases=[Phase.generate])  # fmt: skip
    @given(made=PLANS)
    def holds(made):
        nonlocal came_back
        scale, gain_db, date, what, cost = (
            made.pop(name) for name in ("scale", "gain_db", "date", "what", "cost")
        )
        first, last = made["stages"][0], made["stages"][-1]
        options = PlanOptions(
            **made, dates={first: date}, gains_db={first: gain_db},
            scale_lengths_mm={made["instruments"][0]: scale},
            work={last: WorkItem(what, cost, 0.5)} if last != first else {},
        )  # fmt: skip
        with tempfile.TemporaryDirectory() as folder:
            try:
                plan = make_plan(options)
                path = write_plan(Path(folder) / "s", options).session_file
            except InputError:  # a name that no folder can have
                return
            told = read_session_toml(path)
        came_back += 1
        assert told.title == (plan.title if options.title.strip() else "s")
        assert list(told.stages) == [stage.folder for stage in plan.stages]
        assert dict(told.voices) == {voice.name: voice for voice in plan.voices}
        guitar = told.instruments[plan.stages[0].instrument]
        assert guitar.scale_length_mm == scale
        opened = told.stages[plan.stages[0].folder]
        assert opened.date == date
        assert told.conditions[str(opened.conditions)].interface_gain_db == gain_db
        assert told.planned is not None
        assert told.planned.repeats == options.repeats
        works = [item for stage in told.stages.values() for item in stage.work]
        meant = [(what.strip(), cost, 0.5)] * len(works)
        assert [(item.what, item.parts_cost or 0.0, item.hours) for item in works] == meant
        assert len(works) == len(made["instruments"]) * len(options.work)

    holds()
    assert came_back > count // 8
