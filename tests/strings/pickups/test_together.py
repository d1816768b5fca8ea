"""Two pickups in parallel and in series, against node equations and textbook special cases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.errors import InputError
from tonecompare.strings.pickups.filters import circuit_filter
from tonecompare.strings.pickups.together import parallel_filters

RATE = 44100.0
HZ = np.geomspace(20.0, 15e3, 40)
A = st.Circuit(2.4, 5800.0, 110e-12, 111e3, 360e-12)
B = st.Circuit(4.4, 8000.0, 120e-12, 200e3, 700e-12)


def test_unequal_pickups_in_parallel_solve_the_node_equation():
    # (E_a − V)/Z_a + (E_b − V)/Z_b = V·Y, solved as it stands, one source at a time.
    s = 2j * np.pi * HZ
    z_a, z_b = (c.resistance_ohm + s * c.inductance_h for c in (A, B))
    y = 1 / A.load_ohm + s * (A.capacitance_f + B.capacitance_f + A.cable_f)
    for found, own in zip(parallel_filters((A, B)), (z_a, z_b), strict=True):
        expected = (1 / own) / (1 / z_a + 1 / z_b + y)
        assert found.response(s) == pytest.approx(expected, rel=1e-9)


def test_equal_pickups_in_parallel_are_one_of_half_the_inductance_at_half_the_level_each():
    s = 2j * np.pi * HZ
    half = replace(
        A,
        inductance_h=A.inductance_h / 2,
        resistance_ohm=A.resistance_ohm / 2,
        capacitance_f=2 * A.capacitance_f,
    )
    for found in parallel_filters((A, A)):
        assert found.response(s) == pytest.approx(circuit_filter(half).response(s) / 2, rel=1e-9)


def test_three_in_parallel_are_refused():
    with pytest.raises(InputError, match="allowed are 2"):
        parallel_filters((A, A, A))


def rendered(magnetic: st.Magnetic | st.Parallel) -> st.Rendered:
    return st.render_recording(
        st.standard_instrument(),
        st.VoiceSpec("v", (st.Channel("magnetic", magnetic),)),
        [st.PluckSpec(0.1, 4, position_mm=110.0)],
        rng=np.random.default_rng(0),
        rate_hz=RATE,
        length_s=0.8,
        subtype="FLOAT",
    )


def test_a_middle_position_is_the_sum_of_two_combs_at_half_level_each():
    bridge, neck = st.single_coil(45.0, circuit=A), st.single_coil(150.0, circuit=A)
    both = rendered(st.in_parallel(bridge, neck))
    half = replace(
        A,
        inductance_h=A.inductance_h / 2,
        resistance_ohm=A.resistance_ohm / 2,
        capacitance_f=2 * A.capacitance_f,
    )
    alone = [rendered(replace(one, circuit=half)) for one in (bridge, neck)]
    expected = sum(one.samples[0] for one in alone) / 2
    assert np.max(np.abs(both.samples[0] - expected)) < 1e-7
    # Partials whose combs oppose each other cancel: no single place gives this comb.
    truth = both.truth.plucks[0].outputs[0]
    mean = sum(one.truth.plucks[0].outputs[0].amplitude for one in alone) / 2
    assert np.max(np.abs(truth.amplitude - mean)) < 1e-9
    assert truth.onset_s == min(one.truth.plucks[0].outputs[0].onset_s for one in alone)


def test_in_series_voltages_and_inductances_add():
    series = st.in_series(st.single_coil(45.0, circuit=A), st.single_coil(150.0, circuit=B))
    assert len(series.coils) == 2
    assert series.circuit.inductance_h == pytest.approx(6.8)
    assert series.circuit.resistance_ohm == pytest.approx(13800.0)
    # Two capacitances in series: 110·120/230 pF.
    assert series.circuit.capacitance_f == pytest.approx(57.391e-12, rel=1e-4)


def test_hum_of_two_opposite_coils_in_parallel_cancels_and_of_two_alike_stays():
    opposite = st.Magnetic((st.Coil(150.0, hum=-1.0),), A)
    alike = st.Magnetic((st.Coil(150.0),), A)
    bridge = st.Magnetic((st.Coil(45.0),), A)
    cancelled = st.coil_line_dbfs(st.in_parallel(bridge, opposite), (-20.0,), mains_hz=50.0)
    kept = st.coil_line_dbfs(st.in_parallel(bridge, alike), (-20.0,), mains_hz=50.0)
    assert cancelled[0] < -200.0
    # At 50 Hz the coil's 5.8 kΩ, halved, stand before 111 kΩ: −0.22 dB.
    assert kept[0] == pytest.approx(-20.0 - 0.224, abs=0.01)
