"""Repeats for a change, against statsmodels' table, statsmodels' formula by simulation, and Cohen.

The table of n for 80 % power (two-sided 5 %) was computed with statsmodels 0.15.0 (TTestPower and
TTestIndPower), not with this package.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from tonecompare.errors import InputError
from tonecompare.session import repeats_needed, smallest_change
from tonecompare.session.plan.repeats import MOST_REPEATS, TYPICAL_SPREADS, power_of, spreads_with

# (d, n per group for two independent groups, n pairs): statsmodels 0.15.0
TABLE = [(0.5, 63.8, 33.4), (0.8, 25.5, 14.3), (1.0, 16.7, 9.9), (1.5, 8.1, 5.7), (2.0, 5.1, 4.2)]


@pytest.mark.parametrize(("d", "per_group", "_pairs"), TABLE)
def test_one_note_is_the_two_sample_t_test(d, per_group, _pairs):
    assert repeats_needed(d, 1.0) == math.ceil(per_group)
    # n is printed to 0.1: the power there is 0.8 within what 0.05 more or less of n makes of it
    low, high = (power_of(d, 1.0, repeats=per_group + shift) for shift in (-0.05, 0.05))
    assert low <= 0.8 + 1e-4
    assert high >= 0.8 - 1e-4


@pytest.mark.parametrize(("d", "_per_group", "pairs"), TABLE)
def test_many_notes_are_the_one_sample_t_test_of_their_differences(d, _per_group, pairs):
    # two plucks of each note in each stage: a difference of means spreads as much as one pluck
    low, high = (power_of(d, 1.0, repeats=2, notes=pairs + shift) for shift in (-0.05, 0.05))
    assert low <= 0.8 + 1e-4
    assert high >= 0.8 - 1e-4


def test_power_by_simulation_of_the_tests_themselves():
    rng = np.random.default_rng(7)
    runs, n, notes, change = 20000, 5, 6, 0.8
    before = rng.normal(0.0, 1.0, (runs, notes, n))
    after = rng.normal(change, 1.0, (runs, notes, n)) + rng.normal(0.0, 0.5, (runs, notes, 1))
    one = stats.ttest_ind(before[:, 0], rng.normal(change, 1.0, (runs, n)), axis=1).pvalue
    all_notes = stats.ttest_1samp((after - before).mean(axis=2), 0.0, axis=1).pvalue
    # standard error of a simulated share: at most 0.5 / sqrt(20000) = 0.0035; four of these
    assert np.mean(one < 0.05) == pytest.approx(power_of(change, 1.0, repeats=n), abs=0.014)
    expected = power_of(change, 1.0, repeats=n, notes=notes, note_sd=0.5)
    assert np.mean(all_notes < 0.05) == pytest.approx(expected, abs=0.014)


def test_no_change_shows_as_often_as_alpha():
    assert power_of(0.0, 1.0, repeats=5) == pytest.approx(0.05, abs=1e-9)


def test_unit_makes_no_difference():
    assert repeats_needed(3.0, 2.0) == repeats_needed(0.3, 0.2)


def test_smallest_change_and_repeats_undo_each_other():
    for repeats, notes in [(3, 1), (5, 1), (5, 6), (10, 2), (1, 6)]:
        change = smallest_change(repeats, 0.6, notes=notes)
        assert power_of(change, 0.6, repeats=repeats, notes=notes) == pytest.approx(0.8, abs=1e-4)
        assert repeats_needed(change * 1.0001, 0.6, notes=notes) <= max(repeats, 2)


def test_a_tiny_or_a_huge_change():
    assert repeats_needed(0.001, 1.0) is None
    assert repeats_needed(1000.0, 1.0) == 2
    assert MOST_REPEATS >= 100


def test_repeats_do_not_help_where_the_notes_disagree():
    assert repeats_needed(0.5, 1.0, notes=6, note_sd=2.0) is None
    assert repeats_needed(0.5, 1.0, notes=6) is not None


def test_one_pluck_of_one_note_shows_nothing():
    assert smallest_change(1, 1.0) is None


@pytest.mark.parametrize(
    ("call", "piece"),
    [
        (lambda: repeats_needed(0.0, 1.0), "smallest change is 0"),
        (lambda: repeats_needed(1.0, -1.0), "spread from pluck to pluck is -1"),
        (lambda: repeats_needed(1.0, 1.0, power=80), r"did you give %\?"),
        (lambda: repeats_needed(1.0, 1.0, power=0.01), "more than alpha"),
        (lambda: repeats_needed(1.0, 1.0, notes=0), "number of notes is 0"),
        (lambda: smallest_change(0, 1.0), "repeats is 0"),
        (lambda: repeats_needed(math.nan, 1.0), "is nan"),
        (lambda: spreads_with({"colour": 1.0}), "colour: no spread is known"),
        (lambda: spreads_with({"decay_s": 0.0}), "spread of decay_s is 0"),
    ],
)
def test_numbers_that_cannot_be(call, piece):
    with pytest.raises(InputError, match=piece):
        call()


def test_measured_spreads_and_wishes_replace_the_typical_ones():
    spreads = {s.quantity: s for s in spreads_with({"decay_s": 9.0}, {"level_dbfs": 0.5})}
    assert (spreads["decay_s"].sd, spreads["decay_s"].source) == (9.0, "from existing takes")
    assert spreads["level_dbfs"].smallest_change == 0.5
    assert spreads["level_dbfs"].sd == TYPICAL_SPREADS["level_dbfs"].sd
