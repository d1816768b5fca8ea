"""Texts with numbers that are made while measuring are said later, in another language."""

from __future__ import annotations

import gettext
import pickle
from pathlib import Path

import pytest

from tonecompare.errors import RecordingError, SessionError, message_of
from tonecompare.language import catalogue, tr, tr_later
from tonecompare.session.naming import listed
from tonecompare.session.note_names import note_number
from tonecompare.session.toml.schema import Problems

GERMAN = {
    "rang for only {s:.1f} s": "klang nur {s:.1f} s",
    "{file} was left out: {why}.": "{file} fehlt: {why}.",
    "{what:A}.": "{what:A}.",
    "{file}: {what}.": "{file}: {what}.",
    "is empty": "ist leer",
    "neck": "Hals",
    '"{name}"': "„{name}“",
    "{names} and {last}": "{names} und {last}",
    "{n} problems\n{lines:\n}": "{n} Fehler\n{lines:\n}",
    "  {where}: {message}": "  {where}: {message}",
    "{where}: {message}": "{where}: {message}",
    "the name is empty.": "der Name ist leer.",
    "{why}. Allowed: a note name with octave, like E2.": "{why}. Erlaubt: ein Tonname wie E2.",
    '"{name}" is no note name ({likely})': "„{name}“ ist kein Tonname ({likely})",
    'did you mean "{name}"?': "war „{name}“ gemeint?",
    ".": ",",
}


class German(gettext.NullTranslations):
    """A small catalogue."""

    def gettext(self, message: str) -> str:
        return GERMAN[message]

    def pgettext(self, context: str, message: str) -> str:
        return GERMAN[message]


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: German())


def test_a_text_with_numbers_is_plain_english_and_is_said_in_german(german: None) -> None:
    text = tr_later("rang for only {s:.1f} s", s=0.42)
    assert text == "rang for only 0.4 s"
    assert tr(text) == "klang nur 0,4 s"
    assert tr(pickle.loads(pickle.dumps(text))) == "klang nur 0,4 s"


def test_a_marked_constant_within_a_text_is_said_and_may_begin_a_sentence(german: None) -> None:
    said = tr_later("{what:A}.", what=tr_later("is empty"))
    assert said == "Is empty."
    assert tr(said) == "Ist leer."


def test_a_text_within_a_text_is_said_too_but_a_name_stays(german: None) -> None:
    why = tr_later("rang for only {s:.1f} s", s=0.42)
    said = tr_later("{file} was left out: {why}.", file="neck", why=why)
    assert said == "neck was left out: rang for only 0.4 s."
    assert tr(said) == "neck fehlt: klang nur 0,4 s."


def test_names_in_a_row_are_quoted_and_joined_as_the_language_does(german: None) -> None:
    assert listed(["a", "neck", "c"]) == '"a", "neck" and "c"'
    assert tr(listed(["a", "neck", "c"])) == "„a“, „neck“ und „c“"


def test_all_problems_of_a_file_are_said(german: None) -> None:
    problems = Problems(Path("session.toml"))
    problems.add("voices", tr_later("the name is empty."))
    with pytest.raises(ValueError, match="no note name") as wrong:
        note_number("H2")
    why = tr_later("{why}. Allowed: a note name with octave, like E2.", why=wrong.value.args[0])
    problems.add("plan.notes", why)
    with pytest.raises(SessionError, match="2 problems") as raised:
        problems.raise_if_any()
    assert tr(raised.value.args[0]) == (
        "session.toml: 2 Fehler\n  voices: der Name ist leer.\n"
        "  plan.notes: „H2“ ist kein Tonname (war „B2“ gemeint?). Erlaubt: ein Tonname wie E2."
    )


def test_what_an_error_says_is_said_wherever_it_is_caught(german: None) -> None:
    error = RecordingError(Path("a.wav"), tr_later("rang for only {s:.1f} s", s=0.42))
    assert str(error) == "a.wav: rang for only 0.4 s."
    assert message_of(error) == "a.wav: klang nur 0,4 s."
    assert message_of(OSError(28, "No space left")) == "[Errno 28] No space left"
    package = Path(catalogue.__file__).parents[1]
    lost = [path for path in package.rglob("*.py") if "tr(str(" in path.read_text("utf-8")]
    assert not lost
