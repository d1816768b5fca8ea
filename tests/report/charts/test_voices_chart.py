"""The chart of all voices: up to twelve, none hidden, each in its own look."""

from __future__ import annotations

import itertools

from matplotlib.backends.backend_agg import FigureCanvasAgg
from voices_made import Made, stage_of

from tonecompare.report.charts.canvas.style import AFTER, BEFORE
from tonecompare.report.charts.voices import voices_chart
from tonecompare.report.words.voice_words import sound_titles

_TWELVE = {f"position-{n}": Made(level_db=-20.0 - n, hum_db=-80.0 + 2 * n) for n in range(1, 13)}


def test_twelve_voices_are_named_and_their_rows_do_not_overlap():
    voices = stage_of(_TWELVE)
    figure = voices_chart(voices, sound_titles(voices), title="Twelve")
    renderer = FigureCanvasAgg(figure).get_renderer()
    labels = [label.get_window_extent(renderer) for label in figure.axes[0].get_yticklabels()]
    assert len(labels) == 12
    assert all(box.x0 >= 0 for box in labels)
    heights = sorted((box.y0, box.y1) for box in labels)
    assert all(one[1] <= other[0] for one, other in itertools.pairwise(heights))


def test_form_says_what_a_channel_carries_and_colours_are_left_to_before_and_after():
    made = {"bridge": Made(), "piezo": Made(output="piezo"), "both": Made(output="blend")}
    figure = voices_chart(stage_of(made), sound_titles(stage_of(made)), title="Three")
    markers = [line for line in figure.axes[0].lines if line.get_marker() not in ("None", "", None)]
    assert len({(line.get_marker(), line.get_markerfacecolor()) for line in markers}) == 3
    drawn = {line.get_color().upper() for axes in figure.axes for line in axes.lines}
    assert not drawn & {BEFORE.colour.upper(), AFTER.colour.upper()}


def test_long_names_that_begin_alike_stay_apart():
    voices = stage_of({"bridge-and-middle": Made(), "bridge-and-piezo": Made(level_db=-22.0)})
    figure = voices_chart(voices, sound_titles(voices), title="Two")
    named = [label.get_text().replace("\n", " ") for label in figure.axes[0].get_yticklabels()]
    assert named == ["Bridge and middle", "Bridge and piezo"]
