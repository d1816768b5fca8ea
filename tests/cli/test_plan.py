"""``tonecompare plan``: options or questions, and a session that loads again."""

from __future__ import annotations

from datetime import date

import pytest

from tonecompare.cli.plan import _instrument_of
from tonecompare.cli.planning.interview import _asked
from tonecompare.cli.planning.kept_answers import KeptAnswers
from tonecompare.cli.planning.questions import Question
from tonecompare.session import WorkItem, Worth, read_session_toml


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
        (tmp_path / "heron" / "take-sheet.html").unlink()
        sheet = tmp_path / "heron" / "how-many-plucks.html"
        sheets.append(sheet.read_text(encoding="utf-8"))
        sheet.unlink()
        (tmp_path / "heron" / "session.toml").unlink()
    assert sheets[0] != sheets[1]
    assert "0.4" in sheets[0]


@pytest.mark.usefixtures("pair")
def test_the_spread_of_existing_takes_reaches_the_sheet(plan, tmp_path):
    result, _told = plan("--spread-from", ".")
    assert result.exit_code == 0, result.stderr
    page = (tmp_path / "heron" / "how-many-plucks.html").read_text(encoding="utf-8")
    assert "from existing takes" in page


WHAT = ["heron", "wren", "stock, rewound", "five-way", "", "both", "", "", ""]
REST = ["2026-03-02", "648", "", "24", "bridge rewound", "18", "2,5", "", "45"]


def test_questions_are_answered_and_enter_keeps_the_default(plan, tmp_path):
    result, told = plan("--ask", answers=[*WHAT, "", "0, 12", "3", *REST])
    assert result.exit_code == 0, result.stderr
    assert "Plucks of each note [5]" in result.stdout
    assert [name for name in told.stages if "wren" not in name] == ["heron-stock", "heron-rewound"]
    assert {"middle-neck", "piezo"} <= set(told.voices)
    heron = told.instruments["heron"]
    assert (heron.tuning, heron.scale_length_mm) == (("E2", "A2", "D3", "G3", "B3", "E4"), 648.0)
    assert told.instruments["wren"].scale_length_mm is None
    assert told.stages["heron-stock"].date == date(2026, 3, 2)
    assert told.stages["heron-rewound"].work == (WorkItem("bridge rewound", 18.0, 2.5),)
    assert told.worth == Worth("EUR", 45.0)
    assert told.conditions["session-1"].interface_gain_db == 24.0
    assert told.planned.repeats == 3
    assert len(told.planned.notes) == 12
    assert not (tmp_path / "heron" / "plan-answers.json").exists()


def test_a_bad_answer_is_told_at_once_and_asked_again(plan):
    answers = [
        "a/b", "heron", "heron", "", "stock, stock", "stock, rewound", "five-wy", "five-way",
        "middel", "middle", "bath", "both", "E2 H2", "", "much", "-1", "0,8 dB",
        "songs", "plucks",
        "soon", "3", "40",
        "2.3.2026", "today", "25.5", "647,7", "loud", "24", "rewound", "-3", "18", "x", "2.5",
        "12", "€", "cheap", "45",
    ]  # fmt: skip
    result, told = plan("--ask", answers=answers)
    assert result.exit_code == 0, result.stderr
    for said in (
        "leave such signs out", '"heron" stands there twice', '"stock" stands there twice',
        'Did you mean "five-way"', 'Did you mean "middle"', 'Did you mean "both"',
        '"H2" is no note name', '"much" is no number of decibels',
        "the smallest change of level_dbfs is -1.0",
        '"songs" is none of plucks, chords, riff', '"soon" is no time',
        "3 minutes are too few", "is no date",
        "Did you give inches?", 'found "loud" (text)', "found -3.0", 'found "x" (text)',
        '"12" is no currency', 'found "cheap" (text)',
    ):  # fmt: skip
        assert said in result.stdout
    assert told.stages["heron-stock"].date == date.today()
    assert told.worth == Worth("€", 45.0)


def test_minutes_choose_the_plucks_and_the_plan_says_what_it_shows(plan):
    result, told = plan("--ask", answers=[*WHAT[:3], "", "", "", "", "", "", "30", *[""] * 5])
    assert result.exit_code == 0, result.stderr
    # 3 voices and the first again: 4 × (60 s + 30 × 9 s) = 22 min; 6 × 6 plucks and more are not
    # needed for what matters.
    assert (len(told.planned.notes), told.planned.repeats) == (6, 5)
    assert "about 20 minutes a stage" in result.stdout
    assert "shown over all notes" in result.stdout
    assert "Next, once heron-stock is recorded: tonecompare check " in result.stderr


