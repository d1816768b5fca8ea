"""Nothing a reader sees passes the catalogue by: in a language that brackets every text, all of
the page's letters stand in brackets but for names, numbers and units."""

from __future__ import annotations

from pathlib import Path

import pytest
from bracketed import Bracketed, outside, unsaid

import tonecompare
from tonecompare.compare import compare_session, find_worth
from tonecompare.compare.check import check_session
from tonecompare.compare.planned import with_voice_pairs
from tonecompare.language import catalogue
from tonecompare.measure import measure_session
from tonecompare.measure.inspected_takes import inspect_session
from tonecompare.quantities.meanings import MEANINGS
from tonecompare.report import write_check, write_report
from tonecompare.session import load_session

DEMO = Path(tonecompare.__file__).parents[1] / "recordings_demo"


def names_of(session) -> set[str]:
    """Return every name and text of the user's, whole and in pieces, and those of columns."""
    whole = {session.title, session.worth.currency, *session.stages}
    whole |= {one.voice for one in session.recordings}
    whole |= {item.what for stage in session.stages.values() for item in stage.work}
    whole |= {one.name for one in session.comparisons}
    pieces = {piece for name in (*session.stages, *(r.voice for r in session.recordings))
              for piece in name.split("-")}  # fmt: skip
    columns = {part for each in MEANINGS for part in (each.title, *each.title.split(" … "))}
    return {one for one in {*whole, *pieces, *columns} if one}


def test_brackets_are_counted():
    assert outside("a ⟦b ⟦c⟧ d⟧ e") == "a  e"
    assert unsaid('<p aria-label="loud">⟦3 dB up⟧ neck</p>', {"neck"}) == ["loud"]


@pytest.fixture
def bracketed(monkeypatch):
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())


@pytest.mark.long
def test_every_text_of_the_page_passes_the_catalogue(bracketed, tmp_path):
    session = load_session(DEMO)
    measurements = measure_session(session, workers=2)
    session = with_voice_pairs(session, measurements)
    comparisons = compare_session(session, measurements)
    worth = find_worth(session, measurements, comparisons)
    folder = write_report(session, measurements, comparisons, tmp_path / "r", worth=worth)
    names = names_of(session)
    assert unsaid((folder / "index.html").read_text(encoding="utf-8"), names) == []


@pytest.mark.long
def test_every_text_of_the_check_page_passes_the_catalogue(bracketed, tmp_path):
    session = load_session(DEMO)
    measurements, files = inspect_session(session, workers=2)
    result = check_session(session, measurements, files)
    folder = write_check(session, result, files, tmp_path / "c")
    names = {*names_of(session), "flac", "magnetic", "piezo"}
    assert unsaid((folder / "index.html").read_text(encoding="utf-8"), names) == []
