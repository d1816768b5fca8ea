"""The lead picture: every sound on its line, farther out what moved farther, names apart."""

from __future__ import annotations

from itertools import pairwise

import pytest

from tonecompare.report.page.sheet.lead_picture import NARROW, WIDE, lead_picture
from tonecompare.report.words.sheet_words.sheet_text import sheet_text


@pytest.fixture(params=[WIDE, NARROW], ids=["wide", "narrow"])
def picture(story, request):
    return lead_picture(sheet_text(story.session, story.comparisons).voices, request.param)


def test_a_line_for_each_thing_a_player_asks(picture):
    assert [line.name for line in picture.lines] == ["Loudness", "Treble", "Sustain", "Hum", "Buzz"]
    assert all(len(line.dots) == 3 for line in picture.lines)


def test_louder_stands_right_of_the_middle_and_farther_out_the_more(picture):
    loud = {label.text: label.x for label in picture.lines[0].labels}
    assert loud["Neck (split)"] < picture.band[0] < picture.middle < loud["Bridge"]
    farthest = min(dot.x for dot in picture.lines[0].dots)
    assert picture.frame.left < farthest


def test_the_band_is_one_threshold_each_way(picture):
    # sign(x) log2(1 + |x|): one threshold is log2(2) = 1 of log2(13) = 3.70 to the end.
    half = (picture.frame.right - picture.frame.left) / 2.0
    assert picture.band[1] - picture.middle == pytest.approx(half / 3.7004, abs=0.06)


def test_names_on_one_side_of_a_line_do_not_overlap(picture):
    for line in picture.lines:
        for tier in (0, 1, 2):
            spans = sorted(
                (label.x - 4 * len(label.text), label.x + 4 * len(label.text))
                for label in line.labels
                if label.tier == tier
            )
            assert all(start >= 0 and end <= picture.frame.width for start, end in spans)
            assert all(one[1] < other[0] for one, other in pairwise(spans))


def test_what_is_heard_is_named_even_where_two_stand_close(comparisons_of, row, story):
    rows = [
        row(voice=name, difference=size, ci_low=size - 0.5, ci_high=size + 0.5)
        for name, size in (("bridge-and-middle", 4.0), ("middle-and-neck", 4.3))
    ]
    (line,) = lead_picture(sheet_text(story.session, comparisons_of(*rows)).voices).lines
    assert [(label.text, label.tier) for label in line.labels] == [
        ("Bridge and middle", 1), ("Middle and neck", 2),
    ]  # fmt: skip


def test_the_picture_says_the_same_in_words(picture):
    assert "Neck (split) quieter, you can expect to hear it" in picture.alt
    assert "interval" not in picture.alt


def test_twelve_sounds_at_one_place_share_a_label(comparisons_of, row, story):
    rows = [
        row(voice=f"voice-{n}", difference=0.1, ci_low=-0.2, ci_high=0.4, verdict="no-change")
        for n in range(12)
    ]
    picture = lead_picture(sheet_text(story.session, comparisons_of(*rows)).voices)
    assert [label.text for label in picture.lines[0].labels] == ["12 voices"]


def test_nothing_to_place_gives_no_picture(story, comparisons_of, row):
    one = row(difference=None, hearing_threshold=None, verdict="")
    assert lead_picture(sheet_text(story.session, comparisons_of(one)).voices) is None


def test_a_name_at_the_left_end_keeps_clear_of_what_its_line_is_about(comparisons_of, row, story):
    far = row(voice="bridge-and-middle", difference=-11.0, ci_low=-11.5, ci_high=-10.5)
    (line,) = lead_picture(sheet_text(story.session, comparisons_of(far)).voices).lines
    (label,) = line.labels
    # Bold letters of 15 units are 9 wide on average, others 8.
    assert label.x - 4 * len(label.text) >= 9 * len(line.name)
