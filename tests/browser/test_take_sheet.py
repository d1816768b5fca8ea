"""The take sheet in a real browser: on a phone at the bench, and its first page on paper."""

from __future__ import annotations

import pytest
from chromium_driven import in_browser, pages_of

from tonecompare.session import PlanOptions
from tonecompare.session.plan.planned_session import write_plan

pytestmark = in_browser

_WIDE = """[...document.querySelectorAll("body *")].filter(
  (e) => e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan") / "heron"
    options = PlanOptions(
        title="Heron, rewound and shielded", splits=("bridge",), outputs="both", frets=(0, 12)
    )
    return write_plan(folder, options).sheet


@pytest.mark.parametrize("width", [360, 390, 1280])
def test_nothing_is_wider_than_the_window(sheet, chromium, width):
    chromium.screen(width)
    chromium.open(sheet)
    assert chromium.run(_WIDE) == []


def test_boxes_on_a_phone_are_large_enough_and_take_a_tick(sheet, chromium):
    chromium.screen(390)
    chromium.open(sheet)
    # WCAG 2.2, success criterion 2.5.8: targets of 24 by 24 CSS pixels at least.
    smallest = chromium.run(
        "Math.min(...[...document.querySelectorAll('input')].flatMap((one) => {"
        " const box = one.getBoundingClientRect(); return [box.width, box.height]; }))"
    )
    assert smallest >= 24
    ticked = chromium.run(
        "(() => { const one = document.querySelector('.grid input'); one.click();"
        " return one.checked && getComputedStyle(one, '::after').content; })()"
    )
    assert "\N{CHECK MARK}" in ticked


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_short_form_is_one_page_and_each_stage_begins_on_its_own(sheet, chromium, paper):
    chromium.screen(1280)
    chromium.open(sheet)
    whole = pages_of(chromium.pdf(paper))
    chromium.run("document.querySelectorAll('.stage').forEach((one) => one.remove())")
    assert pages_of(chromium.pdf(paper)) == 1
    assert whole >= 1 + 2
