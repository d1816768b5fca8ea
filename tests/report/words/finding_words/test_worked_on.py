"""Voices the work names come first; a change says what was done or that no cause is known."""

from __future__ import annotations

from pathlib import Path

import pytest

from tonecompare.compare.cause_facts import PlaceFacts
from tonecompare.compare.model import Confound
from tonecompare.report.words.finding_words.worked_on import WorkOn, work_on_voices
from tonecompare.report.words.findings import find
from tonecompare.session.model import ComparisonSpec, Recording, Session, Stage, Voice, WorkItem

_REWOUND = WorkOn("bridge pickup rewound", frozenset({"bridge"}))


def _session(what: str, *voices: Voice) -> Session:
    stages = {
        "stock": Stage("stock", "heron", Path("stock")),
        "later": Stage("later", "heron", Path("later"), from_stage="stock",
                       work=(WorkItem(what),)),
    }  # fmt: skip
    return Session(
        "heron", Path(), stages,
        tuple(Recording(stage, one.name, ()) for stage in stages for one in voices),
        comparisons=(ComparisonSpec("stock", "later"),),
        voices={one.name: one for one in voices if one.pickups},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("what", "named"),
    [
        ("Rewound the bridge pickup", {"bridge", "bridge-split"}),
        ("Neck pickup: magnet changed", {"neck"}),
        ("piezo saddle fitted", {"piezo"}),
        ("cavities shielded", set()),
        ("push-pull pot for the coil split", {"bridge-split"}),
        ("new strings, bridged jack", set()),
    ],
)
def test_work_is_matched_to_voices_by_their_names(what, named):
    voices = [Voice(name) for name in ("bridge", "bridge-split", "neck", "piezo")]
    ((_, (work,)),) = work_on_voices(_session(what, *voices)).items()
    assert work.voices == named


def test_work_is_matched_to_voices_by_their_pickups():
    voices = [
        Voice("position 1", pickups=("bridge",)),
        Voice("position 2", pickups=("bridge", "neck")),
        Voice("position 3", pickups=("neck",)),
    ]
    ((_, (work,)),) = work_on_voices(_session("bridge rewound", *voices)).items()
    assert work.voices == {"position 1", "position 2"}


def test_a_voice_the_work_names_comes_before_a_larger_change_it_does_not(row, comparisons_of):
    small = row(voice="bridge", difference=-2.6, ci_low=-3.0, ci_high=-2.2)
    large = row(voice="neck", difference=-9.0, ci_low=-9.4, ci_high=-8.6)
    comparison = small["comparison"]
    plain = find(comparisons_of(small, large))
    assert [one.title for one in plain] == ["Neck", "Bridge"]
    told = find(comparisons_of(small, large), work={comparison: (_REWOUND,)})
    assert [one.title for one in told] == ["Bridge", "Neck"]
    assert told[0].text.endswith(" Work on it: bridge pickup rewound.")
    assert told[1].text.endswith(" No work names it, and no other cause is known.")


def test_what_else_was_found_is_named_where_no_work_does(row, comparisons_of):
    large = row(voice="neck", difference=-9.0, ci_low=-9.4, ci_high=-8.6)
    moved = Confound(
        large["comparison"], "neck", "pick-position", True, 0.02, "", 0.01, 0.03, 0.001,
        ("level_dbfs",), PlaceFacts(None, None),
    )  # fmt: skip
    told = find(comparisons_of(large, confounds=(moved,)), work={large["comparison"]: (_REWOUND,)})
    assert any("No work names it; found beside it: pick position." in one.text for one in told)


def test_work_that_names_no_voice_is_work_on_all(row, comparisons_of):
    large = row(voice="neck", difference=-9.0, ci_low=-9.4, ci_high=-8.6)
    shielded = WorkOn("cavities shielded", frozenset())
    (told,) = find(comparisons_of(large), work={large["comparison"]: (shielded,)})
    assert told.text.endswith(" Work on it: cavities shielded.")


def test_without_work_told_nothing_is_said_of_it(row, comparisons_of):
    (told,) = find(comparisons_of(row()))
    assert "ork" not in told.text


def test_what_is_not_told_at_length_still_tells_its_largest_difference(row, comparisons_of):
    rows = [
        row(voice=f"voice{n}", difference=-4.0 - 2 * n, ci_low=-4.5 - 2 * n, ci_high=-3.5 - 2 * n)
        for n in range(9)
    ]
    (more,) = (one for one in find(comparisons_of(*rows)) if one.kind == "more")
    assert "Voice0, 4.0 dB quieter (3.5 to 4.5)" in more.text


def test_of_voices_side_by_side_a_split_against_its_whole_is_asked_first():
    session = Session(
        "heron", Path(), {"heron": Stage("heron", "heron", Path())},
        tuple(Recording("heron", name, ()) for name in ("neck", "neck-split", "bridge")),
        comparisons=(ComparisonSpec("heron/neck", "heron/bridge"),
                     ComparisonSpec("heron/neck", "heron/neck-split")),
    )  # fmt: skip
    (work,) = work_on_voices(session).values()
    assert work == (WorkOn("", frozenset({"neck-split"})),)


def test_what_is_told_in_short_says_of_which_comparison_where_there_are_several(
    row, comparisons_of
):
    rows = [
        row(voice=f"voice{n}", difference=-4.0 - 2 * n, ci_low=-4.5 - 2 * n, ci_high=-3.5 - 2 * n)
        for n in range(9)
    ]
    rows.append(row(comparison="c to d", voice="small"))
    (more,) = (one for one in find(comparisons_of(*rows)) if one.kind == "more")
    assert f"Voice0 ({rows[0]['comparison']}), 4.0 dB quieter" in more.text
