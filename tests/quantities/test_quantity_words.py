"""The words of quantities pass the catalogue, in the language that is spoken."""

from __future__ import annotations

from tests.helpers.catalogue import said_in_python
from tonecompare.quantities.words import words_for


def test_texts_in_tables_of_entries_are_found() -> None:
    source = (
        'Entry(("x",), MEASURED, "dB", "What x is.", no_error="A count.",\n'
        '      said=Said("X", "x", up="{} more", above="{} bigger"),\n'
        '      compared=HowCompared("x of all", "level", ("dB",)))\n'
    )
    found = [one.text for one in said_in_python(source, "here")]
    assert sorted(found) == sorted(
        ["What x is.", "A count.", "X", "x", "{} more", "{} bigger", "x of all"]
    )


def test_a_way_without_words_of_its_own_is_made_from_the_noun() -> None:
    words = words_for("hum_dbfs")
    assert (words.up, words.above) == ("hum up by {}", "hum {} higher")
    band = words_for("shape_4000_db")
    assert (band.down, band.below) == ("presence (4 kHz) {} down", "presence (4 kHz) {} lower")
    assert words_for("h03_db").compared == "level of partial 3"
    assert words_for("odd_name").up == "odd_name up by {}"
