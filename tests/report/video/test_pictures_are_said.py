"""Nothing written on a picture for a screen passes the catalogue by."""

from __future__ import annotations

from contextvars import ContextVar

import pytest
from bracketed import Bracketed, all_said
from text_boxes import text_boxes

from tonecompare.language import catalogue
from tonecompare.report.difference_views import rows_of
from tonecompare.report.video.chart_set import drawn
from tonecompare.report.video.shapes import LOOKS, SHAPES
from tonecompare.report.video.statements import statements
from tonecompare.report.words.names import voice_title


@pytest.fixture
def bracketed(monkeypatch):
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())
    # What is kept by language is kept under a name of its own.
    monkeypatch.setattr(catalogue, "_chosen", ContextVar("spoken", default="bracketed"))


def test_every_text_of_a_picture_passes_the_catalogue(story, bracketed):
    made = statements(story.session, story.measurements, story.comparisons)
    # Names come whole, and without what those of both sides share.
    names = [*story.session.stages, "stock", "rewound"]
    names += [voice_title(row.voice) for row in rows_of(story.comparisons.differences)]
    for one in {each.kind: each for each in made}.values():
        slide = drawn(one, SHAPES["video"], LOOKS["light"])
        # Long texts stand in several lines there, brackets that close in another one.
        whole = " ".join(text for text, *_ in text_boxes(slide))
        for text in (one.title, one.number, one.sure, whole):
            assert all_said(text, *names), (one.kind, text)
