"""Two guitars of one model: every sentence says that the other one is a sister."""

from __future__ import annotations

import pytest

from tonecompare.compare.model import Note
from tonecompare.compare.notes import SISTERS
from tonecompare.report.words.findings import find

NOTE = Note(SISTERS, ("heron", "heron two", "heron", 0))


def _texts(comparisons_of, *rows):
    name = rows[0]["comparison"]
    return [one.text for one in find(comparisons_of(*rows, notes={name: (NOTE,)}))]


def _hum(row, **changes):
    return row(quantity="hum_dbfs", difference=8.0, ci_low=7.1, ci_high=8.9,
               hearing_threshold=1.0, **changes)  # fmt: skip


def test_what_differs_differs_from_the_sister(row, comparisons_of):
    text, warning = _texts(comparisons_of, row(), _hum(row))
    assert "5.7 dB quieter than its sister (5.2 to 6.2)" in text
    assert "hum 8.0 dB higher than its sister (7.1 to 8.9)" in text
    assert "differ before anyone touches them" in warning


def test_what_is_the_same_is_as_the_sisters(row, comparisons_of):
    same = row(quantity="decay_s", unit="%", difference=0.8, ci_low=-4.0, ci_high=5.6,
               hearing_threshold=40.0, verdict="no-change")  # fmt: skip
    text, _ = _texts(comparisons_of, same)
    assert "decay the same as its sister's within 6 %" in text
    assert "unchanged" not in text


@pytest.mark.parametrize(("difference", "way"), [(4.0, "higher"), (-4.0, "lower")])
def test_bands_and_resonance(row, comparisons_of, difference, way):
    ends = {"difference": difference, "ci_low": difference - 1.0, "ci_high": difference + 1.0}
    bands = [
        row(quantity=f"shape_{hz}_db", **ends, before_value=-10.0, after_value=-10.0 + difference)
        for hz in ("2000", "4000")
    ]
    resonance = row(quantity="resonance_hz", unit="%", before_value=3400.0, after_value=2700.0,
                    difference=5 * difference, ci_low=5 * difference - 6,
                    ci_high=5 * difference + 6, hearing_threshold=None)  # fmt: skip
    text, _ = _texts(comparisons_of, *bands, resonance)
    assert f"4.0 dB {way} than its sister" in text
    assert "resonance at 2.7 kHz, its sister's at 3.4 kHz" in text


def test_what_is_open_is_a_difference_and_no_change(row, comparisons_of):
    text, _ = _texts(comparisons_of, row(verdict="undecided"))
    assert text.startswith("Undecided, a difference is not shown")
    assert "level −5.7 dB against its sister" in text


def test_what_cannot_be_told_apart_may_be_the_guitar(row, comparisons_of):
    text, *_ = _texts(comparisons_of, row(verdict="confounded"))
    assert text.startswith("The work, the guitar itself and something else cannot be told apart.")


def test_one_guitar_has_no_sister(row, comparisons_of):
    (text,) = [one.text for one in find(comparisons_of(row(), _hum(row)))]
    assert "sister" not in text
    assert "hum up by 8.0 dB" in text


def test_the_warning_comes_before_other_notes(row, comparisons_of):
    other = row(comparison="a to b")
    notes = {"a to b": (Note("no-control"),), row()["comparison"]: (NOTE,)}
    *_, warning = [one.text for one in find(comparisons_of(*[row()], other, notes=notes))][:3]
    assert "differ before anyone touches them" in warning


def test_sisters_of_one_guitar_are_warned_of_once(row, comparisons_of):
    rows = [row(comparison=f"one to {name}", before="one", after=name) for name in ("two", "three")]
    notes = {
        f"one to {name}": (Note(SISTERS, ("one", name, "tern", 0)),) for name in ("two", "three")
    }
    told = [one.text for one in find(comparisons_of(*rows, notes=notes)) if one.kind == "note"]
    assert len(told) == 1
    assert told[0].startswith("two and three are set against their sister one")
    assert "Only two and three themselves recorded before the work" in told[0]
