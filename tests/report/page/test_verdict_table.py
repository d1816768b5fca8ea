"""Cells of the table of verdicts."""

from __future__ import annotations

import pandas as pd
import pytest

from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import PARTIALS
from tonecompare.report.difference_views import rows_of
from tonecompare.report.page.verdict_table import cell_of, detail_rows, family_cell, note_table


def _rows(*rows):
    return rows_of(pd.DataFrame(list(rows)), note=None)


def test_a_cell_has_number_interval_verdict_and_n(row):
    cell = cell_of(_rows(row())[0])
    assert cell.value == "−5.7 dB"
    assert cell.interval == "−6.2 to −5.2"
    assert (cell.symbol, cell.words) == ("●", "likely audible")
    assert cell.sample == "n 30/28"


def test_an_interval_from_one_quiet_stretch_is_marked_as_partly_assumed(row):
    quiet = {"quantity": "hum_dbfs", "n_before": 1, "n_after": 3}
    assert cell_of(_rows(row(**quiet))[0]).sample == "n 1/3, interval partly assumed"
    assert cell_of(_rows(row(**{**quiet, "n_before": 2}))[0]).sample == "n 2/3"
    bare = row(**quiet, ci_low=None, ci_high=None)
    assert cell_of(_rows(bare)[0]).sample == "n 1/3"


def test_unmeasured_is_a_word_not_a_number(row):
    cell = cell_of(_rows(row(difference=None, reason="too short"))[0])
    assert cell.kind == "missing"
    assert cell.words == "not measured"
    assert cell.value == ""
    assert cell_of(None).kind == "empty"


def test_bands_show_the_strongest_verdict_but_not_one_that_one_note_reaches(row):
    def band(name, difference, verdict, **changes):
        return row(
            quantity=f"shape_{name}_db", difference=difference, ci_low=difference - 1.0,
            ci_high=difference + 1.0, verdict=verdict, before_value=-20.0, after_value=-20.0,
            **changes,
        )  # fmt: skip

    cell = family_cell(
        _rows(
            band("0063", 9.0, "undecided", n_notes=1),
            band("0125", 0.1, "no-change", n_notes=6),
            band("4000", -4.4, "likely-audible", n_notes=6),
        ),
        BAND_SHAPES,
    )
    assert (cell.kind, cell.value, cell.sample) == (
        "likely-audible", "−4.4 dB", "presence (4 kHz); 1\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}2",
    )  # fmt: skip
    faint = band("8000", -9.0, "measurable", n_notes=6) | {
        "before_value": -60.0, "after_value": -69.0,
    }  # fmt: skip
    assert family_cell(_rows(faint), BAND_SHAPES).kind == "missing"


def test_a_difference_is_given_again_with_the_drift_of_its_stage_allowed_for(row):
    adjusted = {
        "verdict": "measurable", "difference_adjusted": -0.2, "ci_low_adjusted": -0.7,
        "ci_high_adjusted": 0.3, "adjusted_for": ("drift",),
    }  # fmt: skip
    told = cell_of(_rows(row(**adjusted))[0]).extra
    assert told == "with drift allowed for −0.2 dB (−0.7 to +0.3)"


def test_partials_show_the_strongest_verdict_and_the_surest_partial(row):
    strong = {"before_value": -12.0, "after_value": -8.0}
    small = row(
        quantity="h03_db", difference=0.1, ci_low=-0.2, ci_high=0.4, verdict="no-change", **strong
    )
    cell = family_cell(
        _rows(
            small,
            row(quantity="h05_db", difference=4.0, ci_low=3.5, ci_high=4.5, **strong),
            row(quantity="h07_db", difference=5.0, ci_low=1.1, ci_high=8.9, **strong),
            row(quantity="h11_db", difference=19.0, ci_low=18.0, ci_high=20.0, before_value=-60.0),
        ),
        PARTIALS,
    )
    assert cell.kind == "likely-audible"
    assert cell.value == "+4.0 dB"
    assert cell.sample == "partial 5; 2\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}3"
    assert family_cell(_rows(small), PARTIALS).kind == "no-change"
    unmeasured = row(quantity="h04_db", difference=None, before_value=-3.0)
    assert (
        family_cell(_rows(small, unmeasured), PARTIALS).sample
        == "partial 3; 1\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}1"
    )
    assert family_cell([], PARTIALS).kind == "missing"


def test_details_show_both_sides_in_their_own_unit(row):
    centroid = row(
        quantity="centroid_hz", unit="%", before_value=1450.0, after_value=None, difference=12.0
    )
    (one,) = detail_rows(_rows(centroid))
    assert one.before == "1.45 kHz"
    assert one.after == "not measured"


def test_details_say_what_the_control_did(row):
    (one,) = detail_rows(_rows(row(raw_difference=-4.9, control_difference=0.8)))
    assert one.taken_out == "measured −4.9 dB, control +0.8 dB"
    (one,) = detail_rows(_rows(row()))
    assert one.taken_out == ""


@pytest.mark.parametrize(
    ("kinds", "control", "said"),
    [
        (("glide",), None, "measured −4.9 dB; taken out: glide of each pluck"),
        (("gain", "pick-strength"), None, "measured −4.9 dB; taken out: gain and pick strength"),
        (("gain",), 0.8, "measured −4.9 dB, control +0.8 dB; taken out besides: gain"),
        (("drift",), None, ""),
    ],
)
def test_details_say_what_was_taken_out_of_what_was_measured(row, kinds, control, said):
    """Before and after stand beside it as recorded, so their difference is another one."""
    told = row(raw_difference=-4.9, control_difference=control, adjusted_for=kinds)
    (one,) = detail_rows(_rows(told))
    assert one.taken_out == said


def test_notes_stand_in_order_of_pitch_and_quiet_has_none(row):
    rows = _rows(
        row(note="E4"), row(note="A2"), row(note="A2", quantity="hum_dbfs"),
        row(note="A2", quantity="decay_s", unit="%"), row(note="D3", voice="other"),
    )  # fmt: skip
    table = note_table(rows, ("neck-split", "magnetic"), {"A2": 110.0, "E4": 329.6})
    assert [heading for heading, _ in table.headings] == ["Level", "Decay"]
    assert [line.title for line in table.rows] == ["A2", "E4"]
    assert table.rows[1].cells[1].kind == "empty"
    assert note_table(rows, ("nothing", "magnetic"), {}) is None
