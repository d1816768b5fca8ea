"""The navigation names every section of the page, in order."""

from __future__ import annotations

import re
from html import unescape

import pytest

from tonecompare.report.page.layout import SectionNames, environment


def test_every_section_stands_in_the_navigation_in_order(small_page):
    (nav,) = re.findall(
        r'<nav id="sections" aria-label="Sections">(.*?)</nav>', small_page, re.DOTALL
    )
    linked = re.findall(r'href="#([^"]+)"', nav)
    assert linked == re.findall(r'<h2 id="([^"]+)"', small_page)
    assert len(linked) >= 5
    assert small_page.count("<h2") == len(linked)


def test_names_are_escaped():
    names = SectionNames()
    assert "<b>" not in names.heading("x", "<b>bold</b>")
    assert unescape(str(names.heading("y", "a & b"))) == '<h2 id="y">a & b</h2>'


def test_two_sections_of_one_id_are_refused():
    names = SectionNames()
    names.heading("bench", "At the bench")
    with pytest.raises(ValueError, match="anchor='bench' names two sections"):
        names.heading("bench", "Bench")


def test_names_from_right_to_left_stand_apart_from_the_numbers_beside_them():
    # Unicode standard annex 9: U+2068 first strong isolate … U+2069 pop directional isolate.
    page = (
        environment().from_string("{{ text }}").render(text="גשר אחורי: 3.3 dB louder, neck 1 dB")
    )
    assert page == "\u2068גשר אחורי\u2069: 3.3 dB louder, neck 1 dB"
    assert environment().from_string("{{ text }}").render(text="Brücke 2") == "Brücke 2"
