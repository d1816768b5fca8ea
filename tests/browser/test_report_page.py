"""The report in a real browser: nothing wider than the window, and what its print is."""

from __future__ import annotations

import pytest
from chromium_driven import in_browser, pages_of

pytestmark = in_browser

#: What reaches past the window, [] when nothing does.
_WIDE = """(() => {
document.querySelectorAll("details").forEach((one) => { one.open = true; });
return [...document.querySelectorAll("body *")].filter(
  (e) => !e.closest(".scroll") && !e.closest("thead")
    && !e.closest(".skip") && e.getBoundingClientRect().right > innerWidth + 1,
).map((e) => e.outerHTML.slice(0, 120));
})()"""
#: Of the sheet as it is printed, what is cut off: heights in CSS pixels.
_CUT_OFF = """(() => {
const sheet = document.querySelector(".sheet");
const last = [...sheet.children].filter((e) => e.getClientRects().length).at(-1);
return last.getBoundingClientRect().bottom - sheet.getBoundingClientRect().bottom;
})()"""


@pytest.mark.parametrize("width", [360, 390, 1280, 1920])
def test_nothing_is_wider_than_the_window(written, chromium, width):
    chromium.screen(width)
    chromium.open(written / "index.html")
    assert chromium.run(_WIDE) == []
    assert chromium.run("document.documentElement.scrollWidth") <= width


def test_nothing_is_wider_than_the_window_at_200_percent(written, chromium):
    chromium.screen(1280, zoom=2)
    chromium.open(written / "index.html")
    assert chromium.run(_WIDE) == []
    assert chromium.run("document.documentElement.scrollWidth") <= 640


def test_on_a_phone_no_table_scrolls_sideways(written, chromium):
    chromium.screen(390)
    chromium.open(written / "index.html")
    chromium.run(_WIDE)
    inner = chromium.run(
        "[...document.querySelectorAll('.scroll')].filter((e) => e.scrollWidth > innerWidth)"
        ".map((e) => e.getAttribute('aria-label'))"
    )
    assert inner == []


def test_every_picture_shows(written, chromium):
    chromium.screen(1280)
    chromium.open(written / "index.html")
    chromium.run(_WIDE)
    drawn = chromium.run(
        "[...document.querySelectorAll('svg:not(.narrow)')]"
        ".map((one) => one.getBoundingClientRect())"
        ".map((box) => Math.min(box.width, box.height))"
    )
    # The lead picture, the overview, five of each voice.
    assert len(drawn) == 1 + 1 + 3 * 5
    assert min(drawn) > 150


def test_on_a_phone_the_lead_picture_has_letters_one_can_read(written, chromium):
    chromium.screen(390)
    chromium.open(written / "index.html")
    shown = chromium.run("""(() => {
      const box = document.querySelector(".lead-picture .narrow");
      return [document.querySelector(".lead-picture .broad").getClientRects().length,
        14 * box.getBoundingClientRect().width / box.viewBox.baseVal.width];
    })()""")
    assert shown[0] == 0
    assert shown[1] > 12


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_alone_is_one_page(written, chromium, paper):
    chromium.screen(1280)
    chromium.open(written / "index.html")
    whole = pages_of(chromium.pdf(paper))
    chromium.run("document.documentElement.classList.add('sheet-only')")
    assert pages_of(chromium.pdf(paper)) == 1
    assert whole > 3


def test_nothing_of_the_printed_sheet_is_cut_off(written, chromium):
    # Letter less its margins: 216 - 24 mm wide.
    chromium.screen(726, 960)
    chromium.open(written / "index.html")
    chromium.call("Emulation.setEmulatedMedia", media="print")
    assert chromium.run(_CUT_OFF) <= 1
    # The lead picture keeps 60 mm: its letters stay readable.
    height = "document.querySelector('.lead-picture .broad').getBoundingClientRect().height"
    assert chromium.run(height) > 60 / 25.4 * 96


def test_no_table_is_squeezed_or_wider_than_paper(written, chromium):
    # A4 less its margins: 210 - 24 mm wide.
    chromium.screen(703, 960)
    chromium.open(written / "index.html")
    chromium.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    chromium.call("Emulation.setEmulatedMedia", media="print")
    assert chromium.run("document.documentElement.scrollWidth") <= 703
    # No first column under 15 mm: names do not break letter by letter.
    narrow = chromium.run(
        "[...document.querySelectorAll('tbody th')].filter((one) => one.getClientRects().length)"
        ".map((one) => one.getBoundingClientRect().width).filter((width) => width < 57).length"
    )
    assert narrow == 0


def test_printed_pages_of_the_whole_report(written, chromium):
    chromium.screen(1280)
    chromium.open(written / "index.html")
    assert pages_of(chromium.pdf("A4")) <= 17
