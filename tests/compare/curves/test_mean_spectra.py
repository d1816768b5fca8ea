"""Averaged spectra against sums worked out by hand and a known jackknife identity."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tonecompare.compare.curves.mean_spectra import average_spectra
from tonecompare.measure.model import PluckCurves

HZ = 100.0 * 2.0 ** (np.arange(97) / 24.0)
EMPTY = np.zeros(0)


def _pluck(lines, level_db=0.0):
    """One pluck whose energy stands in single bands."""
    band = np.full(HZ.size, np.nan)
    for place, level in lines.items():
        band[place] = level + level_db
    return PluckCurves(HZ, band, EMPTY, EMPTY, EMPTY)


def test_bands_within_a_third_octave_add_in_power():
    one = {"E2": [_pluck({40: -20.0, 42: -20.0})]}
    both = average_spectra(one, one)
    # Closed form of the Hann window: cos² of half the distance, 8 bands to its end.
    near = np.cos(np.pi * 1.0 / 16.0) ** 2
    assert both.before[41] == pytest.approx(-20.0 + 10.0 * np.log10(2.0 * near))
    # A flat density reads as 8 bands, 1/3 octave.
    flat = {"E2": [_pluck(dict.fromkeys(range(97), -20.0))]}
    level = average_spectra(flat, flat).before[48]
    assert level == pytest.approx(-20.0 + 10.0 * np.log10(8.0))
    assert np.isnan(both.before[60])


def test_a_gain_is_the_difference_everywhere_and_has_no_scatter():
    before = {n: [_pluck({10 * k: -10.0 - k, 50: -30.0})] for k, n in enumerate("ABCD", start=1)}
    after = {n: [_pluck({10 * k: -13.0 - k, 50: -33.0})] for k, n in enumerate("ABCD", start=1)}
    both = average_spectra(before, after)
    assert both.difference[np.isfinite(both.difference)] == pytest.approx(-3.0)
    assert both.ci_low[50] == pytest.approx(-3.0)
    assert both.ci_high[50] == pytest.approx(-3.0)


def test_a_loud_note_weighs_no_more_than_a_soft_one():
    before = {"loud": [_pluck({30: 0.0})], "soft": [_pluck({30: -40.0})]}
    after = {"loud": [_pluck({30: 0.0})], "soft": [_pluck({30: -40.0 + 6.0})]}
    both = average_spectra(before, after)
    # By hand: each note's power over its own mean of both sides.
    ratio = 10.0 ** (6.0 / 10.0)
    soft_before, soft_after = 2.0 / (1.0 + ratio), 2.0 * ratio / (1.0 + ratio)
    expected = 10.0 * np.log10((1.0 + soft_after) / (1.0 + soft_before))
    assert both.difference[30] == pytest.approx(expected)


def test_jackknife_of_a_mean_is_the_textbook_standard_error():
    # For small differences the ratio is linear in the notes, and the jackknife of a mean equals
    # s / sqrt(n) exactly; scipy's t interval is the reference.
    changes = np.array([0.010, 0.020, 0.015, 0.030, 0.005])
    before = {str(n): [_pluck({30: -20.0})] for n in range(5)}
    after = {str(n): [_pluck({30: -20.0 + change})] for n, change in enumerate(changes)}
    both = average_spectra(before, after)
    expected = stats.t.interval(0.95, 4, loc=changes.mean(), scale=stats.sem(changes))
    assert both.ci_low[30] == pytest.approx(expected[0], abs=2e-4)
    assert both.ci_high[30] == pytest.approx(expected[1], abs=2e-4)


def test_two_notes_give_no_interval():
    notes = {"E2": [_pluck({30: -20.0})], "A2": [_pluck({30: -21.0})]}
    assert np.isnan(average_spectra(notes, notes).ci_low).all()


def test_spread_is_that_from_pluck_to_pluck():
    notes = {"E2": [_pluck({30: -20.0}, 1.0), _pluck({30: -20.0}, -1.0)]}
    assert average_spectra(notes, notes).spread_before[30] == pytest.approx(np.sqrt(2.0))


def test_what_stands_above_the_quiet_on_one_side_only_is_left_open():
    both = average_spectra({"E2": [_pluck({30: -20.0})]}, {"E2": [_pluck({60: -20.0})]})
    assert not np.isfinite(both.difference).any()
    assert average_spectra({"E2": [_pluck({30: -20.0})]}, {"A2": [_pluck({30: -20.0})]}) is None