def test_who_plays_a_riff_is_not_asked_about_plucks(plan):
    answers = [*WHAT[:3], "", "", "", "", "", "riff, chords", *[""] * 5]
    result, told = plan("--ask", answers=answers)
    assert result.exit_code == 0, result.stderr
    assert set(told.planned.play) == {"riff", "chords"}
    assert "Minutes you have" not in result.stdout
    assert "Plucks of each note" not in result.stdout
    assert "A riff shows level" in result.stdout


def test_a_smaller_change_that_matters_chooses_more_plucks(plan, tmp_path):
    plucks = []
    for change in ("3", "0.4"):
        answers = ["heron", "", "stock", "one", "", "", "", change, "", "60", *[""] * 3]
        result, told = plan("--ask", answers=answers)
        assert result.exit_code == 0, result.stderr
        plucks.append(len(told.planned.notes) * told.planned.repeats)
        assert f"{float(change):.2g}" in result.stdout
        for name in ("session.toml", "take-sheet.html", "how-many-plucks.html"):
            (tmp_path / "heron" / name).unlink()
    assert plucks[0] < plucks[1]


def test_nothing_is_asked_where_a_plan_is_there_already(plan):
    assert plan()[0].exit_code == 0
    result, _told = plan("--ask", answers=[])
    assert result.exit_code == 2
    assert result.stdout == ""


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


def test_ctrl_c_keeps_the_answers_and_the_same_command_goes_on(plan, tmp_path):
    asked = [*WHAT, "", "0, 12", "3", *REST]
    for stop in range(len(asked)):  # the input ends one question later each time
        result, told = plan("--ask", answers=asked[stop : stop + 1])
        if stop < len(asked) - 1:
            assert result.exit_code == 130
            assert told is None
            assert "plan-answers.json; the same command goes on" in result.stderr
    assert result.exit_code == 0, result.stderr
    assert "Instrument to be worked on: heron\n" in result.stdout
    assert told.worth == Worth("EUR", 45.0)
    assert told.instruments["heron"].scale_length_mm == 648.0
    names = {path.name for path in (tmp_path / "heron").iterdir() if path.is_file()}
    assert names == {"session.toml", "take-sheet.html", "how-many-plucks.html"}


def test_ctrl_c_at_the_first_question_leaves_nothing(plan, tmp_path):
    assert plan("--ask", answers=[])[0].exit_code == 130
    assert not (tmp_path / "heron").exists()


@pytest.mark.parametrize("text", ["notes of mine", "{}", "[]", None])
def test_a_file_of_answers_that_is_not_ours_is_left_alone(plan, tmp_path, text):
    path = tmp_path / "heron" / "plan-answers.json"
    if text is None:  # ours, and changed by hand
        assert plan("--ask", answers=["heron"])[0].exit_code == 130
        text = path.read_text(encoding="utf-8").replace("heron", "wren")
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    result, told = plan("--ask", answers=[*WHAT, "", "", "", *REST])
    assert result.exit_code == 2
    assert "it is left alone" in result.stderr
    assert told is None
    assert path.read_text(encoding="utf-8") == text


def test_a_kept_answer_that_no_longer_fits_is_asked_for_again(plan, tmp_path):
    KeptAnswers(tmp_path / "heron").save({"instruments": "heron", "stages": "a, a"})
    result, told = plan("--ask", answers=["", "stock", *[""] * 20])
    assert result.exit_code == 0, result.stderr
    assert "the kept answer 'a, a' no longer fits" in result.stderr
    assert list(told.stages) == ["heron-stock"]


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
        (["--minutes", "4"], "4 minutes are too few"),
        (["--date", "2.3.26"], "is no date"),
        (["--scale-length", "25.5"], "Did you give inches?"),
        (["--scale-length", "0"], "--scale-length: found 0.0; a number from 250"),
        (["--gain", "nan"], "--gain: found nan; a number from -100"),
        (["--minutes", "nan"], '"nan" is no time; write minutes, like 30.'),
        (["--stage", "b" * 200], "is too long for the name of a file"),
        (["--gain", "900"], "from -100 to 100 dB"),
        (["--smallest-change", "loudness=1"], "loudness: no spread is known"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(plan, tmp_path, arguments, said):
    result, told = plan(*arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert told is None
    assert not (tmp_path / "heron").exists()


def test_an_answer_that_is_no_text_is_refused_and_asked_again(monkeypatch, capsys):
    answers = iter(["her\udcce", "heron"])
    monkeypatch.setattr("click.termui.visible_prompt_func", lambda _words: next(answers))
    assert _asked(Question("instrument", "Instrument", str)) == "heron"
    assert "not UTF-8 text" in capsys.readouterr().out
