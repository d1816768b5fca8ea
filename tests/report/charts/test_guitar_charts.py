"""Charts of guitars and of worth: all there is to see is drawn, and nothing is cut off."""

from __future__ import annotations

from itertools import pairwise

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from tonecompare.compare.worth.work_steps import Distance
from tonecompare.language import in_language
from tonecompare.report.charts.guitars import BesideRow, guitars_chart
from tonecompare.report.charts.worth import WorthRow, worth_chart
from tonecompare.report.difference_views import Difference

LONG = "heron-with-the-longest-name-that-anybody-ever-gave-to-a-stage-of-work"


def _row(verdict: str, difference: float) -> Difference:
    return Difference(
        "a to b", "a", "b", "neck", "magnetic", "all", "level_dbfs", "dB", 0.0, difference,
        difference, difference - 0.5, difference + 0.5, 18, 18, 1.0, verdict, "",
    )  # fmt: skip


def _beside(stage: str, **differences: Difference | None) -> BesideRow:
    return BesideRow("Neck", stage, differences)


def _texts(figure: Figure) -> list[str]:
    """Return every visible text, and fail where one leaves the figure."""
    renderer = FigureCanvasAgg(figure).get_renderer()
    found = []
    for text in figure.findobj(lambda each: hasattr(each, "get_text")):
        if not text.get_visible() or not text.get_text():
            continue
        box = text.get_window_extent(renderer)
        if box.width and box.x1 > 0 and box.y1 > 0:
            assert box.x0 >= -1, text.get_text()
            assert box.x1 <= figure.bbox.width + 1, text.get_text()
            found.append(text.get_text())
    return found


@pytest.mark.parametrize("stage", ["tern", LONG])
def test_a_guitar_is_named_where_its_marks_stand(stage: str) -> None:
    rows = [_beside(stage, Level=_row("likely-audible", 3.0), Noise=None),
            _beside("c", Level=_row("no-change", 0.1), Noise=_row("undecided", -40.0))]  # fmt: skip
    said = _texts(guitars_chart(rows, title="Likely audible against a"))
    assert {"Level", "Noise", "Neck", "c", "–"} <= set(said)
    assert any(
        text == stage or (text.endswith("…") and LONG.startswith(text[:-1])) for text in said
    )


def test_a_step_shows_the_figures_of_the_table() -> None:
    distances = (
        Distance("level", 2.94, 2.0, 4.0, 2), Distance("shape", None, None, None, 0),
        Distance("decay", 0.04, 0.0, 0.1, 2), Distance("hum", 1.26, 0.5, 2.0, 2),
    )  # fmt: skip
    rows = [WorthRow(LONG, "190.50 EUR, 1 new voice, against heron-stock", distances)]
    said = _texts(worth_chart(rows, title="heron: 2 likely audible differences on old voices"))
    assert {"2.9", "0.0", "1.3", "not measured", "Level", "Hum"} <= set(said)
    assert "190.50 EUR, 1 new voice, against heron-stock" in said


def test_a_step_without_a_shared_voice_says_so() -> None:
    rows = [WorthRow("two", "40 EUR", (Distance("level", None, None, None, 0),))]
    said = " ".join(_texts(worth_chart(rows, title="t")))
    assert "No voice was measured both before" in said


def test_a_name_of_two_lines_is_drawn_on_one() -> None:
    rows = [_beside("a\nb", Level=_row("likely-audible", 3.0), Noise=None)]
    assert "a b" in _texts(guitars_chart(rows, title="Likely audible against c\nd"))


def test_long_headings_of_columns_stand_beside_each_other() -> None:
    names = ["Pegel", "Klangfarbe", "Ausklingzeit", "Störgeräusch der Elektronik"]
    row = BesideRow("Neck", LONG, {name: _row("measurable", 1.0) for name in names})
    figure = guitars_chart([row], title="")
    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [
        text.get_window_extent(renderer) for text in figure.axes[-1].texts
        if text.get_text() in names
    ]  # fmt: skip
    assert len(boxes) == len(names)
    assert boxes[-1].x1 <= figure.bbox.width
    for one, other in pairwise(boxes):
        assert one.x1 < other.x0


def test_a_title_too_long_for_two_lines_keeps_its_end() -> None:
    title = (
        "heron-piezo: 1,7-mal so teuer wie heron-rewound, alte Klänge: nichts wahrscheinlich "
        "hörbar, 2 neue Klänge"
    )
    rows = [WorthRow("two", "40 EUR", (Distance("level", 1.0, 0.5, 1.5, 2),))]
    said = " ".join(_texts(worth_chart(rows, title=title)))
    assert title in said.replace("\N{NO-BREAK SPACE}", " ")


def test_the_steps_of_a_chart_stand_at_one_edge_whatever_they_measure() -> None:
    distances = (Distance("decay", 1.0, 0.5, 1.5, 2), Distance("hum", 1.0, 0.5, 1.5, 2))
    with in_language("de"):
        figure = worth_chart([WorthRow("two", "40 EUR", distances)], title="t")
    renderer = FigureCanvasAgg(figure).get_renderer()
    (axes,) = figure.axes
    boxes = {
        text.get_text(): text.get_window_extent(renderer)
        for text in figure.findobj(Text)
        if text.get_text()
    }
    names = [label.get_window_extent(renderer).x0 for label in axes.get_yticklabels()]
    assert boxes["two"].x0 == pytest.approx(boxes["t"].x0, abs=1.0)
    assert min(names) >= boxes["t"].x0 - 1.0
