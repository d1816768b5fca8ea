"""Pictures for screens: legible, inside what every screen shows, one statement each, repeatable."""

from __future__ import annotations

import io
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from PIL import Image
from text_boxes import text_boxes

from tonecompare.compare.listening.pooled import Answers, pool
from tonecompare.errors import InputError
from tonecompare.quantities.columns import DIFFERENCES
from tonecompare.report.blind.results import Scored
from tonecompare.report.charts.chart_data import Compared
from tonecompare.report.difference_views import rows_of
from tonecompare.report.video import plots
from tonecompare.report.video.chart_set import drawn, write_charts
from tonecompare.report.video.closing_card import closing
from tonecompare.report.video.shapes import LOOKS, SHAPES
from tonecompare.report.video.slide import slide_files
from tonecompare.report.video.statement import KINDS, Statement
from tonecompare.report.video.statements import chosen, guitars_beside, statements
from tonecompare.report.words.findings import find
from tonecompare.report.words.listening_words.chart_words import title_of


@pytest.fixture(scope="module")
def results(story):
    made = statements(story.session, story.measurements, story.comparisons)
    return made, find(story.comparisons)


RATIO = np.linspace(0.0, 1.0, 21)
HZ = 50.0 * 2.0 ** (np.arange(24) / 3.0)
LONG = "A voice whose name is longer than anybody's patience (split)"


def others():
    """Kinds that the invented session has no results for, with long and many names."""
    rows = [plots.TwoValues(f"{LONG} {n}", 1500.0, 1400.0 + 10 * n, f"−{n} %") for n in range(9)]
    steps = [plots.Place(x, y, LONG) for x, y in ((0.0, 0.0), (190.0, 0.9), (515.5, 0.4))]
    values = np.outer(np.sin(3 * RATIO), np.sin(HZ / 900.0)) * 9.0
    sure = "likely audible, 95\N{NO-BREAK SPACE}%: −20\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}−8"
    lines = [("Neck (split): decay", "−14 %", sure)] * 3

    beats = np.arange(16) * 0.5
    riff = [
        plots.Curve(beats, -20.0 + 6.0 * np.sin(beats * 2.0), "stock"),
        plots.Curve(beats, -17.0 + 6.0 * np.sin(beats * 2.0), "rewound", after=True),
    ]

    def made(kind, draw, title="Bridge: decay", much="−14 %"):
        return Statement(kind, kind, title, much, "measurable, 95 %: −20 to −8", "", "", draw)

    return (
        made("guitars", lambda slide: plots.two_sides(slide, rows, ("plover-one", "the other"))),
        made("cost", lambda slide: plots.dots(slide, steps, x_word="EUR", y_word="thresholds"),
             title=LONG, much="0.4 for 515.5 EUR"),
        made("blend", lambda slide: plots.filling_map(slide, RATIO, HZ, values)),
        made("phrase", lambda slide: plots.curves(slide, riff, unit="dB", x_word="seconds"),
             title="Bridge: the riff, note by note"),
        made("closing", lambda slide: plots.sentences(slide, lines), much="", title="What differs"),
    )  # fmt: skip


#: Every shape in one look; looks are colours and a halo, which would move letters in all shapes.
SHOWN = [*((shape, "light") for shape in SHAPES), ("video", "dark"), ("portrait", "transparent")]


@pytest.mark.parametrize(("shape", "look"), SHOWN)
def test_letters_are_large_enough_and_inside_the_margins(results, shape, look):
    kinds = {one.kind: one for one in (*results[0], *others())}
    assert set(kinds) == set(KINDS)
    screen = SHAPES[shape]
    for one in kinds.values():
        slide = drawn(one, screen, LOOKS[look])
        boxes = text_boxes(slide)
        assert boxes
        for text, left, top, right, bottom, size in boxes:
            assert size >= screen.height / 30 - 0.01, (one.kind, text)
            # Title-safe: a twentieth free at every edge, letters that hang over included.
            assert left >= 0.05 * screen.width, (one.kind, text)
            assert right <= 0.95 * screen.width, (one.kind, text)
            assert top >= 0.05 * screen.height, (one.kind, text)
            assert bottom <= 0.95 * screen.height, (one.kind, text)


