"""Circuits and filters against network theory (check values computed outside this project)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from tonecompare.errors import InputError
from tonecompare.strings.model import Circuit, Piezo
from tonecompare.strings.pickups.filters import (
    AnalogFilter,
    circuit_filter,
    piezo_filter,
    resonance,
)

POTS_AND_INPUT = 1 / (1 / 250e3 + 1 / 250e3 + 1 / 1e6)  # two 250 kΩ pots and a 1 MΩ input
SINGLE_3M = Circuit(2.4, 5800.0, 110e-12, POTS_AND_INPUT, 360e-12)
SINGLE_6M = Circuit(2.4, 5800.0, 110e-12, POTS_AND_INPUT, 720e-12)
LINE_INPUT = Circuit(2.4, 5800.0, 110e-12, 1 / (2 / 250e3 + 1 / 10e3), 360e-12)
HUMBUCKER = Circuit(4.4, 8000.0, 120e-12, 1 / (2 / 500e3 + 1 / 1e6), 360e-12)
SPLIT = Circuit(2.2, 4000.0, 120e-12, 1 / (2 / 500e3 + 1 / 1e6), 360e-12)


# Loaded RLC theory, figures computed independently; rounded as printed.
@pytest.mark.parametrize(
    ("circuit", "f0_hz", "q"),
    [
        (SINGLE_3M, 4861, 1.42),
        (SINGLE_6M, 3658, 1.73),
        (HUMBUCKER, 3532, 1.81),
        (SPLIT, 4946, 2.54),
    ],
)
def test_loaded_resonance_and_q(circuit, f0_hz, q):
    found_hz, found_q = resonance(circuit)
    assert found_hz == pytest.approx(f0_hz, abs=0.5)
    assert found_q == pytest.approx(q, abs=0.005)


@pytest.mark.parametrize(
    ("circuit", "peak_db", "peak_hz"), [(SINGLE_3M, 3.6, 4212), (HUMBUCKER, 5.5, None)]
)
def test_peak_of_the_loaded_pickup(circuit, peak_db, peak_hz):
    hz = np.arange(20.0, 12e3, 1.0)
    level = 20 * np.log10(np.abs(circuit_filter(circuit).response(2j * np.pi * hz)))
    # Both printed re the gain at low frequencies, RL/(R + RL).
    assert np.max(level) - level[0] == pytest.approx(peak_db, abs=0.06)
    if peak_hz:
        assert hz[np.argmax(level)] == pytest.approx(peak_hz, abs=2)


def test_minus_3_db_points():
    hz = np.arange(20.0, 12e3, 1.0)
    for circuit, corner_hz in ((SINGLE_3M, 6876), (LINE_INPUT, 1015)):
        level = 20 * np.log10(np.abs(circuit_filter(circuit).response(2j * np.pi * hz)))
        beyond = hz[level < level[0] - 10 * np.log10(2)]
        # "1015 Hz" was read on a coarser grid: 2 Hz.
        assert beyond[0] == pytest.approx(corner_hz, abs=3)


def test_gain_at_dc_is_the_divider():
    circuit = LINE_INPUT
    expected = circuit.load_ohm / (circuit.resistance_ohm + circuit.load_ohm)
    assert abs(circuit_filter(circuit).response(0.0)) == pytest.approx(expected, rel=1e-12)
    assert 20 * np.log10(expected) == pytest.approx(-4.2, abs=0.05)


# f = 1/(2πRC).
@pytest.mark.parametrize(
    ("capacitance_f", "ohm", "corner_hz"),
    [(1e-9, 1e6, 159.155), (1e-9, 10e6, 15.9155), (0.5e-9, 1e6, 318.310), (1.5e-9, 1e6, 106.103)],
)
def test_piezo_corner(capacitance_f, ohm, corner_hz):
    # Infinitely wide preamp: what is left is the RC corner, where the gain is 1/√2.
    piezo = Piezo(capacitance_f=capacitance_f, input_ohm=ohm, bandwidth_hz=1e7)
    gain = abs(piezo_filter(piezo).response(2j * np.pi * corner_hz))
    assert gain == pytest.approx(np.sqrt(0.5), rel=1e-4)


def test_preamp_is_butterworth():
    piezo = Piezo(bandwidth_hz=12e3, gain_db=6.0)
    zeros, poles, gain = signal.butter(2, 2 * np.pi * 12e3, analog=True, output="zpk")
    corner = 1 / (piezo.input_ohm * piezo.capacitance_f)
    hz = np.geomspace(20, 20e3, 30)
    _, low_pass = signal.freqs_zpk(zeros, poles, gain, worN=2 * np.pi * hz)
    s = 2j * np.pi * hz
    expected = low_pass * s / (s + corner) * 10 ** (6 / 20)
    np.testing.assert_allclose(piezo_filter(piezo).response(s), expected, rtol=1e-9)


def test_response_to_a_decaying_mode_agrees_with_a_time_domain_solver():
    # Oracle: scipy.signal.lsim, first-order hold at 2 MHz.
    circuit = SINGLE_3M
    c = circuit.capacitance_f + circuit.cable_f
    system = signal.lti(
        [1.0],
        [
            circuit.inductance_h * c,
            circuit.resistance_ohm * c + circuit.inductance_h / circuit.load_ohm,
            1 + circuit.resistance_ohm / circuit.load_ohm,
        ],
    )
    t = np.arange(20000) / 2e6
    mode, drive = np.array([-300.0 + 2j * np.pi * 1234.0]), np.array([0.7j])
    _, expected, _ = signal.lsim(system, (drive * np.exp(mode * t[:, None])).sum(axis=1).real, t)
    rates, amplitudes = circuit_filter(circuit).through(mode, drive)
    found = (np.exp(np.multiply.outer(t, rates)) @ amplitudes).real
    np.testing.assert_allclose(found, expected, atol=2e-6)
    assert found[0] == pytest.approx(0.0, abs=1e-12)


def test_coinciding_poles_are_refused():
    with pytest.raises(InputError, match="poles coincide"):
        AnalogFilter((), (-5.0 + 0j, -5.0 + 0j)).residues()
