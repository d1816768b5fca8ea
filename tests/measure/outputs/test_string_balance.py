"""Strings off the line through the others: closed forms, scatter drawn anew."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.outputs.string_balance import off_line


@pytest.mark.parametrize("slope", [-1.5, 0.0, 1.0])
@pytest.mark.parametrize("weak", [1, 3, 6])
def test_a_slope_over_the_strings_is_no_imbalance(slope: float, weak: int) -> None:
    levels = {string: slope * string - (5.0 if string == weak else 0.0) for string in range(1, 7)}
    off, off_sd = off_line(levels)[weak]
    assert off == pytest.approx(-5.0)
    assert off_sd == pytest.approx(0.0, abs=1e-9)
    # Against the middle of the others an edge string would be off by 3.5 times the slope as well.
    level, _ = off_line(levels, level=True)[weak]
    assert abs(level - off) > abs(slope) * (0.4 if weak == 3 else 2.0) - 1e-9


def test_a_second_weak_string_turns_the_line_little() -> None:
    levels = {string: -0.5 * string for string in range(1, 7)} | {3: -6.5, 5: -8.5}
    # Least squares through the others, string 5 among them 6 dB low, would be wrong by 1.5 dB.
    assert off_line(levels)[3][0] == pytest.approx(-5.0, abs=0.8)


def test_the_uncertainty_holds_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(8)
    ratio = []
    for _ in range(400):
        levels = dict(enumerate(0.6 * np.arange(6) + rng.standard_normal(6), start=1))
        off, off_sd = off_line(levels)[int(rng.integers(1, 7))]
        ratio.append(abs(off) / off_sd)
    # 68 and 99.7 % if the scatter were known; Student's t with two degrees (four are left, a line
    # takes two): 58 and 90 %.
    assert float(np.mean(np.array(ratio) < 1.0)) == pytest.approx(0.58, abs=0.08)
    assert float(np.mean(np.array(ratio) < 3.0)) == pytest.approx(0.90, abs=0.05)


def test_three_strings_say_nothing() -> None:
    assert off_line({1: 0.0, 2: 0.0, 3: -9.0}) == {}
