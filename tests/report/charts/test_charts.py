"""Charts: nothing clipped, nothing overlapping, empty panels say why, the same bytes each time."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from itertools import combinations

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

from tonecompare.quantities.words import HEADLINE
from tonecompare.report.charts import draw_all
from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.lettering import shorten
from tonecompare.report.charts.canvas.style import EM_PT
from tonecompare.report.charts.canvas.svg import svg_of
from tonecompare.report.charts.chart_data import compared, pair_of, titles_of
from tonecompare.report.charts.draw_all import Album, album, voice_pictures
from tonecompare.report.charts.hum import hum_chart
from tonecompare.report.charts.in_time.decay import decay_chart
from tonecompare.report.charts.overview import overview_chart
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.charts.partials import partials_chart
from tonecompare.report.charts.response import response_chart
from tonecompare.report.charts.spectrum import spectrum_chart

CHARTS = (spectrum_chart, partials_chart, decay_chart, hum_chart)
HOSTILE = "$x_{1}$ <b>&amp;\\frac{a \N{SNOWMAN} 日本語"


@pytest.fixture(scope="module")
def pair(story):
    (comparison,) = compared(story.session, story.comparisons)
    return pair_of(story.measurements, comparison, ("neck-split", "magnetic"), "Neck (split)")


def _texts(figure):
    FigureCanvasAgg(figure)
    figure.draw_without_rendering()
    return [
        text
        for text in figure.findobj(Text)
        if text.get_visible() and text.get_text().strip() and text.get_window_extent().width > 0
    ]


def _assert_tidy(figure):
    """No text leaves the figure, and no two texts overlap."""
    texts = _texts(figure)
    boxes = [text.get_window_extent() for text in texts]
    for text, box in zip(texts, boxes, strict=True):
        inside = (
            box.x0 >= -0.5
            and box.y0 >= -0.5
            and box.x1 <= figure.bbox.width + 0.5
            and box.y1 <= figure.bbox.height + 0.5
        )
        assert inside, f"{text.get_text()!r} is clipped"
    for (one, a), (other, b) in combinations(zip(texts, boxes, strict=True), 2):
        apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
        assert apart, f"{one.get_text()!r} and {other.get_text()!r} overlap"


@pytest.mark.parametrize("draw", CHARTS)
def test_voice_charts_are_tidy(draw, pair):
    _assert_tidy(draw(pair))


@pytest.mark.parametrize("draw", CHARTS)
def test_long_and_hostile_names_stay_inside(draw, pair):
    named = replace(pair, title=HOSTILE * 4, before_label=HOSTILE * 3, after_label="b" * 80)
    _assert_tidy(draw(named))


@pytest.mark.parametrize("draw", CHARTS)
def test_very_low_levels_leave_room_for_their_ticks(draw, pair):
    def lower(curves):
        return {
            note: [
                replace(one, band_dbfs=one.band_dbfs - 60.0, partial_dbfs=one.partial_dbfs - 60.0)
                for one in many
            ]
            for note, many in curves.items()
        }

    def quieter(quiets):
        return tuple(replace(one, level_dbfs=one.level_dbfs - 40.0) for one in quiets)

    low = replace(
        pair,
        before=lower(pair.before),
        after=lower(pair.after),
        quiet_before=quieter(pair.quiet_before),
        quiet_after=quieter(pair.quiet_after),
    )
    _assert_tidy(draw(low))


@pytest.mark.parametrize("draw", CHARTS)
def test_empty_panels_say_why(draw):
    figure = draw(ChartPair("Bridge", "before", "after"))
    _assert_tidy(figure)
    said = " ".join(text.get_text() for text in _texts(figure)).replace("\n", " ")
    assert "share no note" in said or "No quiet stretch" in said


@pytest.mark.parametrize("draw", CHARTS)
def test_one_note_one_pluck_is_drawn(draw, pair):
    few = replace(
        pair,
        before={"E2": pair.before["E2"][:1]},
        after={"E2": pair.after["E2"][:1]},
        quiet_before=(),
    )
    _assert_tidy(draw(few))


def test_lines_are_named_on_the_chart(pair):
    said = [text.get_text() for text in _texts(spectrum_chart(pair))]
    assert {"stock", "rewound"} <= set(said)
    assert "Averaged spectrum: heron-stock to heron-rewound" in said


def test_mathtext_of_names_is_not_typeset(pair):
    figure = spectrum_chart(replace(pair, title="$x$ and $y$", says={}))
    (title,) = [text for text in _texts(figure) if "and $y$" in text.get_text()]
    assert title.get_text().startswith("$x$ and $y$")
    assert not title.get_parse_math()


def test_letters_no_font_has_become_question_marks():
    # U+10FFFD is a private-use code point that ordinary fonts leave empty.
    assert drawable("neck \U0010fffd") == "neck ?"
    assert drawable("Öl → µ") == "Öl → µ"


def test_wide_letters_count_twice_when_a_name_is_cut():
    assert shorten("abcdef", 6) == "abcdef"
    assert shorten("abcdefg", 6) == "abcde…"
    assert shorten("日本語日本語", 6) == "日本…"


def _points(figure):
    """Every marker on the axis of thresholds of an overview."""
    return [
        line
        for axes in figure.axes
        if axes.get_xscale() == "function"
        for line in axes.lines
        if line.get_linestyle() == "None"
    ]


def test_overview_is_tidy_and_draws_every_difference(story):
    (comparison,) = compared(story.session, story.comparisons)
    rows = [row for row in comparison.rows if row.quantity in HEADLINE]
    figure = overview_chart(rows, titles_of(comparison.voices), title="Differences")
    _assert_tidy(figure)
    assert len(_points(figure)) == len(rows)


def _many_voices(story, many):
    (comparison,) = compared(story.session, story.comparisons)
    voice = comparison.voices[0]
    rows = [row for row in comparison.of(voice) if row.quantity in HEADLINE]
    names = [f"middle-and-neck-{n}" for n in range(many)]
    return [replace(row, voice=name) for name in names for row in rows], {
        (name, voice[1]): f"Middle and neck {name[-2:]}" for name in names
    }


def test_overview_of_twelve_voices_fits_one_screen_of_a_phone(story):
    rows, titles = _many_voices(story, 12)
    figure = overview_chart(rows, titles, title="Differences")
    _assert_tidy(figure)
    assert len(_points(figure)) == len(rows)
    # A phone of 390 by 844 px shows the picture 366 px wide.
    assert figure.get_figheight() / figure.get_figwidth() * 366.0 < 844.0


def test_ticks_of_two_panels_do_not_run_into_each_other(story):
    rows, titles = _many_voices(story, 2)
    far = {"difference": -17.0, "ci_low": -17.6, "ci_high": -16.4}
    rows = [replace(row, **far) if row.quantity == "level_dbfs" else row for row in rows]
    figure = overview_chart(rows, titles, title="Differences")
    figure.canvas.draw()
    boxes = [
        label.get_window_extent()
        for axes in figure.axes
        for label in axes.get_xticklabels()
        if label.get_text().endswith("20")
    ]
    assert len(boxes) == 4
    assert not any(one.overlaps(other) for one, other in combinations(boxes, 2))


def test_overview_of_nothing_says_so():
    figure = overview_chart([], {}, title="Differences")
    _assert_tidy(figure)
    assert any("hearing threshold" in text.get_text().replace("\n", " ") for text in _texts(figure))


def test_wide_ticks_leave_the_label_its_room(story):
    """Ticks like "−0.5" pushed "difference, dB" to the very edge once."""
    response = story.comparisons.responses[0]
    curves = {
        name: np.clip(getattr(response, name), -1.0, 1.0)
        for name in ("difference_db", "ci_low_db", "ci_high_db")
    }
    figure = response_chart(replace(response, **curves), title="Bridge")
    _assert_tidy(figure)
    left = min(text.get_window_extent().x0 for text in _texts(figure))
    assert left >= 0.25 * EM_PT / 72.0 * figure.dpi


def test_response_chart_is_tidy_and_empty_says_why(story):
    response = story.comparisons.responses[0]
    _assert_tidy(response_chart(response, title="Bridge"))
    nothing = replace(response, difference_db=np.full(response.frequency_hz.size, np.nan))
    figure = response_chart(nothing, title="Bridge")
    _assert_tidy(figure)
    assert any("Too few partials" in text.get_text() for text in _texts(figure))


def test_difference_panel_shows_after_minus_before(pair):
    figure = spectrum_chart(pair)
    lower = figure.axes[1]
    (line,) = [line for line in lower.lines if len(line.get_xdata()) > 20]
    # The story makes Neck (split) 5.7 dB quieter at the lowest partials.
    low = np.asarray(line.get_ydata())[np.asarray(line.get_xdata()) < 120.0]
    assert np.nanmedian(low) == pytest.approx(-5.7, abs=0.6)


def test_settings_of_the_caller_change_nothing_and_are_left_alone(pair):
    plain = svg_of(spectrum_chart(pair), "chart")
    with mpl.rc_context({"lines.linewidth": 9.0, "savefig.dpi": 30, "font.size": 40}):
        before = dict(mpl.rcParams)
        loud = svg_of(spectrum_chart(pair), "chart")
        assert dict(mpl.rcParams) == before
    assert loud == plain


@pytest.mark.parametrize("draw", CHARTS)
def test_files_are_small_and_the_same_each_time(draw, pair):
    one, other = (svg_of(draw(pair), "chart") for _ in range(2))
    assert one == other
    assert "<dc:date>" not in one
    assert len(one) < 80_000


def test_svg_is_the_same_in_another_process():
    code = (
        "import hashlib, numpy as np\n"
        "from tonecompare.compare.model import Response\n"
        "from tonecompare.report.charts.response import response_chart\n"
        "from tonecompare.report.charts.canvas.svg import svg_of\n"
        "x = np.linspace(100.0, 5000.0, 40)\n"
        "r = Response('a', 'b', 'magnetic', x, x / 1e3, x / 1e3 - 1, x / 1e3 + 1, 6)\n"
        "seen = hashlib.sha256(svg_of(response_chart(r, title='T'), 'T').encode()).hexdigest()\n"
    )
    here: dict[str, str] = {}
    exec(code, here)
    seed = "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"
    there = subprocess.run(
        [sys.executable, "-c", code + "print(seen)"],
        env={**os.environ, "PYTHONHASHSEED": seed},
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    assert there.strip() == here["seen"]


def test_pictures_are_the_same_however_many_processes_draw(pair, monkeypatch):
    monkeypatch.setattr(draw_all, "_WORTH_A_START", 2)
    files = []
    for workers in (1, 2):
        with album(workers) as pictures:
            for n in range(2):
                voice_pictures(pictures, replace(pair, title=f"Neck {n}"), name=f"neck-{n}")
            pictures.draw()
        files.append(pictures.files)
    one, other = files
    assert len(one) == 8
    assert one == other
    assert len(set(one.values())) == 8


def test_no_two_pictures_of_a_page_share_an_id(pair):
    album = Album()
    pictures = voice_pictures(album, pair, name="neck")
    ids = [name for each in pictures for name in re.findall(r' id="([^"]+)"', each.svg)]
    used = {
        name for each in pictures for name in re.findall(r'(?:href="|url\()#([\w-]+)', each.svg)
    }
    assert len(ids) == len(set(ids))
    assert used == set(ids)
    assert pictures[0].alt.startswith("Neck (split): ")


def test_nothing_drawn_is_black_by_default_where_the_page_is_dark(pair):
    (spectrum, *_) = voice_pictures(Album(), pair, name="neck")
    root = spectrum.svg[: spectrum.svg.index(">")]
    # What has no fill of its own, as the band of the difference, takes the page's ink.
    assert ' fill="currentColor"' in root
    assert 'color="#1A1A1A"' in root
