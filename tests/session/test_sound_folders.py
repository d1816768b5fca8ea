"""Folders by day, nested folders, folders of nothing that can be read."""

from __future__ import annotations

from pathlib import Path

import pytest

from tonecompare.errors import InputError, SessionError
from tonecompare.session import load_session, session_of_given
from tonecompare.session.sound_folders import stages_within


def lay(root: Path, *files: str) -> Path:
    for name in files:
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).touch()
    return root


DAYS = ("2026-03-02/stock/bridge.wav", "2026-03-02/stock/neck pickup.wav",
        "2026-05-09/rewound/bridge.wav", "2026-05-09/rewound/neck.wav")  # fmt: skip


def test_stages_in_folders_by_day_are_the_stages(tmp_path):
    session = load_session(lay(tmp_path, *DAYS))
    assert {(r.stage, r.voice) for r in session.recordings} == {
        ("stock", "bridge"), ("stock", "neck pickup"), ("rewound", "bridge"), ("rewound", "neck"),
    }  # fmt: skip
    assert [(s.before, s.after) for s in session.comparisons] == [("stock", "rewound")]
    assert '"2026-03-02" and "2026-05-09" hold folders with voices' in session.remarks[0]


def test_stages_of_one_name_are_named_after_their_day(tmp_path):
    root = lay(tmp_path, "day 1/heron/neck.wav", "day 2/heron/neck.wav")
    assert list(load_session(root).stages) == ["day 1 heron", "day 2 heron"]
    pair = session_of_given([root / "day 1", root / "day 2"])
    assert [(s.before, s.after) for s in pair.comparisons] == [("day 1 heron", "day 2 heron")]
    assert "holds one stage folder" in pair.remarks[0]


def test_stages_that_session_toml_names_are_found_in_folders_by_day(tmp_path):
    root = lay(tmp_path, *DAYS)
    (root / "session.toml").write_text(
        '[instruments.heron]\n[stages.stock]\n[stages.rewound]\nfrom = "stock"\n'
    )
    session = load_session(root)
    assert session.stages["rewound"].folder == root / "2026-05-09" / "rewound"
    assert not session.left_out
    lay(root, "2026-06-01/stock/neck.wav")
    with pytest.raises(SessionError, match=r"two folders have this name: 2026-03-02/stock and"):
        load_session(root)


def test_a_day_that_session_toml_names_as_stage_is_the_stage_in_it(tmp_path):
    root = lay(tmp_path / "heron", "heron/mine/neck.wav", "rewound/neck.wav", "extra/neck.wav")
    (root / "session.toml").write_text("[instruments.a]\n[stages.heron]\n[stages.rewound]\n")
    session = load_session(root)
    assert session.stages["heron"].folder == root / "heron" / "mine"
    assert session.common_voices("heron", "rewound") == ("neck",)
    assert [each.file for each in session.left_out] == ["extra"]
    lay(root, "heron/other/neck.wav")
    with pytest.raises(SessionError, match=r"stages.heron: holds stage folders \(.mine. and"):
        load_session(root)


def test_a_folder_of_several_stages_is_no_stage(tmp_path):
    root = lay(tmp_path, "day/one/neck.wav", "day/two/neck.wav", "other/neck.wav")
    with pytest.raises(InputError, match=r"day holds stage folders \(.one. and .two.\)"):
        session_of_given([root / "day", root / "other"])


@pytest.mark.parametrize(
    "files",
    [
        ["neck/E2.1.wav", "bridge/E2.1.wav"],
        ["neck/neck E2.wav"],
        ["heron/E2.1.wav", "heron/A2.1.wav"],
        ["stock/neck.wav", "bridge.wav"],
        ["stock/neck.wav", "coil/E2.wav"],
    ],
)
def test_a_stage_with_a_pluck_per_file_stays_a_stage(tmp_path, files):
    assert stages_within(lay(tmp_path, *files)) == []


def test_recordings_that_lie_deeper_are_pointed_to(tmp_path):
    lay(tmp_path, "a/b/c/d/neck.wav")
    with pytest.raises(InputError, match=r"Recordings lie deeper: give .*a/b$"):
        load_session(tmp_path)


def test_one_stage_that_lies_deeper_is_pointed_to(tmp_path):
    lay(tmp_path, "a/x/y/neck.wav", "b/neck.wav")
    with pytest.raises(
        InputError, match=r"a: holds no recording. Recordings lie deeper: give .*a/x"
    ):
        session_of_given([tmp_path / "a", tmp_path / "b"])


@pytest.mark.parametrize(
    ("files", "voices"),
    [
        (["neck E2 1.wav", "neck E2 2.wav", "neck A2 1.wav", "bridge-split_F#3.wav"],
         {"neck": 3, "bridge-split": 1}),
        (["take A2.wav", "take B2.wav"], {"take A2": 1, "take B2": 1}),
        (["neck E2 1.wav", "neck-again E2 1.wav"], {"neck": 1, "neck-again": 1}),
    ],
)  # fmt: skip
def test_files_of_one_pluck_each_may_lie_in_the_stage_folder(tmp_path, files, voices):
    session = load_session(lay(tmp_path, *(f"stock/{name}" for name in files)))
    assert {r.voice: len(r.files) for r in session.recordings} == voices
    taken = [each for each in session.remarks if "taken as plucks" in each]
    assert len(taken) == (0 if "take A2" in voices else 1)


def test_one_guitar_given_as_a_session_is_told_the_command(tmp_path):
    with pytest.raises(InputError, match="tonecompare compare "):
        load_session(lay(tmp_path, "neck.wav", "bridge.wav"))


def test_a_stage_of_phone_recordings_only_is_named(tmp_path):
    session = load_session(lay(tmp_path, "before/neck.wav", "after/neck.m4a"))
    assert [each.file for each in session.left_out] == ["after/neck.m4a"]
    with pytest.raises(
        InputError, match=r"neck.m4a: Files of this kind cannot be read. Open it in any"
    ):
        load_session(lay(tmp_path / "phone", "x/neck.m4a"))
