"""A change of tone in words: neighbouring bands in one phrase, the resonance behind them."""

from __future__ import annotations

import pytest

from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.report.difference_views import Difference, rows_of
from tonecompare.report.words.finding_words.tone_words import balance_unchanged, parts_of
from tonecompare.report.words.findings import find


@pytest.fixture
def band(row):
    def make(index: int, difference: float, *, verdict: str = "likely-audible", **changes):
        return row(
            quantity=BAND_SHAPES[index], difference=difference, ci_low=difference - 1.0,
            ci_high=difference + 1.0, before_value=-10.0 - 5.0 * index,
            after_value=-10.0 - 5.0 * index, hearing_threshold=1.5, verdict=verdict, **changes,
        )  # fmt: skip

    return make


@pytest.fixture
def resonance(row):
    def make(before: float, after: float, **changes):
        percent = 100.0 * (after / before - 1.0)
        return row(
            quantity="resonance_hz", unit="%", difference=percent, ci_low=percent - 6.0,
            ci_high=percent + 6.0, before_value=before, after_value=after, hearing_threshold=5.0,
            verdict="likely-audible", **changes,
        )  # fmt: skip

    return make


@pytest.fixture
def differences(comparisons_of):
    def make(*rows) -> list[Difference]:
        return rows_of(comparisons_of(*rows).differences)

    return make


def test_neighbours_that_moved_alike_are_one_phrase(band, differences):
    parts = parts_of(differences(band(6, -4.4), band(7, -6.0)))
    assert [part.text for part in parts] == [
        "presence and treble from 2.8 kHz up 4.4 dB down (3.4 to 5.4; 6.0 dB at 8 kHz)"
    ]


def test_the_resonance_stands_behind_the_bands_that_it_moves(band, resonance, differences):
    parts = parts_of(differences(band(6, -4.4), band(7, -5.0), resonance(3376.0, 2705.0)))
    assert [part.text for part in parts] == [
        "presence and treble from 2.8 kHz up 4.4 dB down (3.4 to 5.4) with the resonance moved "
        "from 3.4 to 2.7 kHz (14 to 26 % lower)"
    ]


def test_a_resonance_that_moved_the_other_way_is_told_apart(band, resonance, differences):
    parts = parts_of(differences(band(6, 4.0), resonance(3376.0, 2705.0)))
    assert [part.text for part in parts] == [
        "presence (4 kHz) 4.0 dB up (3.0 to 5.0)",
        "resonance moved from 3.4 to 2.7 kHz (14 to 26 % lower)",
    ]


def test_bass_up_and_treble_down_are_two(band, differences):
    parts = parts_of(differences(band(1, 3.0), band(2, 3.2), band(3, -3.0)))
    assert [part.text for part in parts] == [
        "bass and low mids from 89 Hz to 350 Hz 3.0 dB up (2.0 to 4.0)",
        "mids (500 Hz) 3.0 dB down (2.0 to 4.0)",
    ]


def test_the_lowest_bands_are_below(band, differences):
    (part,) = parts_of(differences(band(0, 3.0), band(1, 3.2)))
    assert part.text == "deep bass and bass below 180 Hz 3.0 dB up (2.0 to 4.0)"


def test_the_centroid_is_said_only_where_no_band_says_it(row, band, differences):
    centroid = row(quantity="centroid_hz", unit="%", difference=-9.0, ci_low=-12.0, ci_high=-6.0,
                   hearing_threshold=5.0)  # fmt: skip
    assert "brightness" in parts_of(differences(centroid))[0].text
    assert not any(
        "brightness" in part.text for part in parts_of(differences(centroid, band(6, -4)))
    )


def test_a_balance_that_did_not_change_is_said_once_with_its_range(band, comparisons_of):
    same = [band(k, 0.1, verdict="no-change") for k in range(1, 7)]
    assert balance_unchanged(rows_of(comparisons_of(*same).differences)) == (
        "balance of the bands from 89 Hz to 5.6 kHz unchanged within 1.1 dB"
    )
    # A gap in the middle is not bridged.
    assert balance_unchanged(rows_of(comparisons_of(same[0], same[1], same[4]).differences)) == ""


def test_a_finding_opens_with_the_tone(row, band, resonance, comparisons_of):
    (finding,) = find(
        comparisons_of(row(), band(6, -4.4), band(7, -6.0), resonance(3376.0, 2705.0))
    )
    assert finding.text.startswith("Neck (split): presence and treble from 2.8 kHz up 4.4 dB down")
    assert "5.7 dB quieter" in finding.text


def test_bands_not_decided_on_are_left_to_the_table(row, band, comparisons_of):
    (finding,) = find(comparisons_of(row(), band(6, 1.0, verdict="undecided")))
    assert finding.kind == "change"
    assert "presence" not in finding.text


def test_nobody_asks_for_a_centroid_where_the_bands_tell_the_tone(row, band, comparisons_of):
    centroid = row(quantity="centroid_hz", unit="%", difference=-3.0, ci_low=-7.0, ci_high=1.0,
                   hearing_threshold=5.0, verdict="undecided")  # fmt: skip
    kinds = [one.kind for one in find(comparisons_of(centroid, band(6, -4.4)))]
    assert kinds == ["change"]
    assert [one.kind for one in find(comparisons_of(centroid))] == ["undecided"]


def test_a_faint_band_is_told_with_its_neighbour_but_never_alone(row, band, comparisons_of):
    faint = band(7, -6.0) | {"before_value": -60.0, "after_value": -66.0}
    (alone,) = find(comparisons_of(row(), faint))
    assert "treble" not in alone.text
    (both,) = find(comparisons_of(faint, band(6, -4.4)))
    assert "presence and treble from 2.8 kHz up 4.4 dB down (3.4 to 5.4; 6.0 dB" in both.text
