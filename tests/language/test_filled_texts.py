"""Texts with numbers that are made while measuring are said later, in another language."""

from __future__ import annotations

import gettext
import pickle

import pytest

from tonecompare.language import catalogue, tr, tr_later

GERMAN = {
    "rang for only {s:.1f} s": "klang nur {s:.1f} s",
    "{file} was left out: {why}.": "{file} fehlt: {why}.",
    "neck": "Hals",
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


def test_a_text_within_a_text_is_said_too_but_a_name_stays(german: None) -> None:
    why = tr_later("rang for only {s:.1f} s", s=0.42)
    said = tr_later("{file} was left out: {why}.", file="neck", why=why)
    assert said == "neck was left out: rang for only 0.4 s."
    assert tr(said) == "neck fehlt: klang nur 0,4 s."
