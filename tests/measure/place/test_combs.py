"""Closed forms of the combs and of the circuit, against printed values and difference quotients."""

from __future__ import annotations

import numpy as np
import pytest
from positions_truth import low_pass_db

from tonecompare.measure.place.combs import (
    ORDER,
    aperture_parts,
    comb_db,
    comb_parts,
    low_pass_parts,
    two_coil_parts,
)

WAVE = np.linspace(1.0, 40.0, 25)
HZ = np.geomspace(100.0, 9000.0, 25)


def test_comb_has_the_printed_levels() -> None:
    # d/L = 1/4: -3.01, 0, -3.01 dB and a null at the fourth partial (closed form).
    level = comb_db(np.array(0.25))
    assert level[:3] == pytest.approx([-3.01, 0.0, -3.01], abs=0.03)
    assert level[3] < -25.0


def test_coil_width_and_spacing_have_their_closed_forms() -> None:
    # sinc(n w / 2L), w = 18 mm of 648: -0.28, -1.13, -2.64 dB at n = 10, 20, 30, and two coils
    # 18 mm apart, cos(n pi s / 2L): -0.85, -3.84 dB at n = 10, 20, a null at 36 (both worked out
    # by hand from the formulas; the fill of 0.25 % adds 0.01 to 0.02 dB).
    n = np.array([10.0, 20.0, 30.0])
    assert aperture_parts(n, (18.0 / 648.0) ** 2)[0] == pytest.approx(
        [-0.28, -1.13, -2.64], abs=0.03
    )
    assert two_coil_parts(np.array([10.0, 20.0]), 18.0 / 648.0)[0] == pytest.approx(
        [-0.85, -3.84], abs=0.03
    )
    assert two_coil_parts(np.array([36.0]), 18.0 / 648.0)[0] < -25.0


@pytest.mark.parametrize(("resonance_hz", "q"), [(2800.0, 2.0), (4000.0, 1.5)])
def test_low_pass_is_q_at_its_resonance(resonance_hz: float, q: float) -> None:
    # |1/(1 - (f/f_r)² + i f/(Q f_r))| at f_r is Q, far below 1 (closed form).
    level = low_pass_db(np.array([1e-3, resonance_hz]), resonance_hz, q)
    assert level == pytest.approx([0.0, 20.0 * np.log10(q)], abs=1e-9)


def test_derivatives_are_those_of_the_levels() -> None:
    for parts, x in ((comb_parts, 0.123), (two_coil_parts, 0.0281)):
        step = 1e-7
        quotient = (parts(WAVE, x + step)[0] - parts(WAVE, x - step)[0]) / (2.0 * step)
        assert parts(WAVE, x)[1] == pytest.approx(quotient, rel=1e-4, abs=1e-3)
    step = 1e-9
    quotient = (aperture_parts(WAVE, 3e-4 + step)[0] - aperture_parts(WAVE, 3e-4 - step)[0]) / (
        2.0 * step
    )
    assert aperture_parts(WAVE, 3e-4)[1] == pytest.approx(quotient, rel=1e-5)
    step = 1e-6
    level, by_resonance, by_q = low_pass_parts(HZ, 3100.0, 1.7)
    assert level == pytest.approx(low_pass_db(HZ, 3100.0, 1.7))
    for found, more, less in (
        (by_resonance, (3100.0 * np.exp(step), 1.7), (3100.0 * np.exp(-step), 1.7)),
        (by_q, (3100.0, 1.7 * np.exp(step)), (3100.0, 1.7 * np.exp(-step))),
    ):
        quotient = (low_pass_db(HZ, *more) - low_pass_db(HZ, *less)) / (2.0 * step)
        assert found == pytest.approx(quotient, abs=1e-5)


def test_nulls_are_uncertain_and_only_they() -> None:
    _, _, doubt = comb_parts(ORDER, 0.25)
    assert doubt[3] > 5.0
    assert doubt[1] < 0.1
