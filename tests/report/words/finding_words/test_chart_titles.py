"""What charts say, from rows and curves made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.compare.model import Response
from tonecompare.measure.outputs.results import BlendMap
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.report.difference_views import rows_of
from tonecompare.report.words.finding_words.chart_titles import (
    blend_finding,
    chart_findings,
    overview_finding,
    response_finding,
)
from tonecompare.report.words.names import told_apart


@pytest.fixture
def made(row):
    def make(quantity: str, difference: float, verdict: str, unit: str = "dB"):
        return row(
            quantity=quantity, unit=unit, difference=difference, ci_low=difference - 1.0,
            ci_high=difference + 1.0, before_value=-20.0, after_value=-20.0 + difference,
            hearing_threshold=1.0, verdict=verdict,
        )  # fmt: skip

    return make


@pytest.fixture
def said(comparisons_of):
    def say(*rows):
        return chart_findings(rows_of(comparisons_of(*rows).differences), "Bridge")

    return say


def test_a_spectrum_says_level_and_the_surest_run_of_bands(made, said):
    told = said(
        made("level_dbfs", -5.7, "likely-audible"),
        made(BAND_SHAPES[6], -4.4, "likely-audible"),
        made(BAND_SHAPES[7], -4.4, "likely-audible"),
        made(BAND_SHAPES[1], 2.1, "measurable"),
    )
    assert told["spectrum"] == (
        "Bridge: 5.7 dB quieter; presence and treble above 2.8 kHz 4.4 dB down"
    )


def test_what_is_undecided_is_claimed_by_no_title(made, said):
    names = ("level_dbfs", BAND_SHAPES[6], "decay_s", "hum_dbfs", "h02_db")
    told = said(*(made(name, 6.0, "undecided") for name in names))
    assert told == {
        "spectrum": "Bridge: no change of the tone is shown",
        "phrase": "Bridge: no change of the level is shown",
        "partials": "Bridge: no single partial is shown to have moved",
        "decay": "Bridge: no change of the decay is shown",
        "hum": "Bridge: no change of the hum is shown",
    }


def test_what_something_else_could_explain_says_so(made, said):
    told = said(made("hum_dbfs", -12.0, "confounded"), made("h02_db", 3.0, "confounded"))
    assert told["hum"].endswith("12 dB, but something else could explain it")
    assert told["partials"].endswith("3.0 dB, but something else could explain it")


def test_what_did_not_change_is_said_to_within_its_interval(made, said):
    told = said(made("decay_s", 2.0, "no-change", unit="%"))
    assert told["decay"] == "Bridge: decay unchanged within 3.0 %"


def test_hum_and_hiss_are_two_ideas(made, said):
    told = said(made("hum_dbfs", -12.0, "likely-audible"), made("hiss_dbfs", 3.0, "measurable"))
    assert told["hum"] == "Bridge: hum down by 12 dB and hiss up by 3.0 dB"


def test_of_partials_the_surest_is_named_and_the_others_counted(made, said):
    told = said(
        made("h02_db", -2.5, "measurable"), made("h05_db", 6.0, "likely-audible"),
        made("h07_db", 3.0, "measurable"),
    )  # fmt: skip
    assert "partial 5" in told["partials"].lower()
    assert told["partials"].endswith("; 2 more partials moved")


def test_without_rows_nothing_is_said():
    assert chart_findings([], "Bridge") == {}


def _response(change, width):
    hz = np.array([100.0, 400.0, 1800.0, 4500.0, 7000.0])
    change = np.array(change)
    return Response("a to b", "bridge", "magnetic", hz, change, change - width, change + width, 6)


def test_a_response_says_its_surest_rise_and_fall():
    # At 7 kHz the fall is larger, but its band (± 9 dB) reaches across none.
    width = np.array([1.0, 1.0, 1.0, 1.0, 9.0])
    assert response_finding(_response([0.5, 1.5, 4.0, -3.0, -8.0], width), "Bridge") == (
        "Bridge: 4.0 dB stronger at 1.8 kHz, 3.0 dB weaker at 4.5 kHz"
    )


def test_a_response_without_a_sure_change_says_none():
    assert response_finding(_response([0.5, 1.5, 2.0, -1.0, -2.0], 3.0), "Bridge") == (
        "Bridge: nowhere surely changed by 1 dB or more"
    )


def test_an_overview_counts_what_is_likely_audible(made, comparisons_of):
    verdicts = ("likely-audible", "measurable", "undecided")
    rows = rows_of(
        comparisons_of(
            *(made(BAND_SHAPES[n], 3.0, verdict) for n, verdict in enumerate(verdicts))
        ).differences
    )
    assert overview_finding(rows) == "1 of 3 differences likely audible"
    assert overview_finding(rows[1:]) == "None of 2 differences likely audible, 1 measurable"
    assert overview_finding(rows[2:]) == "The one difference is not shown"
    assert overview_finding(rows[:1]) == "The one difference is likely audible"
    assert overview_finding(rows[1:2]) == "The one difference is measurable, not likely audible"


def test_a_blend_names_the_deepest_place_as_wired():
    ratio, band_hz = np.linspace(0.0, 1.0, 11), np.array([250.0, 500.0, 2500.0])
    wired = np.zeros((11, 3))
    wired[8, 2] = -7.2
    inverted = np.full((11, 3), -20.0)
    found = BlendMap(ratio, band_hz, np.stack([wired, inverted]), 0.5)
    assert blend_finding(found) == "As wired it thins most, by 7.2 dB, at 2.5 kHz (80 % piezo)"
    shallow = BlendMap(ratio, band_hz, np.stack([np.zeros((11, 3)), inverted]), 0.5)
    assert blend_finding(shallow) == "As wired, no ratio thins the sound by 1 dB"


@pytest.mark.parametrize(
    ("names", "apart"),
    [
        (["heron-stock", "heron-rewound"], ["stock", "rewound"]),
        (["wren-stock", "heron-stock"], ["wren", "heron"]),
        (["before", "after"], ["before", "after"]),
        (["heron", "heron-rewound"], ["heron", "heron-rewound"]),
        (["Bridge (stock)", "Neck (stock)"], ["Bridge", "Neck"]),
        (["same", "same"], ["same", "same"]),
        (["heron-rewound", "heron-piezo"], ["heron-rewound", "heron-piezo"]),
    ],
)
def test_names_beside_lines_leave_out_what_both_have(names, apart):
    assert told_apart(names) == apart
