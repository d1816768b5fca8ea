"""Which guitars stand in one table, and what against what: invented sessions, truths by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, session

from tonecompare.compare import compare_session
from tonecompare.compare.guitars.side_by_side import further_specs, guitar_groups
from tonecompare.session.model import ComparisonSpec, Instrument, Session, Stage, WorkItem

#: Mean level of each voice at each stage; what a stage does not have is not there.
LEVELS = {
    "tern-stock": {"bridge": -20.0, "neck": -22.0},
    "tern-light": {"bridge": -17.0, "neck": -22.0},
    "tern-full": {"bridge": -14.0, "neck": -22.0, "split": -26.0, "piezo": -30.0},
    "tern-more": {"bridge": -13.0, "split": -25.0},
}


def _frames(levels: dict[str, dict[str, float]] = LEVELS) -> list[pd.DataFrame]:
    """Plucks of each stage; from note to note a stage strays by as much up as down."""
    frames = []
    for stray, (stage, voices) in enumerate(levels.items()):
        for voice, at in voices.items():
            notes = {
                note: [at + 0.1 * stray * (-1) ** number + 0.2 * x for x in FIVE]
                for number, note in enumerate(STRINGS)
            }
            frames.append(plucks(stage, {"level_dbfs": notes}, voice=voice))
    return frames


def _tern(name: str, *, origin: str | None = "tern-stock") -> Stage:
    work = (WorkItem("work"),) if origin else ()
    return Stage(name, name.replace("-", " "), Path(name), origin, work=work)


def _sisters(*, model: str = "tern") -> Session:
    stages = [_tern("tern-stock", origin=None), *map(_tern, list(LEVELS)[1:])]
    guitars = {stage.instrument: Instrument(stage.instrument, model=model) for stage in stages}
    return session(*stages, instruments=guitars)


def test_sisters_stand_in_one_table_each_voice_against_the_first_that_has_it() -> None:
    (group,) = guitar_groups(_sisters(), measurements(*_frames()))
    assert group.stages == ("tern-stock", "tern-light", "tern-full", "tern-more")
    assert group.sisters == ("tern-light", "tern-full", "tern-more")
    assert (group.strangers, group.unnamed) == ((), False)
    beside = {each.voice: (each.reference, each.others) for each in group.voices}
    assert beside["bridge"] == ("tern-stock", ("tern-light", "tern-full", "tern-more"))
    assert beside["split"] == ("tern-full", ("tern-more",))
    assert beside["piezo"] == ("tern-full", ())


def test_every_cell_has_its_difference() -> None:
    known, measured = _sisters(), measurements(*_frames())
    result = compare_session(known, measured)
    for voice in guitar_groups(known, measured)[0].voices:
        for other in voice.others:
            name = ComparisonSpec(voice.reference, other).name
            rows = result.holding(name).differences
            rows = rows[(rows["comparison"] == name) & (rows["voice"] == voice.voice)]
            rows = rows[(rows["note"] == "all") & (rows["quantity"] == "level_dbfs")]
            row = rows.iloc[0]
            truth = LEVELS[other][voice.voice] - LEVELS[voice.reference][voice.voice]
            assert row["difference"] == pytest.approx(truth, abs=1e-9)
            assert row["ci_low"] <= truth <= row["ci_high"]
            expected = {0.0: "no-change", 1.0: "measurable"}.get(truth, "likely-audible")
            assert row["verdict"] == expected


def test_only_what_the_session_does_not_compare_is_compared_beside_it() -> None:
    measured = measurements(*_frames())
    names = [spec.name for spec in further_specs(_sisters(), measured)]
    # Each against the stage it came from is a comparison of the session's own.
    assert names == ["tern-full to tern-more"]
    alone = compare_session(replace(_sisters(), stages={}), measurements())
    assert alone.further is None


def test_the_sessions_own_verdicts_stay_as_they_are() -> None:
    measured = measurements(*_frames())
    both = compare_session(_sisters(), measured)
    assert both.further is not None
    specs = [ComparisonSpec("tern-stock", name) for name in list(LEVELS)[1:]]
    known = replace(_sisters(), comparisons=tuple(specs))
    pd.testing.assert_frame_equal(
        both.differences.drop(columns="reason"),
        compare_session(known, measured).differences.drop(columns="reason"),
    )


def test_the_first_given_is_the_first_of_guitars_nobody_described() -> None:
    stages = [Stage(name, "", Path(name)) for name in LEVELS]
    specs = [ComparisonSpec("tern-stock", name) for name in list(LEVELS)[1:]]
    known = session(*reversed(stages), comparisons=specs)
    (group,) = guitar_groups(known, measurements(*_frames()))
    assert group.first == "tern-stock"
    assert (group.sisters, group.strangers, group.unnamed) == ((), (), True)


def test_guitars_of_no_model_that_are_compared_are_strangers() -> None:
    specs = [ComparisonSpec("tern-stock", name) for name in list(LEVELS)[1:]]
    known = replace(_sisters(model=""), comparisons=tuple(specs))
    (group,) = guitar_groups(known, measurements(*_frames()))
    assert group.sisters == ()
    assert group.strangers == ("tern-light", "tern-full", "tern-more")


@pytest.mark.parametrize("count", [1, 2])
def test_two_stages_are_a_comparison_and_no_table(count: int) -> None:
    few = dict(list(LEVELS.items())[:count])
    assert guitar_groups(_sisters(), measurements(*_frames(few))) == ()


def test_strangers_do_not_meet() -> None:
    known = _sisters(model="")
    alone = {name: replace(stage, from_stage=None, work=()) for name, stage in known.stages.items()}
    assert guitar_groups(replace(known, stages=alone), measurements(*_frames())) == ()


def test_a_voice_recorded_again_is_no_voice() -> None:
    again = {name: {**voices, "bridge-again": -20.0} for name, voices in LEVELS.items()}
    (group,) = guitar_groups(_sisters(), measurements(*_frames(again)))
    assert "bridge-again" not in {each.voice for each in group.voices}