@pytest.mark.parametrize("shape", ["video", "portrait", "square"])
def test_no_text_lies_on_another(results, shape):
    for one in (*{one.kind: one for one in results[0]}.values(), *others()):
        boxes = text_boxes(drawn(one, SHAPES[shape], LOOKS["light"]))
        for number, (text, left, top, right, bottom, size) in enumerate(boxes):
            for other, x0, y0, x1, y1, _ in boxes[:number]:
                across = min(right, x1) - max(left, x0)
                down = min(bottom, y1) - max(top, y0)
                assert min(across, down) < 0.3 * size, (one.kind, text, other)


def test_pixels_are_the_screens_and_transparent_is_so(results):
    one = results[0][0]
    for shape in ("video", "portrait", "square"):
        for look in LOOKS.values():
            data = slide_files(drawn(one, SHAPES[shape], look))
            picture = Image.open(io.BytesIO(data["png"])).convert("RGBA")
            assert picture.size == (SHAPES[shape].width, SHAPES[shape].height)
            alpha = np.asarray(picture)[..., 3]
            assert (alpha.min() == 0) == (look.name == "transparent")
            assert alpha.max() == 255


def _luminance(colour):
    """WCAG 2.2, relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("look", ["light", "dark"])
def test_colours_stand_out_from_the_ground(look):
    one = LOOKS[look]
    ground = _luminance(one.background)
    for colour, least in ((one.ink, 7.0), (one.muted, 4.5), (one.before, 3.0), (one.after, 3.0)):
        bright, dark = sorted((_luminance(colour), ground), reverse=True)
        assert (bright + 0.05) / (dark + 0.05) >= least


def test_titles_have_six_words_at_most(results):
    assert all(len(one.title.split()) <= 6 for one in results[0])
    assert title_of("A name of very many words:", "change over frequency") == (
        "A name of change over frequency"
    )


def test_the_findings_choose_the_pictures(results):
    made, findings = results
    shown = chosen(made, findings)
    assert shown[-1].kind == "closing"
    # The rewind made the neck (split) quieter and its hum stronger: the story's own numbers.
    assert "hum" in {one.kind for one in shown}
    assert len(shown) < len(made)
    assert {one.kind for one in chosen(made, findings, kinds=["decay"])} == {"decay"}
    name = made[0].name
    assert [one.name for one in chosen(made, findings, kinds=[name])] == [name]


def test_the_closing_card_names_three_and_how_sure(results):
    texts = [box[0] for box in text_boxes(drawn(results[0][-1], SHAPES["video"], LOOKS["light"]))]
    said = "\n".join(texts)
    assert said.count("likely audible, 95") == 3
    assert len(re.findall(r"^[+−]\d", said, re.M)) == 3


def test_bytes_are_the_same_from_run_to_run(results, tmp_path):
    shapes = [SHAPES[name] for name in ("square", "print", "page")]
    made = (results[0][0], results[0][-1])
    for folder in ("one", "other"):
        names = write_charts(made, tmp_path / folder, shapes=shapes, look=LOOKS["dark"])
    assert {Path(name).suffix for name in names} == {".png", ".svg", ".pdf"}
    for name in names:
        one, other = ((tmp_path / folder / name).read_bytes() for folder in ("one", "other"))
        assert one == other, name
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "x.txt").write_text("mine")
    with pytest.raises(InputError, match="left alone"):
        write_charts(made, tmp_path / "mine", shapes=shapes, look=LOOKS["dark"])


def test_a_single_partial_is_shown_where_nothing_else_is(row):
    """The card never says that nothing was shown while a picture shows something."""
    values = {"before_value": -20.0, "after_value": -7.0, "difference": 13.0}
    told = row(quantity="h05_db", ci_low=6.0, ci_high=21.0, **values)
    (partial,) = rows_of(pd.DataFrame([told]).reindex(columns=list(DIFFERENCES)))
    one = Compared("a to b", "a", "b", (partial,), ((partial.voice, partial.output),))
    texts = [box[0] for box in text_boxes(drawn(closing((one,)), SHAPES["video"], LOOKS["light"]))]
    assert texts[0] == "What differs"
    assert "+13 dB" in texts
    nothing = drawn(closing(()), SHAPES["video"], LOOKS["light"])
    assert [box[0] for box in text_boxes(nothing)] == [
        "No difference was shown", "which is not the same as none",
    ]  # fmt: skip


def test_only_a_passed_test_puts_the_word_heard_on_the_card(row):
    rows = rows_of(
        pd.DataFrame([row(quantity=name) for name in ("decay_s", "level_dbfs", "hum_dbfs")])
        .reindex(columns=list(DIFFERENCES))
    )  # fmt: skip
    told = rows[0]
    one = Compared(told.comparison, "a", "b", tuple(rows), ((told.voice, told.output),))

    def card(*right):
        tests = [Answers(str(number), "abx", count, 16) for number, count in enumerate(right)]
        score = Scored(told.comparison, told.voice, told.output, "E2", pool(tests))
        slide = drawn(closing((one,), [score]), SHAPES["video"], LOOKS["light"])
        return " ".join(box[0] for box in text_boxes(slide))

    # Of the decay alone: the test plays plucks of one loudness and no quiet.
    assert card(13, 12, 12, 8).count("heard by 3 of 4, 95") == 1
    assert card(13, 12, 12, 8).count("likely audible, 95") == 2
    assert "heard" not in card(9, 8)
    assert card(9, 8).count("likely audible, 95") == 3


def test_guitars_are_set_beside_each_other_by_what_is_shown_to_differ(row):
    stages = {name: SimpleNamespace(instrument=f"tern-{name}") for name in ("one", "two")}
    values = {"before": "one", "after": "two", "before_value": -20.0, "after_value": -14.0}

    def told(verdict, *more):
        rows = [
            row(quantity="centroid_hz", verdict="undecided", **values),
            row(quantity="level_dbfs", verdict=verdict, difference=6.0, **values),
            *more,
        ]
        made = rows_of(pd.DataFrame(rows).reindex(columns=list(DIFFERENCES)))
        both = (made[0].voice, made[0].output)
        one = Compared(made[0].comparison, "one", "two", tuple(made), (both,))
        return list(guitars_beside(SimpleNamespace(stages=stages), [one]))

    (level,) = told("likely-audible")
    assert level.title.endswith(": level")
    # Larger, but under the notes: it may be heard at most.
    faint = {"difference": -9.0, "ci_low": -9.5, "ci_high": -8.5, "verdict": "measurable"}
    (level,) = told("likely-audible", row(quantity="buzz_dbfs", **faint, **values))
    assert level.title.endswith(": level")
    assert told("undecided") == []


def test_a_picture_of_all_voices_speaks_of_one_that_is_shown(story, row, comparisons_of):
    values = {"quantity": "hum_dbfs", "before_value": -60.0, "after_value": -66.0}
    open_ = {"difference": -16.0, "ci_low": -33.0, "ci_high": 0.5, "verdict": "undecided"}
    sure = {"difference": -12.04, "ci_low": -14.0, "ci_high": -10.1, "verdict": "likely-audible"}
    rows = [row(voice="neck", **open_, **values), row(voice="bridge", **sure, **values)]
    made = statements(story.session, story.measurements, comparisons_of(*rows))
    (hum,) = [one for one in made if one.kind == "hum"]
    assert hum.title == "Bridge: hum"
    # With the digits that the tables give them.
    assert (hum.number, hum.sure.split(";")[0].replace("\N{NO-BREAK SPACE}", " ")) == (
        "−12 dB", "likely audible, 95 %: −14 to −10",
    )  # fmt: skip
