"""The navigation names every section of the page, in order."""

from __future__ import annotations

import re
from html import unescape

import pytest

from tonecompare.report import write_report
from tonecompare.report.page.layout import SectionNames


@pytest.fixture(scope="module")
def html(small_story, tmp_path_factory):
    folder = write_report(
        small_story.session, small_story.measurements, small_story.comparisons,
        tmp_path_factory.mktemp("sections") / "r", clips=False,
    )  # fmt: skip
    return (folder / "index.html").read_text(encoding="utf-8")


def test_every_section_stands_in_the_navigation_in_order(html):
    (nav,) = re.findall(r'<nav id="sections" aria-label="Sections">(.*?)</nav>', html, re.DOTALL)
    linked = re.findall(r'href="#([^"]+)"', nav)
    assert linked == re.findall(r'<h2 id="([^"]+)"', html)
    assert len(linked) >= 5
    assert html.count("<h2") == len(linked)


def test_names_are_escaped():
    names = SectionNames()
    assert "<b>" not in names.heading("x", "<b>bold</b>")
    assert unescape(str(names.heading("y", "a & b"))) == '<h2 id="y">a & b</h2>'


def test_two_sections_of_one_id_are_refused():
    names = SectionNames()
    names.heading("bench", "At the bench")
    with pytest.raises(ValueError, match="anchor='bench' names two sections"):
        names.heading("bench", "Bench")
