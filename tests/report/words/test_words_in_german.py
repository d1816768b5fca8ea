"""What glued English together stays right in a language with a comma and capital nouns."""

from __future__ import annotations

import gettext
from dataclasses import replace

import pytest

from tonecompare.language import catalogue
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.chart_titles import chart_findings
from tonecompare.report.words.finding_words.tone_words import hz_told, parts_of
from tonecompare.report.words.guitar_words.cost_words import cost, short
from tonecompare.report.words.listening_words.chart_words import inside
from tonecompare.report.words.numbers import plain
from tonecompare.report.words.sheet_words.plain_changes import changes_said, same_said

GERMAN = {
    "{money} parts": "{money} Material",
    "{money} in all": "insgesamt {money}",
    "{bands} from {low} up": "{bands} ab {low}",
    "{bands} {size} down": "{bands} {size} schwächer",
    "presence": "Präsenz",
    "treble": "Höhen",
    "{items} and {last}": "{items} und {last}",
    "{low} to {high}": "{low} bis {high}",
    "rings": "klingt",
    "longer": "länger",
    "as long": "gleich lang",
    "clearly": "deutlich",
    "{same} as {what}": "{same} wie {what}",
}
IN_CONTEXT = {("decimal mark", "."): ",", ("labels inside a sentence", "small"): "groß"}


class German(gettext.NullTranslations):
    """A small catalogue."""

    def gettext(self, message: str) -> str:
        return GERMAN.get(message, message)

    def pgettext(self, context: str, message: str) -> str:
        return IN_CONTEXT.get((context, message), message)


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: German())
    # What is kept by language is kept under a name of its own.
    monkeypatch.setattr(catalogue, "_chosen", type("Chosen", (), {"get": lambda _: "test"})())


def _row(quantity: str, difference: float, **changes: object) -> Difference:
    row = Difference(
        "a to b", "a", "b", "neck", "magnetic", "all", quantity, "dB", 1.0, 1.0,
        difference, difference - 0.5, difference + 0.5, 18, 18, 1.0, "likely-audible", "",
    )  # fmt: skip
    return replace(row, **changes)  # type: ignore[arg-type]


def test_whole_hours_lose_their_decimals_with_the_comma(german: None) -> None:
    assert (short(7.0), short(7.5)) == ("7", "7,5")
    assert cost(33.0, 3.0, 190.5, "EUR") == "33 EUR Material, 3 h, insgesamt 190,50 EUR"


def test_ticks_and_frequencies_have_the_comma(german: None) -> None:
    assert (plain(-0.25), plain(2.0), hz_told(2818.4)) == ("−0,25", "2", "2,8 kHz")


def test_a_noun_stays_large_inside_a_sentence(german: None) -> None:
    assert inside("Ausklingzeit") == "Ausklingzeit"


def test_in_english_a_label_is_small_inside_a_sentence() -> None:
    assert inside("Signal to hum") == "signal to hum"


def test_a_run_of_bands_is_one_phrase_and_its_title_leaves_the_interval_out(german: None) -> None:
    rows = [_row(name, -4.0) for name in ("shape_4000_db", "shape_8000_db")]
    (part,) = parts_of(rows)
    assert part.text == "Präsenz und Höhen ab 2,8 kHz 4,0 dB schwächer (3,5 bis 4,5)"
    said = chart_findings(rows, "Neck")["spectrum"]
    assert said == "Neck: Präsenz und Höhen ab 2,8 kHz 4,0 dB schwächer"


def test_the_sheet_says_verb_degree_and_size(german: None) -> None:
    row = _row("decay_s", 30.0, unit="%", hearing_threshold=10.0)
    assert changes_said([row]) == ("klingt deutlich länger (30 %)", True)
    same = replace(row, verdict="no-change")
    assert same_said([same], "vorher") == "klingt gleich lang wie vorher"
