"""Sessions from folders, from session.toml and from two folders."""

from __future__ import annotations

from pathlib import Path

import pytest

from tonecompare.errors import InputError, SessionError
from tonecompare.session import ComparisonSpec, Session, load_session, session_from_pair


def lay(root: Path, toml: str | None = None, **stages: str) -> Path:
    """Make stage folders: ``heron_stock="bridge neck"`` gives heron-stock/bridge.wav, …"""
    root.mkdir(exist_ok=True, parents=True)
    for name, voices in stages.items():
        folder = root / name.replace("_", "-")
        folder.mkdir(parents=True)
        for voice in voices.split():
            (folder / (voice if "." in voice else f"{voice}.wav")).touch()
    if toml is not None:
        (root / "session.toml").write_text(toml, encoding="utf-8")
    return root


def pairs(session: Session) -> list[tuple[str, str]]:
    return [(c.before, c.after) for c in session.comparisons]


def said(session: Session) -> str:
    return "\n".join(session.remarks)


HERON = """
[instruments.heron]
[instruments.wren]
[stages.heron-stock]
instrument = "heron"
[stages.heron-rewound]
instrument = "heron"
from = "heron-stock"
work = [{what = "rewind"}]
"""


def test_bare_folders_are_stages_and_files_are_voices(tmp_path):
    root = lay(tmp_path / "heron", heron_rewound="bridge neck", heron_stock="neck Bridge")
    session = load_session(root)
    assert session.title == "heron"
    assert list(session.stages) == ["heron-stock", "heron-rewound"]
    assert session.root == root
    assert [(r.stage, r.voice) for r in session.recordings] == [
        ("heron-stock", "Bridge"),
        ("heron-stock", "neck"),
        ("heron-rewound", "Bridge"),
        ("heron-rewound", "neck"),
    ]
    assert pairs(session) == [("heron-stock", "heron-rewound")]
    assert "No comparisons were named" in said(session)
    assert session.stages["heron-stock"].instrument == ""
    assert session.file_name(session.recordings[0].files[0]) == "heron-stock/Bridge.wav"


def test_the_path_of_the_toml_does_as_well(tmp_path):
    root = lay(tmp_path / "a", HERON, heron_stock="neck", heron_rewound="neck")
    assert load_session(root / "session.toml") == load_session(root)


def test_toml_stages_get_their_folders_and_recordings(tmp_path):
    toml = HERON + '[voices.Neck]\nsplit = true\n[[comparisons]]\nbefore = "heron-stock"\n'
    toml += 'after = "heron-rewound"\n'
    root = lay(tmp_path / "s", toml, Heron_Stock="neck", heron_rewound="NECK", wren="neck")
    session = load_session(root)
    assert list(session.stages) == ["heron-stock", "heron-rewound"]
    assert session.stages["heron-stock"].folder == root / "Heron-Stock"
    assert {r.voice for r in session.recordings} == {"Neck"}
    assert session.voice("Neck").split
    assert session.comparisons == (ComparisonSpec("heron-stock", "heron-rewound"),)
    assert session.remarks == ("[instruments.wren] has no effect: no stage names it.",)
    assert [each.file for each in session.left_out] == ["wren"]
    assert "Add [stages.wren]" in session.left_out[0].reason


def test_toml_without_stages_takes_the_folders(tmp_path):
    toml = '[instruments.heron]\n[[comparisons]]\nbefore = "One"\nafter = "two"\n'
    session = load_session(lay(tmp_path / "s", toml, one="neck", two="neck"))
    assert session.stages["one"].instrument == "heron"
    assert pairs(session) == [("one", "two")]


def test_toml_without_stages_and_a_comparison_that_leads_nowhere(tmp_path):
    toml = '[[comparisons]]\nbefore = "one"\nafter = "tow"\n'
    with pytest.raises(SessionError, match=r'comparisons\[1\].after: .*Did you mean "two"'):
        load_session(lay(tmp_path / "s", toml, one="neck", two="neck"))


def test_a_misspelt_stage_or_voice_is_asked_about(tmp_path):
    root = lay(tmp_path / "s", HERON, heron_stok="neck", heron_rewound="neck")
    with pytest.raises(SessionError, match=r'stages.heron-stock: .*Did you mean "heron-stok"'):
        load_session(root)
    root = lay(tmp_path / "v", HERON + "[voices.brigde]", heron_stock="bridge")
    with pytest.raises(SessionError, match=r'voices.brigde: .*Did you mean "bridge"'):
        load_session(root)


