"""The sheet of every kind of comparison is one page, on A4 and on Letter, with nothing cut off."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest
from chromium_driven import in_browser, pages_of
from comparisons_made import TableGiven
from sheet_on_paper import LAID_OVER, PRINTED

from tonecompare.language import in_language
from tonecompare.quantities.columns import DIFFERENCES
from tonecompare.report.page.layout import page_html
from tonecompare.report.page.sheet.sheet_view import sheet_view
from tonecompare.report.page.view import PageView
from tonecompare.session.model import WorkItem

pytestmark = in_browser

_STOCK, _REWOUND = "heron-stock", "heron-rewound"
_NULL = {"difference": 0.1, "ci_low": -0.3, "ci_high": 0.5, "verdict": "no-change"}
_DECAY = {"quantity": "decay_s", "unit": "%", "hearing_threshold": 25.0, **_NULL}
_HUM = {"quantity": "hum_dbfs", "hearing_threshold": 1.5}
_GUITARS = ("tern-light", "tern-full", _REWOUND, "heron-piezo")
_LONG = "the one in the middle that was wound by hand and dipped twice in the cellar, no. "
KINDS = {
    "stage pair": [{"voice": voice} for voice in ("bridge", "neck")],
    "two sounds": [{"voice": "bridge"}],
    "voices of one guitar": [
        {
            "comparison": f"{_STOCK}/bridge to {_STOCK}/{voice}", "before": f"{_STOCK}/bridge",
            "after": f"{_STOCK}/{voice}", "voice": voice,
        }
        for voice in ("neck", "middle", "bridge-split")
    ],
    "three guitars": [
        {"comparison": f"{_STOCK} to {name}", "after": name, "voice": voice}
        for name in ("tern-light", "tern-full")
        for voice in ("bridge", "neck")
    ],
    "nothing changed": [{"voice": "bridge", **_NULL}],
    "twelve voices": [{"voice": f"voice-{n}", "difference": -n / 2} for n in range(12)],
    "long names": [{"voice": _LONG + str(n)} for n in range(6)],
    "four guitars in German": [
        {"comparison": f"{_STOCK} to {name}", "after": name, "voice": voice}
        for name in _GUITARS
        for voice in ("bridge", "neck", "bridge-and-piezo")
    ],
}  # fmt: skip


def _rows(made, kinds):
    return [
        made(**{**one, **more})
        for one in kinds
        for more in ({}, {**_DECAY}, {**_HUM, "verdict": one.get("verdict", "likely-audible")})
    ]


@pytest.fixture
def sheet(story_module, tmp_path, request):
    """A page with nothing but the sheet of one kind of comparison."""
    kind = request.param
    story = story_module.build(tmp_path, voices=["bridge"], repeats=2)
    rows = _rows(story_module.difference_row, KINDS[kind])
    table = pd.DataFrame(rows).reindex(columns=list(DIFFERENCES))
    stages = dict(story.session.stages)
    if kind == "long names":
        work = tuple(WorkItem(f"{_LONG}{n}", 20.0, 1.0) for n in range(6))
        stages[_REWOUND] = replace(stages[_REWOUND], work=work)
    if kind == "four guitars in German":
        work = tuple(WorkItem(f"two hotter pickups and a coil split, no. {n}") for n in range(3))
        stages |= {name: replace(stages[_REWOUND], name=name, work=work) for name in _GUITARS}
    session = replace(story.session, stages=stages, comparisons=())
    spent = [SimpleNamespace(stage=name, cost="367 EUR parts, 9.5 h, 794.50 EUR in all")
             for name in _GUITARS]  # fmt: skip
    costs = SimpleNamespace(steps=spent) if "German" in kind else None
    given = TableGiven(differences=table)
    with in_language("de" if "German" in kind else "en"):
        view = sheet_view(session, given, worth=(None,) if costs else (), costs=costs, voices={})
        path = tmp_path / "sheet.html"
        path.write_text(page_html(_page(kind, view), sheet_only=True), encoding="utf-8")
    return path


def _page(kind, view):
    nothing = ()
    return PageView(
        title="Heron " * (30 if kind == "long names" else 1), findings=nothing,
        comparisons=nothing, quiet=nothing, quiet_headings=nothing, spreads=nothing,
        signs=nothing, pickups=nothing, blend=None, worth=None, left_out=nothing,
        problems=nothing, thresholds=nothing, inputs=nothing, settings=nothing, versions=nothing,
        sheet=view,
    )  # fmt: skip


_CUT_OFF = """(() => {
const sheet = document.querySelector(".sheet"), end = sheet.getBoundingClientRect().bottom;
return [...sheet.querySelectorAll("*")].filter((one) => one.getClientRects().length
  && one.getBoundingClientRect().bottom > end + 1).map((one) => one.outerHTML.slice(0, 80));
})()"""


@pytest.mark.parametrize("sheet", KINDS, indirect=True)
def test_one_page_on_either_paper_and_nothing_cut_off(sheet, chromium):
    chromium.screen(1280)
    chromium.open(sheet)
    assert [pages_of(chromium.pdf(paper)) for paper in ("A4", "Letter")] == [1, 1]
    chromium.screen(*PRINTED)
    chromium.call("Emulation.setEmulatedMedia", media="print")
    assert chromium.run(_CUT_OFF) == []
    assert chromium.run(LAID_OVER) == 0
    assert chromium.run("document.documentElement.scrollWidth") <= PRINTED[0]
