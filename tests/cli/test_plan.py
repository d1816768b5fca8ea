"""``tonecompare plan``: options or questions, and a session that loads again."""

from __future__ import annotations

import pytest

from tonecompare.cli.plan import _instrument_of
from tonecompare.session import read_session_toml


@pytest.fixture
def plan(run_plain, tmp_path):
    """Run ``plan`` into ``tmp_path/heron``; return what was said and the session file's content."""

    def call(*arguments, answers=None):
        result = run_plain("plan", tmp_path / "heron", *arguments, answers=answers)
        file = tmp_path / "heron" / "session.toml"
        return result, read_session_toml(file) if file.exists() else None

    return call


def test_options_become_stages_and_voices(plan, tmp_path):
    result, told = plan(
        "--instrument", "heron", "--control", "wren", "--stage", "stock", "--stage", "rewound",
        "--layout", "neck, bridge", "--split", "bridge", "--mains", "50", "--title", "Heron & co",
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    assert told.title == "Heron & co"
    assert told.mains_hz == 50
    assert list(told.stages) == [
        "heron-stock", "wren-with-stock", "heron-rewound", "wren-with-rewound",
    ]  # fmt: skip
    assert {"neck", "bridge", "bridge-split"} <= set(told.voices)
    assert told.comparisons[0].control_after == "wren-with-rewound"
    for name in told.stages:
        assert f"Stage folder: {tmp_path / 'heron' / name}" in result.stdout
        assert (tmp_path / "heron" / name).is_dir()
    assert "<title>" in (tmp_path / "heron" / "take-sheet.html").read_text(encoding="utf-8")


def test_smallest_change_reaches_the_sheet(plan, tmp_path):
    sheets = []
    for change in ("0.4", "4"):
        result, _told = plan("--smallest-change", f"level_dbfs={change}")
        assert result.exit_code == 0, result.stderr
        sheet = tmp_path / "heron" / "take-sheet.html"
        sheets.append(sheet.read_text(encoding="utf-8"))
        sheet.unlink()
        (tmp_path / "heron" / "session.toml").unlink()
    assert sheets[0] != sheets[1]
    assert "0.4" in sheets[0]


@pytest.mark.usefixtures("pair")
def test_the_spread_of_existing_takes_reaches_the_sheet(plan, tmp_path):
    result, _told = plan("--spread-from", ".")
    assert result.exit_code == 0, result.stderr
    sheet = (tmp_path / "heron" / "take-sheet.html").read_text(encoding="utf-8")
    assert "from existing takes" in sheet


def test_questions_are_answered_and_enter_keeps_the_default(plan):
    answers = ["heron", "wren", "stock, rewound", "five-way", "", "both", "", "0, 12", "3"]
    result, told = plan("--ask", answers=answers)
    assert result.exit_code == 0, result.stderr
    assert "Plucks of each note [5]" in result.stdout
    assert [name for name in told.stages if "wren" not in name] == ["heron-stock", "heron-rewound"]
    assert {"middle-neck", "piezo"} <= set(told.voices)
    assert told.instruments["heron"].tuning == ("E2", "A2", "D3", "G3", "B3", "E4")


def test_nothing_is_asked_without_a_terminal(plan):
    result, told = plan()
    assert result.exit_code == 0
    assert "Instrument" not in result.stdout
    # README goes on with `check heron --stage heron-before` after `plan heron`.
    assert list(told.stages) == ["heron-before", "heron-after"]


@pytest.mark.parametrize(
    ("folder", "instrument"),
    [("Heron", "heron"), ("old-heron", "old-heron"), ("2 March", "guitar"), ("Überholt", "guitar")],
)
def test_the_instrument_is_named_after_a_plain_folder(tmp_path, folder, instrument):
    assert _instrument_of(tmp_path / folder) == instrument


def test_ctrl_c_at_a_question_writes_nothing(plan, tmp_path):
    result, told = plan("--ask", answers=["heron"])  # input ends at the second question
    assert result.exit_code == 130
    assert told is None
    assert not (tmp_path / "heron").exists()


def test_an_older_session_is_not_overwritten(plan):
    assert plan()[0].exit_code == 0
    result, _told = plan("--instrument", "other")
    assert result.exit_code == 2
    assert "session.toml: exists already" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--layout", "fiveway"], 'Did you mean "five-way"'),
        (["--split", "middle"], '"middle" is to be split'),
        (["--frets", "0,x"], 'frets: "0,x" is no list of whole numbers'),
        (["--frets", "99"], "fret 99 is not on a guitar"),
        (["--tuning", "E2 H2"], 'tuning "E2 H2": "H2" is no note name'),
        (["--repeats", "0"], "repeats is 0"),
        (["--instrument", "a/b"], "leave such signs out"),
        (["--smallest-change", "level_dbfs"], "write the quantity, = and a number"),
        (["--smallest-change", "loudness=1"], "loudness: no spread is known"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(plan, tmp_path, arguments, said):
    result, told = plan(*arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert told is None
    assert not (tmp_path / "heron").exists()
