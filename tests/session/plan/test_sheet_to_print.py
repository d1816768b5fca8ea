"""The take sheet: parsed, not looked at; it was looked at on paper sizes A4 and Letter."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from bracketed import Bracketed, unsaid

from tonecompare.language import catalogue
from tonecompare.session import PlanOptions
from tonecompare.session.plan.planned_session import make_plan
from tonecompare.session.plan.repeats import repeats_needed
from tonecompare.session.plan.sheet_to_print import (
    minutes_of,
    repeats_page,
    spread_rows,
    take_sheet,
    voice_text,
)


class Page(HTMLParser):
    """What a browser would show: text, tags in balance, attributes."""

    VOID = frozenset({"meta", "br", "link", "img", "input"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.shown: list[str] = []
        self.feed(html)
        self.close()
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] not in ("style", "script"):
            self.shown.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.shown))

    def boxes_in_grids(self, html: str) -> int:
        grids = re.findall(r'<table class="grid">.*?</table>', html, re.DOTALL)
        return sum(grid.count('class="box"') for grid in grids)


HOSTILE = "<script>alert(\"x\")</script> & 'нек'"


@pytest.fixture(scope="module")
def plan():
    return make_plan(
        PlanOptions(
            title=HOSTILE,
            instruments=("heron",),
            controls=("wren",),
            stages=("stock", "rewound"),
            splits=("bridge",),
            outputs="both",
            frets=(0, 12),
            repeats=4,
        )
    )


@pytest.fixture(scope="module")
def html(plan):
    return take_sheet(plan)


@pytest.fixture(scope="module")
def page(html):
    return Page(html)


def test_a_box_for_every_pluck(plan, html, page):
    voices = sum(len(stage.order) for stage in plan.stages)
    assert page.boxes_in_grids(html) == voices * 12 * 4


def test_voices_stand_in_the_order_of_the_plan(plan, page):
    headings = [h.split(". ", 1)[1] for h in re.findall(r"\d+\. [\w-]+", page.text)]
    expected = [voice.name for stage in plan.stages for voice in stage.order]
    assert [h for h in headings if h in set(expected)] == expected


def test_titles_are_escaped_and_intact(html, page):
    assert HOSTILE in page.text
    assert "<script" not in html.lower()


def test_nothing_is_fetched(html, page):
    assert not re.search(r"https?:|//[a-z]", html)
    links = {attrs["href"] for _, attrs in page.tags if "href" in attrs}
    ids = {f"#{attrs['id']}" for _, attrs in page.tags if "id" in attrs}
    assert links <= ids | {"how-many-plucks.html"}
    assert not any("src" in attrs for _, attrs in page.tags)
    assert "@import" not in html
    assert "url(" not in html


def test_no_paper_size_is_forced(html):
    assert "@page" in html
    assert not re.search(r"size:\s*(A4|letter)", html, re.IGNORECASE)


@pytest.mark.parametrize(
    "piece",
    [
        "Gain of the interface", "high impedance", "same cable", "hours played", "Pick",
        "picking place", "same chair, facing the same way", "Quiet first", "hands on the strings",
        "hands off", "protective-earth", "qualified electrician", "local codes", "Rosin fume",
        "razor-sharp", "Dust", "Battery out", "Hearing",
        "heron-rewound", "after work on heron-stock", "control : nothing is changed", "your rating",
        "stereo jack: channel 1 magnetic, channel 2 piezo", "split: one coil", "E2 · E3",
    ],
)  # fmt: skip
def test_what_must_stand_on_it(page, piece):
    assert piece in page.text


def test_no_term_of_statistics_stands_at_the_bench(page):
    assert not re.search(
        r"standard deviation|freedom|non-?central|Cohen|t test|spread|centroid", page.text
    )


def test_every_box_is_named_and_can_be_ticked_on_a_phone(page):
    boxes = [attrs for tag, attrs in page.tags if tag == "input"]
    assert len(boxes) > 100
    assert all(attrs["type"] == "checkbox" for attrs in boxes)
    named = sum(bool(attrs.get("aria-label")) for attrs in boxes)
    assert named + sum(tag == "label" for tag, _ in page.tags) == len(boxes)


def test_what_the_plucks_show_is_said_in_plain_words(plan, page):
    row = next(row for row in spread_rows(plan) if row.label == "Level")
    assert f"show a change of {row.shown_all_notes} in level" in page.text


def test_the_table_of_repeats_holds_the_numbers_of_the_formula(plan):
    page = Page(repeats_page(plan))
    assert all(piece in page.text for piece in ("noncentral t", "Cohen", "1988"))
    rows = {row.label: row for row in spread_rows(plan)}
    assert rows["Level"].needed_one_note == str(repeats_needed(1.0, 0.6))
    assert rows["Level"].needed_all_notes == str(repeats_needed(1.0, 0.6, notes=12))
    for row in rows.values():
        for cell in (row.label, row.spread, row.change, row.needed_one_note, row.shown_one_note):
            assert cell in page.text


def test_spreads_of_existing_takes_and_wishes_are_used():
    options = PlanOptions(measured_spreads={"decay_s": 40.0}, smallest_changes={"decay_s": 1.0})
    row = {row.label: row for row in spread_rows(make_plan(options))}["Decay time"]
    assert (row.spread, row.change, row.spread_from) == ("40 %", "1.0 %", "from existing takes")
    assert row.needed_one_note == "out of reach"


def test_one_string_one_pluck_still_makes_a_sheet():
    plan = make_plan(PlanOptions(tuning=("E2",), repeats=1, layout="one"))
    html = take_sheet(plan)
    page = Page(html)
    assert page.boxes_in_grids(html) == 2 * 2  # two stages, the voice and the voice again
    assert "nothing yet" in page.text
    reckoned = Page(repeats_page(plan)).text
    assert "on all" not in reckoned
    assert "–" in reckoned


def test_the_same_plan_gives_the_same_bytes(plan, html):
    assert take_sheet(plan) == html


def test_voices_say_how_to_set_the_guitar(plan):
    said = {voice.name: voice_text(voice) for voice in plan.voices}
    assert said["bridge"] == ""
    assert said["bridge-neck"] == "bridge + neck"
    assert said["bridge-split"] == "bridge, split: one coil"
    assert said["piezo"] == "piezo alone"


def test_a_plan_of_a_riff_has_boxes_for_riffs_alone():
    sheet = take_sheet(make_plan(PlanOptions(layout="one", play=("riff",))))
    assert sheet.count('aria-label="riff, time ') == 2 * 2 * 4  # stages, voice and again
    assert "pluck 1" not in sheet
    assert "never decay, single partials" in sheet


def test_a_mixed_plan_has_all_of_them():
    plain, mixed = (
        make_plan(PlanOptions(layout="one", play=play))
        for play in (("plucks",), ("plucks", "chords", "riff"))
    )
    sheet = take_sheet(mixed)
    assert "E2, pluck 1" in sheet
    assert sheet.count('aria-label="chord 3, time 4"') == 4
    assert "riff, time 4" in sheet
    assert "riff, time" not in take_sheet(plain)
    assert minutes_of(mixed) > minutes_of(plain)


def test_the_sheet_says_how_one_long_recording_is_cut():
    plan = make_plan(PlanOptions(layout="three-way"))
    for stage in plan.stages:
        names = ",".join(voice.name for voice in stage.order)
        assert f"cut all.wav --voices {names} --into {stage.folder}<" in take_sheet(plan)


def test_every_text_passes_the_catalogue(plan, monkeypatch):
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())
    names = {HOSTILE, "how-many-plucks.html", "cut all.wav --voices", "--into"}
    names |= {one.folder for one in plan.stages} | {one.instrument for one in plan.stages}
    names |= {voice.name for one in plan.stages for voice in one.order}
    names |= {" + ".join(voice.pickups) for voice in plan.voices}
    assert unsaid(take_sheet(plan), names) == []
    assert unsaid(repeats_page(plan), {HOSTILE}) == []