def test_a_stage_not_recorded_yet_is_no_fault(tmp_path):
    toml = HERON + '[[comparisons]]\nbefore="heron-stock"\nafter="heron-rewound"\n'
    session = load_session(lay(tmp_path / "s", toml, heron_stock="neck", heron_rewound=""))
    assert not session.comparisons
    assert not session.left_out
    assert 'nothing is recorded at "heron-rewound" yet' in said(session)
    assert "heron-rewound" in session.stages


def test_voices_without_partner_are_named(tmp_path):
    root = lay(tmp_path / "s", stock="neck bridge-spilt", rewound="neck bridge-split piezo")
    session = load_session(root)
    assert session.common_voices("stock", "rewound") == ("neck",)
    assert 'Voice "piezo" was recorded at "rewound" and not at "stock"' in said(session)
    assert 'look alike: "bridge-spilt" and "bridge-split". If they are one voice' in said(session)
    assert '[voices.bridge-spilt] files = ["bridge-split"]' in said(session)


def test_a_voice_recorded_again_needs_no_partner(tmp_path):
    toml = '[voices.piezo]\noutput = "piezo"\n'
    session = load_session(
        lay(tmp_path / "s", toml, stock="piezo piezo-again", new="piezo x-again")
    )
    assert "piezo-again" not in said(session)
    assert '"x-again"' in said(session), "nobody recorded x a first time"
    assert session.voice("piezo-again").outputs == ("piezo",)
    assert session.voice("piezo-again").name == "piezo-again"


def test_loose_files_beside_the_stages_are_left_out(tmp_path):
    root = lay(tmp_path / "s", before="neck", after="neck")
    (root / "loose.wav").touch()
    (root / "notes.txt").touch()
    session = load_session(root)
    assert [(each.file, each.reason[:4]) for each in session.left_out] == [("loose.wav", "Lies")]


def test_reports_beside_the_stages_are_no_stages(tmp_path):
    root = lay(tmp_path / "s", before="neck", after="neck", reports="x", mine="x")
    (root / "mine" / "summary.json").write_text('{\n "made_by": "tonecompare report",\n')
    assert set(load_session(root).stages) == {"before", "after"}


def test_a_stage_with_a_table_or_a_summary_in_it_stays_one(tmp_path):
    root = lay(tmp_path / "s", before="neck measurements.csv", after="neck summary.json")
    assert set(load_session(root).stages) == {"before", "after"}


def test_a_report_is_no_session_though_it_holds_sounds(tmp_path):
    root = lay(tmp_path / "report", clips="neck bridge")
    (root / "summary.json").write_text('{\n "made_by": "tonecompare report",\n')
    with pytest.raises(InputError, match="was written by tonecompare, it is no session"):
        load_session(root)


@pytest.mark.parametrize(
    ("lay_it", "piece"),
    [
        (lambda p: p / "none", "there is no such folder"),
        (lambda p: lay(p / "s"), "is empty"),
        (lambda p: lay(p / "s", one="", two="notes.txt"), "no stage folder with recordings"),
        (lambda p: lay(p, s="neck bridge") / "s", r'"bridge.wav" and "neck.wav".*no stage folders'),
        (lambda p: lay(p / "s", HERON, heron_stock=""), "no stage folder with recordings"),
        (lambda p: lay(p / "s", one="neck.m4a"), "neck.m4a: Files of this kind cannot be read"),
    ],
)
def test_a_session_without_recordings(tmp_path, lay_it, piece):
    with pytest.raises(InputError, match=piece):
        load_session(lay_it(tmp_path))


def test_a_pair_without_toml(tmp_path):
    root = lay(tmp_path / "heron", after="neck x", before="neck y")
    session = session_from_pair(root / "before", root / "after")
    assert list(session.stages) == ["before", "after"]
    assert session.comparisons == (ComparisonSpec("before", "after"),)
    assert session.title == "before to after"
    assert session.root == root
    assert session.common_voices("before", "after") == ("neck",)
    assert all(stage.instrument == "" for stage in session.stages.values())


def test_the_pair_keeps_the_given_direction(tmp_path):
    root = lay(tmp_path / "s", stock="neck", rewound="neck")
    assert pairs(session_from_pair(root / "rewound", root / "stock")) == [("rewound", "stock")]


