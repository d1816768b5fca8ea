"""A near string's harmonics are those of the distance law's series; far away nothing is bent."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.errors import InputError
from tonecompare.strings.pickups.distance_law import BentCoil, bending, bent_voltage

RATE = 48000.0
HZ = 100.0


def harmonics_of_one_mode(law: st.DistanceLaw, swing_mm: float) -> np.ndarray:
    """Amplitudes of harmonics 1 … 4 of a coil over one undamped mode of this swing."""
    omega = 2 * np.pi * HZ
    rates = np.array([[1j * omega, 1j * omega]])
    coil = BentCoil(
        law,
        rates,
        velocity=np.array([[1j * omega * swing_mm, 0.0]]),
        displacement_mm=np.array([swing_mm + 0j]),
    )
    pluck = st.PluckSpec(0.0, 1, release_ms=0.02)
    x = bent_voltage(coil, pluck, first=0, n=9600, rate_hz=RATE)[4800:]
    return 2 * np.abs(np.fft.rfft(x))[[10, 20, 30, 40]] / x.size


@pytest.mark.parametrize("x", [0.1, 0.4, 0.7])
def test_harmonics_of_one_over_distance_are_those_of_its_fourier_series(x):
    # 1/(1 − x cos θ) = (1 + 2 Σ r^n cos nθ)/√(1 − x²), r = (1 − √(1 − x²))/x (textbook series);
    # the voltage is its derivative: harmonic n goes with n r^n.
    found = harmonics_of_one_mode(st.DistanceLaw(5.0, exponent=1.0), 5.0 * x)
    r = (1 - np.sqrt(1 - x**2)) / x
    n = np.arange(1, 5)
    assert found / found[0] == pytest.approx(n * r ** (n - 1), rel=2e-3)
    # In absolute terms: the flux is d·(1/(1 − x cos θ) − 1), whose slope at rest is 1.
    first = 5.0 * 2 * r / np.sqrt(1 - x**2) * 2 * np.pi * HZ
    assert found[0] == pytest.approx(first, rel=2e-3)


@pytest.mark.parametrize(("exponent", "distance_mm"), [(2.0, 4.0), (3.0, 3.0), (1.0, 6.0)])
def test_a_small_swing_brings_a_second_harmonic_of_the_series(exponent, distance_mm):
    swing = 0.02
    found = harmonics_of_one_mode(st.DistanceLaw(distance_mm, exponent), swing)
    # g = y + (k+1)/(2d) y² + …, so V2/V1 = (k + 1) a/(2d) for a ≪ d.
    assert found[1] / found[0] == pytest.approx(
        (exponent + 1) * swing / (2 * distance_mm), rel=0.01
    )


def test_voltage_summed_from_before_the_release_is_what_flux_there_is():
    # ∫ dg/dt = g(y(T)) − g(y(0)): the pick held the string aside and lets go over 4 ms.
    swing, release_s, end = 2.0, 0.004, 1113
    law, omega = st.DistanceLaw(5.0, exponent=2.0), 2 * np.pi * HZ
    coil = BentCoil(
        law,
        np.array([[1j * omega, 1j * omega]]),
        velocity=np.array([[1j * omega * swing, 0.0]]),
        displacement_mm=np.array([swing + 0j]),
    )
    pluck = st.PluckSpec(0.002, 1, release_ms=1000 * release_s)
    x = bent_voltage(coil, pluck, first=0, n=end + 1, rate_hz=RATE)
    summed = (np.sum(x) - 0.5 * (x[0] + x[-1])) / RATE
    late = end / RATE - 0.002
    weight = (
        1 - np.cos(2 * np.pi * (s := np.linspace(0, release_s, 4001)) / release_s)
    ) / release_s
    y_end = float(np.trapezoid(weight * swing * np.cos(omega * (late - s)), s))

    def flux(y: float) -> float:
        return 2.5 * ((1 - y / 5.0) ** -2 - 1)

    assert summed == pytest.approx(flux(y_end) - flux(swing), rel=1e-3)


def test_a_string_that_would_touch_the_pickup_is_refused():
    with pytest.raises(InputError, match="would touch"):
        bending(st.DistanceLaw(2.0), np.array([0.0, 2.1]))


def rendered(pickup: st.Magnetic, **pluck: float) -> st.Rendered:
    return st.render_recording(
        st.standard_instrument(),
        st.VoiceSpec("v", (st.Channel("magnetic", pickup),)),
        [st.PluckSpec(0.1, 5, **pluck)],
        rng=np.random.default_rng(0),
        rate_hz=RATE,
        length_s=1.3,
        subtype="FLOAT",
    )


def with_law(pickup: st.Magnetic, law: st.DistanceLaw) -> st.Magnetic:
    return replace(pickup, coils=tuple(replace(coil, law=law) for coil in pickup.coils))


@pytest.mark.parametrize("pickup", [st.humbucker(45.0), st.single_coil(150.0)])
def test_far_away_it_is_the_exact_linear_pickup(pickup):
    # The linear path is a sum of exponentials through the circuit's poles, the bent one sampled
    # voltages through the circuit's response: two ways to the same samples.
    exact = rendered(pickup).samples[0]
    far = rendered(with_law(pickup, st.DistanceLaw(1e6))).samples[0]
    assert np.max(np.abs(far - exact)) < 1e-3 * np.max(np.abs(exact))
    late = round(0.2 * RATE)
    assert np.sqrt(np.mean((far - exact)[late:] ** 2)) < 1e-5 * np.sqrt(np.mean(exact[late:] ** 2))


def test_picked_in_the_middle_the_even_partials_are_the_pickups_and_grow_with_strength():
    def second_db(strength_db: float) -> float:
        pickup = with_law(st.single_coil(150.0), st.DistanceLaw())
        x = rendered(pickup, position_mm=324.0, strength_db=strength_db, angle_deg=0.0)
        samples, f0 = x.samples[0], x.truth.plucks[0].f0_hz
        part = samples[round(0.2 * RATE) : round(1.2 * RATE)] * np.hanning(round(RATE))
        level = [
            np.abs(np.sum(part * np.exp(-2j * np.pi * n * f0 * np.arange(part.size) / RATE)))
            for n in (1, 2)
        ]
        return float(20 * np.log10(level[1] / level[0]))

    soft, hard = second_db(-18.0), second_db(-12.0)
    # Twice the swing is twice the second harmonic, re the first: + 6.02 dB.
    assert hard - soft == pytest.approx(6.02, abs=0.2)
    assert -45.0 < soft < -25.0


def test_a_pickup_with_a_law_on_one_coil_only_is_refused():
    plain = st.humbucker(45.0)
    mixed = replace(plain, coils=(replace(plain.coils[0], law=st.DistanceLaw()), plain.coils[1]))
    with pytest.raises(InputError, match="every coil"):
        rendered(mixed)
