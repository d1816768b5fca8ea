"""Help and Click's own messages are said in the language of the command line or the session."""

from __future__ import annotations

import gettext
import os
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tonecompare.cli.app import main
from tonecompare.cli.shown.spoken_help import CLICKS_COUNTED, CLICKS_OWN, asked_for


def _said(*arguments: str) -> str:
    return CliRunner().invoke(main, list(arguments), prog_name="tonecompare").output


@pytest.fixture
def german_session(tmp_path):
    (tmp_path / "session.toml").write_text('language = "de"\n', encoding="utf-8")
    return str(tmp_path)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["report", "--language", "de"], "Fehler: Es fehlt die Angabe 'SESSION'."),
        (["report", "--language=de", "--ot", "x"], "Die Option '--ot' gibt es nicht."),
        (["--language", "de", "reprt"], "Fehler: Den Befehl 'reprt' gibt es nicht."),
        (["plan", "--language", "de", "a", "b", "c"], "Angaben zu viel (b c)"),
        (["charts", "x", "--language", "de", "--for", "tv"], "'tv' ist keins von 'video'"),
        (["blind", "x", "--language", "de", "--trials", "2"], "2 liegt nicht in 5<=x<=60."),
        (["blind", "x", "--language", "de", "--trials"], "Die Option '--trials' braucht einen"),
    ],
)
def test_what_is_wrong_with_a_command_line_is_said_in_its_language(arguments, told):
    assert told in _said(*arguments)


def test_where_help_is_to_be_had_is_said_in_its_language():
    said = _said("report", "--language", "de")
    assert "Hilfe gibt 'tonecompare report --help'." in said
    assert "report [OPTIONEN] SESSION" in said


def test_a_session_in_german_gets_german_help(german_session):
    assert _said("report", german_session, "--help").startswith("Aufruf: tonecompare report")
    assert "Die Option '--ot' gibt es nicht." in _said("check", german_session, "--ot")


def test_the_command_line_goes_before_the_session(german_session):
    said = _said("report", german_session, "--language", "en", "--help")
    assert said.startswith("Usage: tonecompare report")


def test_no_option_is_left_in_english():
    # What German and English share of an option's help is names and numbers, no sentence.
    for name in main.commands:
        german, english = (_said("--language", code, name, "--help") for code in ("de", "en"))
        for line in english.splitlines():
            if re.search(r"^  -.*[a-z]{4,} [a-z]+ [a-z]+", line):
                assert line not in german, name


def test_english_comes_back_and_the_environment_too(monkeypatch):
    monkeypatch.delenv("LANGUAGE", raising=False)
    before = gettext.textdomain()
    assert _said("--language", "de", "--help").startswith("Aufruf:")
    assert _said("--help").startswith("Usage:")
    assert gettext.textdomain() == before
    assert "LANGUAGE" not in os.environ


def test_a_language_before_the_command_holds_in_it(tmp_path):
    said = _said("--language", "de", "report", str(tmp_path / "none"))
    assert said.startswith("Fehler: ")


def test_a_language_there_is_not_is_refused():
    assert "'xx' is not one of 'en', 'de'" in _said("report", "x", "--language", "xx")
    assert asked_for(["report", "x\0", "--language"]) == "en"


def test_click_still_says_it_in_these_words():
    # A Click that words it otherwise would be English again: then put its new words there.
    source = "".join(
        one.read_text(encoding="utf-8") for one in Path(click.__file__).parent.glob("*.py")
    )
    for text in (*CLICKS_OWN, *(one for pair in CLICKS_COUNTED for one in pair)):
        assert text.replace("\n", "\\n").replace("\t", "\\t") in source, text
