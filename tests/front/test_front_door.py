"""The front door: calls, tables, charts, and the examples in the docstrings."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest
from matplotlib.figure import Figure

import tonecompare as tc
from tonecompare.errors import InputError
from tonecompare.language import in_language

#: Every module whose docstrings hold examples.
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(Path(tc.__file__).parents[1]).with_suffix("").parts)
    for path in Path(tc.__file__).parent.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_of_the_docstrings_run(standing, name):
    failed, tried = doctest.testmod(import_module(name))
    assert tried > 0
    assert failed == 0


def test_rooms_are_functions_and_packages_at_once():
    from tonecompare.quantities.columns import MEASUREMENTS

    assert callable(tc.measure)
    assert callable(tc.compare)
    assert callable(tc.report)
    assert "stage" in MEASUREMENTS


def test_measuring_gives_tables(standing):
    found = tc.measure("before/neck.wav", "after/neck.wav")
    assert len(found.plucks) == 12  # two files of two notes, three times each, as written
    assert len(found.quiet) == 2
    assert repr(found) == "MeasuredFiles: 2 recordings, 12 plucks, 2 quiet stretches"
    assert "<table" in found._repr_html_()
    assert list(found.plucks["voice"].unique()) == ["neck", "neck (2)"]
    levels = found.rows[found.rows["quantity"] == "level_dbfs"]
    assert list(levels["value"]) == list(found.plucks["level_dbfs"])
    assert list(levels["flags"]) == list(found.plucks["flags"])
    assert set(levels["unit"]) == {"dBFS"}


def test_tuning_and_pitch_reach_the_notes(standing):
    for tuning, number in ((None, 6), (["E2", "A2", "D3"], 3)):
        plucks = tc.measure("before/neck.wav", tuning=tuning).plucks
        # E2 can only be the open lowest string, and that has the highest number.
        assert set(plucks[plucks["note"] == "E2"]["string"]) == {number}
    # 1200·lg2(440/432) = 31.77 cents above.
    sharp = tc.measure("before/neck.wav", a4_hz=432.0)
    assert sharp.plucks["cents"].median() == pytest.approx(31.8, abs=1.0)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: tc.measure(), "give a sound file"),
        (lambda: tc.measure("nothing.wav"), "Not one recording could be measured"),
        (lambda: tc.measure("before", tuning="bas"), "bass"),
        (lambda: tc.measure("before", a4_hz=44.0), "near 440"),
        (lambda: tc.measure("before", mains_hz=55), "50 or 60"),
        (lambda: tc.compare("before", "nowhere"), "no such folder"),
    ],
)
def test_what_cannot_be_used_is_said(standing, call, said):
    with pytest.raises(InputError, match=said):
        call()


def test_a_comparison_has_differences_findings_and_voices(result):
    assert result.voices == ("bridge", "neck")
    told = {(row.voice, row.quantity) for one in result.findings for row in one.rows}
    assert ("neck", "level_dbfs") in told
    assert "2 voices" in repr(result)
    assert "<table" in result._repr_html_()


@pytest.mark.parametrize("chart", ["spectrum", "partials", "decay", "hum"])
def test_every_chart_of_a_voice_is_a_figure(result, chart):
    assert isinstance(getattr(result.plot, chart)("bridge"), Figure)


def test_the_overview_is_a_figure(result):
    assert isinstance(result.plot.overview(), Figure)


@pytest.mark.parametrize(
    ("draw", "said"),
    [
        (lambda plot: plot.spectrum("middle"), 'no voice "middle".*bridge and neck'),
        (lambda plot: plot.spectrum("neck", output="piezo"), 'No output "piezo".*magnetic'),
        (lambda plot: plot.spectrum("neck", comparison="x to y"), "before to after"),
        (lambda plot: plot.blend("neck"), "There is none"),
        (lambda plot: plot.worth(), "There is none"),
    ],
)
def test_a_chart_that_is_not_there_is_said_with_what_there_is(result, draw, said):
    with pytest.raises(InputError, match=said):
        draw(result.plot)


def test_a_chart_that_is_not_there_is_said_in_german_too(result):
    with in_language("de"), pytest.raises(InputError, match="Ausgang „piezo“ gibt es nicht"):
        result.plot.spectrum("neck", output="piezo")
