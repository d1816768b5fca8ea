"""A planned session: the files it writes, and that this package reads its own session.toml back."""

from __future__ import annotations

import re
import tomllib

import pytest
from bracketed import Bracketed, outside

from tonecompare.errors import InputError
from tonecompare.language import catalogue, in_language
from tonecompare.session import PlanOptions, load_session, read_session_toml, write_plan
from tonecompare.session.plan.planned_session import SHEET_FILE, make_plan
from tonecompare.session.plan.selectors import LAYOUTS, planned_voices
from tonecompare.session.plan.toml_text import session_toml

HERON = PlanOptions(
    title='Heron — "rewound" & <split>',
    instruments=("heron",),
    controls=("the wren",),
    stages=("stock", "rewound", "piezo added"),
    layout="five-way",
    splits=("bridge", "neck"),
    outputs="both",
    tuning=("D2", "A2", "D3", "G3", "Bb3", "D4"),
    frets=(0, 12),
    mains_hz=50,
)


def tree(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_what_is_written(tmp_path):
    written = write_plan(tmp_path / "new" / "heron", HERON)
    assert tree(tmp_path / "new" / "heron") == sorted(
        [
            "heron-piezo added", "heron-rewound", "heron-stock", "how-many-plucks.html",
            "session.toml", "take-sheet.html",
            "the wren-with-piezo added", "the wren-with-rewound", "the wren-with-stock",
        ]
    )  # fmt: skip
    assert all(path.is_dir() for path in written.folders)
    assert written.session_file.read_bytes().count(b"\r") == 0


def test_its_session_toml_is_read_back(tmp_path):
    told = read_session_toml(write_plan(tmp_path, HERON).session_file)
    assert told.title == HERON.title
    assert (told.mains_hz, told.a4_hz) == (50.0, 440.0)
    assert list(told.instruments) == ["heron", "the wren"]
    assert told.instruments["heron"].tuning == ("D2", "A2", "D3", "G3", "A#3", "D4")
    assert told.stages["heron-piezo added"].from_stage == "heron-rewound"
    assert told.stages["the wren-with-rewound"].instrument == "the wren"
    assert told.stages["heron-stock"].conditions == "session-1"
    assert told.stages["the wren-with-stock"].conditions == "session-1"
    assert [(c.before, c.after) for c in told.comparisons] == [
        ("heron-stock", "heron-rewound"),
        ("heron-rewound", "heron-piezo added"),
        ("heron-stock", "heron-piezo added"),
    ]
    assert told.comparisons[2].control_before == "the wren-with-stock"
    assert told.comparisons[2].control_after == "the wren-with-piezo added"
    assert told.voices["neck-split"].split
    assert told.voices["bridge-and-piezo"].outputs == ("magnetic", "piezo")
    assert told.voices["bridge-piezo-blend"].outputs == ("blend",)
    assert {v.name: v for v in make_plan(HERON).voices} == dict(told.voices)


def test_every_note_in_it_can_be_used_by_taking_the_mark_away(tmp_path):
    path = write_plan(tmp_path, HERON).session_file
    lines = []
    for line in path.read_text(encoding="utf-8").splitlines():
        key = line.removeprefix("# ").split(" =")[0].replace("_", "")
        uncomment = line.startswith("# ") and " = " in line and key.isalnum() and "mains" not in key
        lines.append(line[2:] if uncomment or line == "# [worth]" else line)
    path.write_text("\n".join(lines), encoding="utf-8")
    told = read_session_toml(path)
    bench = told.conditions["session-2"]
    assert None not in vars(bench).values()
    assert told.stages["heron-rewound"].work[0].hours == 2.5
    assert told.stages["the wren-with-rewound"].work == ()
    assert told.instruments["heron"].scale_length_mm == 648.0
    assert told.voices["bridge"].pickup_distance_mm == 45.0
    assert told.worth.hourly_rate == 60.0
    assert told.stages["heron-stock"].date is not None


def test_a_planned_session_loads_as_soon_as_one_stage_is_recorded(tmp_path):
    write_plan(tmp_path, HERON)
    with pytest.raises(InputError, match="no stage folder with recordings"):
        load_session(tmp_path)
    (tmp_path / "heron-stock" / "bridge.wav").touch()
    session = load_session(tmp_path)
    assert session.voices_of("heron-stock") == ("bridge",)
    assert not session.comparisons
    assert not session.left_out


def test_nothing_is_overwritten(tmp_path):
    for name in ("session.toml", SHEET_FILE, "how-many-plucks.html"):
        folder = tmp_path / name.replace(".", "-")
        folder.mkdir()
        (folder / name).write_text("mine")
        with pytest.raises(InputError, match=f"{name}: exists already.*nothing was written"):
            write_plan(folder, HERON)
        assert tree(folder) == [name]
        assert (folder / name).read_text() == "mine"


def test_recordings_already_there_stay(tmp_path):
    (tmp_path / "heron-stock").mkdir()
    (tmp_path / "heron-stock" / "bridge.wav").write_bytes(b"sound")
    write_plan(tmp_path, HERON)
    assert (tmp_path / "heron-stock" / "bridge.wav").read_bytes() == b"sound"


def test_a_bad_option_leaves_no_trace(tmp_path):
    with pytest.raises(InputError, match="repeats is 0"):
        write_plan(tmp_path / "x", PlanOptions(repeats=0))
    assert not (tmp_path / "x").exists()


def test_places_that_cannot_be_written(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="is a file; give a folder"):
        write_plan(tmp_path / "file", HERON)
    with pytest.raises(InputError, match="cannot be written"):
        write_plan(tmp_path / "file" / "deeper", HERON)


def test_the_title_is_the_folders_name_when_none_is_given(tmp_path):
    told = read_session_toml(write_plan(tmp_path / "käfer", PlanOptions()).session_file)
    assert told.title == "käfer"


@pytest.mark.parametrize(
    ("options", "piece"),
    [
        (PlanOptions(layout="five-wya"), 'Did you mean "five-way"'),
        (PlanOptions(layout=()), "has no voices"),
        (PlanOptions(layout=("neck", "Neck")), '"Neck" stands there twice'),
        (PlanOptions(layout=("a/b",)), "becomes the name of a file"),
        (PlanOptions(splits=("nekc",)), 'Did you mean "neck"'),
        (PlanOptions(outputs="magnets"), 'Did you mean "magnetic"'),
        (PlanOptions(tuning=("E2", "H2")), 'tuning: "H2" is no note name'),
        (PlanOptions(tuning=()), "no note is to be plucked"),
        (PlanOptions(frets=(99,)), "fret 99 is not on a guitar"),
        (PlanOptions(mains_hz=55), "mains_hz is 55"),
        (PlanOptions(instruments=()), "no instrument"),
        (PlanOptions(stages=()), "no stage"),
        (PlanOptions(stages=("a", "A")), 'stage "A" stands there twice'),
        (PlanOptions(instruments=("x",), controls=("x",)), 'instrument "x" stands there twice'),
        (PlanOptions(stages=(".hidden",)), "begin or end with"),
        (PlanOptions(instruments=("a", "a-b"), stages=("b-c", "c")), "share one folder"),
    ],
)
def test_options_that_cannot_be(options, piece):
    with pytest.raises(InputError, match=piece):
        make_plan(options)


def test_order_is_shuffled_by_the_seed_and_the_first_voice_comes_again():
    plan = make_plan(HERON)
    names = sorted(voice.name for voice in plan.voices)
    orders = []
    for stage in plan.stages:
        order = [voice.name for voice in stage.order]
        assert order[-1] == f"{order[0]}-again"
        if not stage.control:
            assert sorted(order[:-1]) == names
            orders.append(tuple(order))
    assert len(set(orders)) == len(orders)
    assert make_plan(HERON) == plan
    other = PlanOptions(**{**vars(HERON), "seed": 2})
    assert [s.order for s in make_plan(other).stages] != [s.order for s in plan.stages]


def test_every_voice_has_its_turn_at_every_place():
    firsts = {
        make_plan(PlanOptions(layout="five-way", seed=seed)).stages[0].order[0].name
        for seed in range(60)
    }
    # five voices, 60 draws: the chance that a fair shuffle misses one is below 5 · 0.8^60 = 8e-6
    assert firsts == set(LAYOUTS["five-way"])


def test_a_control_is_recorded_through_its_magnetic_pickups():
    for stage in make_plan(HERON).stages:
        outputs = {voice.outputs for voice in stage.order}
        assert (outputs == {("magnetic",)}) == stage.control


def test_voices_of_layouts():
    assert [v.name for v in planned_voices("three-way")] == ["bridge", "bridge-neck", "neck"]
    assert [v.name for v in planned_voices("one", splits=["Bridge"])] == ["bridge", "bridge-split"]
    assert [v.name for v in planned_voices("one", outputs="piezo")] == ["piezo"]
    own = planned_voices(("middle pickup", "both"), outputs="both")
    assert [v.name for v in own][2:] == [
        "piezo", "middle pickup-and-piezo", "middle pickup-piezo-blend"
    ]  # fmt: skip


def test_notes_follow_from_tuning_and_frets():
    notes = make_plan(PlanOptions(tuning=("E2", "E4"), frets=(0, 5, 5))).notes
    assert [(n.string, n.fret, n.note) for n in notes] == [
        (2, 0, "E2"), (2, 5, "A2"), (1, 0, "E4"), (1, 5, "A4")
    ]  # fmt: skip


def test_planned_plucks_reach_the_session(tmp_path):
    told = read_session_toml(write_plan(tmp_path, HERON).session_file)
    assert told.planned.notes == (
        "D2", "D3", "A2", "A3", "D4", "G3", "G4", "A#3", "A#4", "D5",
    )  # fmt: skip
    assert told.planned.repeats == 5
    (tmp_path / "session.toml").write_text('[plan]\nnotes = ["X2"]\nrepeats = 0\n')
    with pytest.raises(InputError, match=r"(?s)plan\.notes\[1\].*plan\.repeats: found 0"):
        read_session_toml(tmp_path / "session.toml")


def test_the_plan_names_the_voice_that_comes_again(tmp_path):
    written = write_plan(tmp_path / "s", HERON)
    told = read_session_toml(written.session_file)
    for stage in make_plan(HERON).stages:
        assert told.stages[stage.folder].again == stage.order[0].name


def test_what_is_played_comes_back_from_the_file(tmp_path):
    options = PlanOptions(layout="one", play=("chords", "riff"))
    told = read_session_toml(write_plan(tmp_path, options).session_file)
    assert told.planned is not None
    assert told.planned.play == ("chords", "riff")
    plain = read_session_toml(write_plan(tmp_path / "plain", PlanOptions()).session_file)
    assert plain.planned is not None
    assert plain.planned.play == ("plucks",)


def test_session_toml_names_its_language_and_speaks_it(monkeypatch):
    monkeypatch.setattr(catalogue, "languages", lambda: ("en", "de"))
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())
    plan = make_plan(PlanOptions(controls=("wren",), outputs="both", play=("plucks", "riff")))
    with in_language("de"):
        text = session_toml(plan)
    assert tomllib.loads(text)["language"] == "de"
    notes = [line.partition("#")[2].strip(" #") for line in outside(text).splitlines()]
    unsaid = [note for note in notes if note and not re.match(r"\w+ =|\[worth\]", note)]
    assert unsaid == []
    assert "language" not in tomllib.loads(session_toml(plan))