def test_folders_of_equal_name_are_told_apart(tmp_path):
    lay(tmp_path / "x" / "heron", before="neck")
    lay(tmp_path / "y" / "wren", before="neck")
    lay(tmp_path / "y" / "heron", before="neck")
    pair = session_from_pair(tmp_path / "x/heron/before", tmp_path / "y/wren/before")
    assert list(pair.stages) == ["heron before", "wren before"]
    deeper = session_from_pair(tmp_path / "x/heron/before", tmp_path / "y/heron/before")
    assert list(deeper.stages) == ["x heron before", "y heron before"]
    assert deeper.root == tmp_path
    assert deeper.file_name(deeper.recordings[0].files[0]) == "x/heron/before/neck.wav"


TWO_DAYS = """
mains_hz = 60
[conditions.bench]
pick = "1 mm"
[instruments.heron]
scale_length_mm = 648
[instruments.wren]
[stages.stock]
instrument = "heron"
conditions = "bench"
[stages.step-1]
instrument = "heron"
from = "stock"
[stages.step-2]
instrument = "heron"
from = "step-1"
[stages.wren-1]
instrument = "wren"
[stages.wren-2]
instrument = "wren"
[voices.neck]
outputs = ["magnetic", "piezo"]
[[comparisons]]
before = "stock"
after = "step-1"
control_before = "wren-1"
control_after = "wren-2"
"""


def test_a_pair_inside_a_session_uses_its_toml(tmp_path):
    voices = dict.fromkeys(("stock", "step_1", "step_2", "wren_1", "wren_2"), "neck")
    root = lay(tmp_path / "s", TWO_DAYS, **voices)
    session = session_from_pair(root / "stock", root / "step-2")
    assert list(session.stages) == ["stock", "step-2"]
    assert session.instrument_of("stock").scale_length_mm == 648.0
    assert session.voice("neck").outputs == ("magnetic", "piezo")
    assert session.mains_hz == 60.0
    assert session.conditions["bench"].pick == "1 mm"
    assert session.stages["step-2"].from_stage is None, "step-1 is not at hand"
    assert session.comparisons == (ComparisonSpec("stock", "step-2"),)


def test_a_pair_brings_the_control_named_for_it(tmp_path):
    voices = dict.fromkeys(("stock", "step_1", "step_2", "wren_1", "wren_2"), "neck")
    root = lay(tmp_path / "s", TWO_DAYS, **voices)
    session = session_from_pair(root / "stock", root / "step-1")
    assert session.comparisons == (ComparisonSpec("stock", "step-1", "wren-1", "wren-2"),)
    assert list(session.stages) == ["stock", "step-1", "wren-1", "wren-2"]
    assert {r.stage for r in session.recordings} == set(session.stages)


def test_a_pair_brings_the_control_when_stages_are_bare_folders(tmp_path):
    toml = TWO_DAYS[TWO_DAYS.index("[[comparisons]]") :]
    root = lay(tmp_path / "s", toml, Stock="neck", step_1="neck", Wren_1="neck", wren_2="neck")
    session = session_from_pair(root / "Stock", root / "step-1")
    assert session.comparisons == (ComparisonSpec("Stock", "step-1", "wren-1", "wren-2"),)
    assert session.stages["wren-1"].folder == root / "Wren-1"
    assert {r.stage for r in session.recordings} == {"Stock", "step-1", "wren-1", "wren-2"}


def test_a_control_not_recorded_is_said_and_dropped(tmp_path):
    root = lay(tmp_path / "s", TWO_DAYS, stock="neck", step_1="neck", wren_1="neck")
    session = session_from_pair(root / "stock", root / "step-1")
    assert session.comparisons == (ComparisonSpec("stock", "step-1"),)
    assert 'compared without control: nothing is recorded at "wren-2" yet' in said(session)


def test_a_pair_outside_the_toml_stands_alone(tmp_path):
    root = lay(tmp_path / "s", TWO_DAYS, stock="neck")
    other = lay(tmp_path / "t", step_1="neck")
    assert session_from_pair(root / "stock", other / "step-1").mains_hz is None


def test_relative_paths_and_dots(tmp_path, monkeypatch):
    root = lay(tmp_path / "s", before="neck", after="neck")
    monkeypatch.chdir(root / "before")
    session = session_from_pair(Path(), Path("../after"))
    assert list(session.stages) == ["before", "after"]
    monkeypatch.chdir(root)
    assert load_session(Path()).title == "s"


