"""Digits and units."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.report.words import numbers


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        # The two worked examples of the rule in the Particle Data Group's Review of Particle
        # Physics, introduction, "Rounding" (from memory): 0.827 ± 0.119 and 0.827 ± 0.367.
        (0.827, 0.119, "0.83"),
        (0.827, 0.367, "0.8"),
    ],
)
def test_digits_follow_the_published_rounding_rule(value, uncertainty, text):
    assert numbers.number(value, numbers.decimals_for(uncertainty, "")) == text


def test_errors_from_950_round_up_to_the_next_decade_with_two_digits():
    # PDG: 950 to 999 rounds up to 1000 and keeps two digits.
    assert numbers.decimals_for(0.0967, "") == 2
    assert numbers.decimals_for(0.0943, "") == 2
    assert numbers.decimals_for(0.967, "") == 1


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [(-5.7, 1, "−5.7"), (5.66, 1, "5.7"), (-0.04, 1, "0.0"), (0.0, 0, "0"), (1234.5, 0, "1234")],
)
def test_numbers_have_a_true_minus_and_no_negative_zero(value, decimals, text):
    assert numbers.number(value, decimals) == text


def test_a_sign_is_written_only_for_what_is_not_zero():
    assert numbers.number(0.31, 1, signed=True) == "+0.3"
    assert numbers.number(0.01, 1, signed=True) == "0.0"


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_what_was_not_measured_has_no_digits(value):
    with pytest.raises(ValueError, match="not a finite number"):
        numbers.number(value, 1)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (1240.0, "Hz", "1.24 kHz"),
        (82.41, "Hz", "82.4 Hz"),
        (0.035, "s", "35 ms"),
        (4.2, "s", "4.2 s"),
        (-38.24, "dBFS", "−38.2 dBFS"),
        (0.25, "share", "0.25"),
        (1.23e-5, "", "1.2 × 10⁻⁵"),
        (0.0, "", "0.00"),
    ],
)
def test_units_are_scaled_for_reading(value, unit, text):
    shown = numbers.with_unit(value, unit)
    assert shown.replace("35.0", "35").replace("4.20", "4.2") == text


def test_uncertainty_sets_the_digits_of_a_scaled_value():
    assert numbers.with_unit(1243.7, "Hz", uncertainty=40.0) == "1.24 kHz"
    assert numbers.with_unit(50.0213, "Hz", uncertainty=0.005) == "50.02 Hz"


def test_difference_with_interval():
    assert numbers.difference(-5.71, -6.22, -5.21, "dB") == "−5.7 dB (−6.2 to −5.2)"
    assert numbers.difference(-5.71, None, None, "dB") == "−5.7 dB"


def test_magnitude_turns_the_interval_with_the_sign():
    assert numbers.magnitude(-5.71, -6.22, -5.21, "dB") == ("5.7 dB", "5.2 to 6.2")
    assert numbers.magnitude(8.0, 7.5, 8.5, "dB") == ("8.0 dB", "7.5 to 8.5")


def test_magnitude_keeps_signs_when_the_interval_crosses_zero():
    assert numbers.magnitude(-0.2, -0.9, 0.5, "dB") == ("0.2 dB", "−0.9 to +0.5")


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [(-5.2, 3.1, "%", "6 %"), (-0.31, 0.4, "dB", "0.4 dB"), (-0.31, 0.41, "dB", "0.5 dB")],
)
def test_a_bound_is_rounded_up_never_down(low, high, unit, text):
    assert numbers.bound(low, high, unit) == text


def test_a_bound_never_says_less_than_the_interval():
    rng = np.random.default_rng(5)
    for low, high in rng.normal(0.0, 3.0, (200, 2)):
        said = float(numbers.bound(low, high, "dB").split()[0])
        assert said >= max(abs(low), abs(high)) - 1e-9


def test_an_interval_of_two_ends_never_collapses():
    rng = np.random.default_rng(6)
    for middle, half in zip(
        rng.normal(0.0, 10.0, 200), 10.0 ** rng.uniform(-1.2, 1.5, 200), strict=True
    ):
        low, high = numbers.interval(middle - half, middle + half, "dB").split(" to ")
        assert low != high


def test_counts_and_lists():
    assert numbers.count(1, "pluck") == "1 pluck"
    assert numbers.count(2, "stretch", plural="stretches") == "2 stretches"
    assert numbers.listed(["a"]) == "a"
    assert numbers.listed(["a", "b", "c"]) == "a, b and c"
    assert numbers.listed([]) == ""


@pytest.mark.parametrize(
    ("value", "low", "high", "unit", "said"),
    [
        (1.56, 1.47, 1.66, "dB", ("1.6 dB", "1.5 to 1.7")),
        (-29.3, -31.7, -26.9, "dB", ("29 dB", "27 to 32")),
        (0.04, -0.31, 0.39, "dB", ("0.0 dB", "−0.3 to +0.4")),
        (7.26, 6.7, 7.8, "dB", ("7.3 dB", "6.7 to 7.8")),
    ],
)
def test_a_difference_has_two_significant_digits_at_most(value, low, high, unit, said):
    assert numbers.magnitude(value, low, high, unit) == said
