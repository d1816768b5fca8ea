"""A page of many shows some in full and says what it leaves to the tables: they hold everything."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from difference_rows_made import made_rows

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import join_rows, no_rows, text
from tonecompare.errors import InputError
from tonecompare.report import shown_in_full as module
from tonecompare.report import write_report
from tonecompare.report.shown_in_full import shown_in_full
from tonecompare.session.model import ComparisonSpec, Recording


@pytest.fixture(scope="module")
def pairs(small_story):
    """A small story with its comparison, and the same backwards."""
    session = small_story.session
    spec = session.comparisons[0]
    specs = (spec, ComparisonSpec(spec.after, spec.before))
    compared = Comparisons(
        join_rows([_named(made_rows({"level_dbfs": -3.0, "decay_s": 0.2}), one) for one in specs]),
        notes={one.name: () for one in specs},
    )
    return replace(session, comparisons=specs), small_story.measurements, compared


def _named(rows, spec):
    n = len(rows)
    return replace(
        rows, comparison=text(spec.name, n), before=text(spec.before, n), after=text(spec.after, n)
    )


def _names(pairs):
    return [spec.name for spec in pairs[0].comparisons]


def _page(folder):
    return (folder / "index.html").read_text(encoding="utf-8")


def _tables(folder):
    return {path.name: path.read_bytes() for path in folder.glob("*.csv")}


def test_few_are_all_shown(pairs):
    shown = shown_in_full(*pairs, (), ())
    assert shown.session is pairs[0]
    assert not shown.narrowed


@pytest.mark.long
def test_of_many_the_rest_is_named_and_stands_in_the_tables(pairs, tmp_path, monkeypatch):
    whole = write_report(*pairs, tmp_path / "whole", clips=False)
    assert "What stands in the tables only" not in _page(whole)
    monkeypatch.setattr(module, "MOST_VOICES", 1)
    first, other = _names(pairs)
    folder = write_report(*pairs, tmp_path / "r", clips=False)
    html = _page(folder)
    assert "shows 1 of 2 comparisons in full" in html
    assert f'class="first">{other}</th>' in html
    assert f'class="first">{first}</th>' not in html
    assert len(html) < 0.7 * len(_page(whole))
    assert _tables(folder) == _tables(whole)
    ids = set(re.findall(r' id="([^"]+)"', html))
    assert set(re.findall(r' href="#([^"]+)"', html)) <= ids


@pytest.mark.parametrize("number", [0, 1])
def test_what_is_asked_for_is_shown_and_nothing_else(pairs, number):
    name = _names(pairs)[number]
    shown = shown_in_full(*pairs, (), (), asked=(name,))
    assert [one.name for one in shown.session.comparisons] == [name]
    assert set(shown.comparisons.rows.comparison) == {name}
    assert set(shown.comparisons.notes) == {name}
    assert shown.others == (_names(pairs)[1 - number],)
    stage = pairs[0].comparisons[0].after
    assert shown_in_full(*pairs, (), (), asked=(stage,)).others == ()


def test_a_name_that_is_not_there_is_refused_with_those_that_are(pairs):
    with pytest.raises(InputError, match=rf"--show heiron: .*{_names(pairs)[0]}"):
        shown_in_full(*pairs, (), (), asked=("heiron",))


def test_findings_come_first(pairs, monkeypatch):
    monkeypatch.setattr(module, "MOST_VOICES", 1)
    of_last = SimpleNamespace(rows=(SimpleNamespace(comparison=_names(pairs)[-1]),))
    shown = shown_in_full(*pairs, (of_last,), ())
    assert [one.name for one in shown.session.comparisons] == _names(pairs)[-1:]


def test_stages_without_a_comparison_are_shown_until_they_are_many(pairs, monkeypatch):
    stages = {name: replace(one, from_stage=None) for name, one in pairs[0].stages.items()}
    recordings = tuple(Recording(name, "bridge", ()) for name in stages)
    session = replace(pairs[0], comparisons=(), stages=stages, recordings=recordings)
    alone = (session, pairs[1], Comparisons(no_rows()))
    assert not shown_in_full(*alone, (), ()).narrowed
    monkeypatch.setattr(module, "MOST_RECORDINGS", 1)
    first = next(iter(alone[0].stages))
    shown = shown_in_full(*alone, (), ())
    assert list(shown.session.stages) == [first]
    assert set(shown.measurements.quiet["stage"]) == {first}