@pytest.mark.parametrize(
    ("first", "second", "piece"),
    [
        ("before", "before", "was given twice"),
        ("before", "../s/before", "was given twice"),
        ("before", "link", "was given twice"),
        ("before", ".", "stands in"),
        ("before", "gone", "gone: there is no such folder"),
        ("before/neck.wav", "after", "is a file; a folder of recordings is needed"),
        ("before", "empty", "empty: is empty"),
        ("before", "text", "holds no recording"),
        ("before", "phone", r'"neck.m4a" cannot be read. Open it in any audio editor'),
        ("before", "after", r'no voice in common: "before" has "neck"; "after" has "bridge" and'),
    ],
)
def test_pairs_that_cannot_be_compared(tmp_path, first, second, piece):
    root = lay(
        tmp_path / "s", before="neck", after="bridge x", empty="", text="a.txt", phone="neck.m4a"
    )
    (root / "link").symlink_to(root / "before", target_is_directory=True)
    with pytest.raises(InputError, match=piece):
        session_from_pair(root / first, root / second)


def test_a_broken_toml_above_a_pair_is_reported(tmp_path):
    root = lay(tmp_path / "s", "mains_hz = 55", before="neck", after="neck")
    with pytest.raises(SessionError, match="mains_hz: found 55"):
        session_from_pair(root / "before", root / "after")


def test_hostile_names_arrive_intact(tmp_path):
    root = tmp_path / "s"
    for stage in ('<i>"vor"', "после & 'x'"):
        (root / stage).mkdir(parents=True)
        (root / stage / "нек <b>.wav").touch()
    session = session_from_pair(root / '<i>"vor"', root / "после & 'x'")
    assert list(session.stages) == ['<i>"vor"', "после & 'x'"]
    assert session.recordings[0].voice == "нек <b>"


def test_real_takes_a_pluck_per_file(recordings):
    session = load_session(recordings / "two-guitars")
    assert list(session.stages) == ["black", "green"]
    assert set(session.common_voices("black", "green")) >= {"ord"}
    files = {r.stage: len(r.files) for r in session.recordings if r.voice == "ord"}
    for stage, count in files.items():
        there = list((recordings / "two-guitars" / stage / "ord").glob("*.flac"))
        assert count == len(there) > 20
    assert not session.left_out


SPLIT = """
[instruments.heron]
[stages.stock]
instrument = "heron"
[[comparisons]]
before = "stock/Bridge"
after = "Stock/bridge-split"
"""


def test_two_voices_of_one_stage_are_the_sides_of_a_comparison(tmp_path):
    session = load_session(lay(tmp_path / "h", SPLIT, stock="bridge bridge-split"))
    (spec,) = session.comparisons
    assert (spec.before, spec.after) == ("stock/bridge", "stock/bridge-split")
    assert spec.between_voices
    assert spec.one_sitting
    assert spec.voice == "bridge-split"
    assert spec.stages == ("stock", "stock")
    assert not session.remarks


@pytest.mark.parametrize(
    ("toml", "key", "piece"),
    [
        (SPLIT.replace("split", "spilt"), "comparisons[1].after", 'no voice named "bridge-spilt"'),
        (SPLIT.replace("split", "spilt"), "comparisons[1].after", 'Did you mean "bridge-split"?'),
        (SPLIT.replace("stock/B", "stick/B"), "comparisons[1].before", 'no stage is named "stick"'),
        (SPLIT.replace("stock/Bridge", "stock"), "comparisons[1]", "give both sides a voice"),
        (SPLIT.replace("stock/Bridge", "stock/"), "comparisons[1].before", "names no voice"),
        (SPLIT.replace("bridge-split", "bridge"), "comparisons[1]", "are both"),
    ],
)
def test_a_side_that_names_nothing_is_refused_by_name(tmp_path, toml, key, piece):
    root = lay(tmp_path / "h", toml, stock="bridge bridge-split")
    with pytest.raises(SessionError) as caught:
        load_session(root)
    assert key in str(caught.value)
    assert piece in str(caught.value)


def test_a_described_voice_without_recording_leaves_its_comparison_out(tmp_path):
    toml = SPLIT + "[voices.bridge]\n[voices.bridge-split]\n"
    session = load_session(lay(tmp_path / "h", toml, stock="bridge"))
    assert not session.comparisons
    assert 'nothing is recorded at "stock/bridge-split" yet' in said(session)
