"""Every page as axe-core finds it (WCAG 2.2 AA), with the contrast of every text worked out.

On a phone, a laptop and a wide screen, light and dark; the pages of the demo in both languages.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from chromium_driven import browser, in_browser
from click.testing import CliRunner
from sheet_on_paper import LAID_OVER, PRINTED
from wcag import SCREENS, contrast, faint_texts, fetched_axe, violations

import tonecompare
from tonecompare.cli.app import main

pytestmark = in_browser

DEMO = Path(tonecompare.__file__).parents[1] / "recordings_demo"
#: What writes each page, where the page is, and how many texts it shows at least.
_PAGES = {
    "report": (("report", DEMO), "made/index.html"),
    "check": (("check", DEMO), "made/index.html"),
    "take sheet": (
        ("plan", "made", "--outputs", "both", "--split", "bridge"),
        "made/take-sheet.html",
    ),
    "repeats": (("plan", "made", "--outputs", "both"), "made/how-many-plucks.html"),
    "blind": (("blind", DEMO), "made.html"),
}


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    return fetched_axe(tmp_path_factory.mktemp("axe"))


def test_contrast_as_published():
    # WCAG 2.2: black on white is 21:1; #777 on white is 4.48:1 (just short of AA).
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert contrast((0x77,) * 3, (255,) * 3) == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize(("width", "dark"), SCREENS)
def test_no_violation_of_wcag(written, chromium, axe, width, dark):
    chromium.screen(width, dark=dark)
    chromium.open(written / "index.html")
    assert violations(chromium, axe) == []


@pytest.mark.parametrize(("width", "dark"), SCREENS)
def test_every_text_has_contrast(written, chromium, width, dark):
    chromium.screen(width, dark=dark)
    chromium.open(written / "index.html")
    assert faint_texts(chromium) == []


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    """What the first page measured, the others take from here."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TONECOMPARE_STORE", str(tmp_path_factory.mktemp("store")))
        yield


@pytest.mark.parametrize("spoken", ["en", "de"])
@pytest.mark.parametrize("page", _PAGES)
def test_every_page_in_every_language(page, spoken, axe, store, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    command, made = _PAGES[page]
    where = () if command[0] == "plan" else ("--out", "made.html" if page == "blind" else "made")
    done = CliRunner().invoke(main, [*map(str, command), *where, "--language", spoken])
    assert done.exception is None or done.exit_code == 0, done.output
    with browser(tmp_path / "profile", seconds=300.0) as tab:
        for width, dark in SCREENS:
            tab.screen(width, dark=dark)
            tab.open(tmp_path / made)
            assert tab.run("document.documentElement.lang") == spoken
            assert violations(tab, axe) == [], (width, dark)
            assert faint_texts(tab) == [], (width, dark)
            assert tab.run("document.documentElement.scrollWidth") <= width
        if page == "report":
            tab.screen(*PRINTED)
            tab.call("Emulation.setEmulatedMedia", media="print")
            assert tab.run(LAID_OVER) == 0
