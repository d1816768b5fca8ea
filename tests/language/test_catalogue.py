"""The catalogues hold what the program says: all of it, nothing else, with the same places."""

from __future__ import annotations

import io
import string

import catalogue as tool
import pytest
from babel.messages.mofile import read_mo
from babel.messages.pofile import read_po

from tonecompare.language import ENGLISH, in_language, languages, tr, tr_as, tr_n
from tonecompare.report.words.numbers import interval, with_unit

OTHERS = [code for code in languages() if code != ENGLISH]
FIX = "run python tests/helpers/catalogue.py"


def places(text: str) -> set[str]:
    """Return what is to be filled in a text."""
    return {
        name for _, name, _, _ in string.Formatter().parse(text) if name and name.isidentifier()
    }


def told(catalogue) -> dict[tuple[str | None, str], tuple[str, ...]]:
    """Return the translations of a catalogue by context and text."""
    return {
        (one.context, one.id if isinstance(one.id, str) else one.id[0]): (
            (one.string,) if isinstance(one.string, str) else tuple(one.string)
        )
        for one in catalogue
        if one.id
    }


@pytest.fixture(scope="module", params=OTHERS)
def made(request):
    return tool.catalogue(request.param)


def test_german_is_there():
    assert "de" in OTHERS


def test_every_text_has_a_translation_and_the_file_holds_no_other(made):
    assert [one.id for one in tool.missing(made)] == []
    folder = tool.FOLDER / str(made.locale) / "LC_MESSAGES"
    kept = read_po(io.BytesIO((folder / "tonecompare.po").read_bytes()))
    assert set(told(kept)) == set(told(made)), FIX


def test_translations_fill_the_same_places(made):
    wrong = []
    for one in made:
        if not one.id:
            continue
        texts = (one.id,) if isinstance(one.id, str) else tuple(one.id)
        said = (one.string,) if isinstance(one.string, str) else tuple(one.string)
        wanted = set().union(*map(places, texts))
        always = set.intersection(*map(places, texts))
        for text in said:
            # A plural may leave its number out ("one stage"), nothing may be made up.
            if places(text) - wanted or (always - places(text)) - {"n"}:
                wrong.append((one.id, text))
    assert wrong == []


def test_what_is_read_is_what_is_written(made):
    path = tool.FOLDER / str(made.locale) / "LC_MESSAGES" / "tonecompare.mo"
    assert told(read_mo(io.BytesIO(path.read_bytes()))) == told(made), FIX


def test_numbers_words_and_plurals_are_german():
    # DIN 1333: a comma before the decimals.
    with in_language("de"):
        assert with_unit(2.76e3, "Hz") == "2,76 kHz"
        assert interval(1.2, 2.4, "dB", signed=True) == "+1,2 bis +2,4"
        assert tr("likely audible") == "wahrscheinlich hörbar"
        assert tr_n("{n} pluck", "{n} plucks", 1) == "1 Anschlag"
        assert tr_n("{n} pluck", "{n} plucks", 2) == "2 Anschläge"
        assert tr_as("musical", "Note") == "Ton"
    assert with_unit(2.76e3, "Hz") == "2.76 kHz"


def test_a_language_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="the languages are en, de"), in_language("xx"):
        pass


def test_the_tool_finds_every_way_of_saying():
    source = (
        "tr('a {x}', x=1)\ntr_later('b')\ntr_n('{n} c', '{n} cs', 2)\ntr_as('ctx', 'd')\n"
        "tr(NAMED)\ntr('one '\n   'text')\n"
    )
    found = [one.key for one in tool.said_in_python(source, "x.py")]
    assert found == [
        (None, "a {x}"), (None, "b"), (None, "{n} c"), ("ctx", "d"), (None, "one text"),
    ]  # fmt: skip
    with pytest.raises(ValueError, match="make it a constant"):
        list(tool.said_in_python("tr(f'{x} louder')", "x.py"))
    told = tool.said_in_template('{{ tr("e {y}", y=2) }}{{ tr_as("ctx", "f") }}', "x.j2")
    assert [one.key for one in told] == [(None, "e {y}"), ("ctx", "f")]
