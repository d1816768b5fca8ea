"""Names of quantities lead to what they mean, once in a section's sentences."""

from __future__ import annotations

import re

from markupsafe import Markup

from tonecompare.language import in_language, tr
from tonecompare.quantities.words import HEADLINE, words_for
from tonecompare.report.word_links import WordLinks, family_names, other_names


def test_every_link_leads_to_a_word_of_the_glossary(small_page):
    linked = set(re.findall(r'class="word" href="#([^"]+)"', small_page))
    assert len(linked) > 5
    assert linked <= set(re.findall(r'<dt id="([^"]+)"', small_page))


def test_sections_beyond_the_matrix_link_their_words(small_page):
    sections = re.split(r"<h2 id=", small_page)[1:]
    linking = {part[1 : part.index('"', 1)] for part in sections if 'class="word"' in part}
    assert {"matrix", "bench", "detail"} <= linking


def test_a_section_links_a_name_once_and_the_next_one_again():
    links = WordLinks(["Hum"], {"hum": "Hum"})
    assert links.first_uses("hum, then hum").count("<a") == 1
    assert links.first_uses("more hum").count("<a") == 0
    links.anew()
    assert links.first_uses("more hum").count("<a") == 1


def test_only_whole_words_are_linked_and_tags_stay_as_they_are():
    links = WordLinks(["Hum"], {"hum": "Hum"})
    text = Markup('a humbucker, signal-to-hum, <b title="hum">no</b> &amp;')
    assert links.first_uses(text) == text
    assert links.first_uses("<hum>").startswith("&lt;")


def test_a_band_leads_to_bands_and_what_nothing_explains_stays_plain():
    links = WordLinks(["Bands", "Partials"], family_names("Bands", "Partials"))
    label = words_for("shape_1000_db").label
    assert 'href="#word-bands"' in links.heading(label, "1")
    assert links.heading("Q") == "Q"


def test_names_are_found_in_the_language_that_is_spoken():
    with in_language("de"):
        links = WordLinks([words_for(name).label for name in HEADLINE], other_names(HEADLINE))
        assert "<a" in links.first_uses(f"{tr('Hum')} um 3 dB")
