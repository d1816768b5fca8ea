"""The finite-difference voice's pole and network, against closed forms and the string model."""

from __future__ import annotations

import numpy as np
import pytest
from finite_difference_voice import GAP_MM, network_response, pole_flux_mm, voice_signal

from tonecompare import strings as st

RATE = 44100.0


def test_a_pole_far_away_goes_with_the_fourth_power_of_distance():
    # Beyond many radii but well within its length the pole is a point charge: B ∝ z^−2, B² ∝ z^−4;
    # g = d/4·((1 − y/d)^−4 − 1).
    y = np.array([-2.0, 2.0])
    expected = 12.0 / 4 * ((1 - y / 12.0) ** -4.0 - 1)
    assert pole_flux_mm(y, gap_mm=12.0) == pytest.approx(expected, rel=0.12)


def test_it_bends_about_as_much_as_the_string_models_law():
    # Second harmonic of a swing of 0.3 mm, re the first, of both laws.
    theta = np.arange(256) * 2 * np.pi / 256
    law = st.DistanceLaw()
    y = 0.3 * np.cos(theta)
    model = law.distance_mm / law.exponent * ((1 - y / law.distance_mm) ** -law.exponent - 1)
    db = []
    for flux in (pole_flux_mm(y), model):
        level = np.abs(np.fft.rfft(flux))
        db.append(20 * np.log10(2 * level[2] / level[1]))
    assert db[0] == pytest.approx(db[1], abs=6.0)
    assert GAP_MM > 2.0


def test_the_network_is_the_loaded_resonance_of_the_rlc_formula():
    circuit = st.Circuit()
    f0, q = st.resonance(circuit)
    # |H(jω0)| of 1/[(1 + R/R_load)(1 − x² + jx/Q)] at x = 1 is Q/(1 + R/R_load) (RLC theory).
    found = np.abs(network_response([circuit], np.array([f0]))[0])
    assert found[0] == pytest.approx(q / (1 + circuit.resistance_ohm / circuit.load_ohm), rel=1e-6)


def test_a_small_swing_comes_out_as_velocity_times_sensitivity():
    n = 8820
    t = np.arange(n) / RATE
    fade = np.sin(np.pi * t / t[-1]) ** 2
    y = 1e-6 * np.sin(2 * np.pi * 200.0 * t) * fade
    pickup = st.single_coil(150.0)
    out = voice_signal(
        {150.0: np.stack((y, 0 * y))}, pickup, string_gain=0.5, rate_hz=RATE
    )  # fmt: skip
    middle = slice(4000, 4900)
    load = pickup.circuit.load_ohm / (pickup.circuit.load_ohm + pickup.circuit.resistance_ohm)
    expected = 0.5 * 0.6 * 2 * np.pi * 200.0 * 1e-6 * load
    assert np.max(np.abs(out[middle])) == pytest.approx(expected, rel=0.02)
