"""The ideal string: combs, pluck position, inharmonicity, waves (closed forms)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.errors import InputError
from tonecompare.strings.modes import coil_comb, force_drive, string_modes, velocity_drive

GUITAR = st.standard_instrument()


def modes_of(*, rate_hz=96000.0, flexible=True, damping=(0.6, 0.9, 0.35), **pluck):
    pluck = {"angle_deg": 0.0, "width_mm": 0.0, "string": 5, **pluck}
    strings = tuple(
        replace(s, inharmonicity=0.0 if flexible else s.inharmonicity, damping=damping)
        for s in GUITAR.strings
    )
    return string_modes(
        replace(GUITAR, strings=strings), st.PluckSpec(0.0, **pluck), rate_hz=rate_hz
    )[1]


def db(x):
    return 20 * np.log10(np.abs(x))


# |sin(nπd/L)|, L = 648 mm, values computed outside this project (textbook comb).
@pytest.mark.parametrize(
    ("distance_mm", "levels_db"),
    [
        (100.0, [-6.63, -1.67, -0.06, -0.60, -3.64, -12.74]),
        (45.0, [-13.29, -7.48, -4.31, -2.31, -1.04, -0.30, -0.01]),
        (162.0, [-3.01, 0.0, -3.01]),
    ],
)
def test_pickup_comb(distance_mm, levels_db):
    comb = coil_comb(modes_of(), st.Coil(distance_mm, aperture_mm=0.0))
    np.testing.assert_allclose(db(comb[: len(levels_db)]), levels_db, atol=0.006)


def test_pickup_comb_null():
    comb = coil_comb(modes_of(), st.Coil(162.0, aperture_mm=0.0))
    assert abs(comb[3]) < 1e-12  # d = L/4: partial 4


def test_aperture():
    # sinc(nw/2L), w = 18 mm: textbook; null at n = 2L/w = 72.
    modes = modes_of()
    wide = coil_comb(modes, st.Coil(100.0, aperture_mm=18.0))
    narrow = coil_comb(modes, st.Coil(100.0, aperture_mm=0.0))
    ratio = db(wide[[9, 19, 29, 39]] / narrow[[9, 19, 29, 39]])
    np.testing.assert_allclose(ratio, [-0.28, -1.13, -2.64, -4.97], atol=0.006)
    assert abs(wide[71] / narrow[71]) < 1e-12


def test_aperture_is_the_mean_over_its_length():
    modes = modes_of()
    across = np.linspace(91.0, 109.0, 20001)
    n = modes.number[:40, None]
    values = np.sin(n * np.pi * across / modes.length_mm)
    mean = np.trapezoid(values, across, axis=1) / 18.0
    np.testing.assert_allclose(
        coil_comb(modes, st.Coil(100.0, aperture_mm=18.0))[:40], mean, atol=1e-8
    )


# |sin(nπp/L)|/n for velocity and force, p = L/5 (textbook; partial 5 is a null).
@pytest.mark.parametrize("drive", [velocity_drive, force_drive])
def test_pluck_position(drive):
    levels = db(drive(modes_of(position_mm=648 / 5))[[0, 1, 2, 3, 5], 0])
    np.testing.assert_allclose(levels - levels[0], [0, -1.84, -5.36, -12.04, -15.56], atol=0.01)
    assert abs(drive(modes_of(position_mm=648 / 5))[4, 0]) < 1e-12


def test_moving_the_pick_by_5_mm():
    # Ideal string of 648 mm, 110 to 115 mm, same displacement under the pick.
    before, after = (velocity_drive(modes_of(position_mm=p))[:, 0] for p in (110.0, 115.0))
    change = db(after / before)
    np.testing.assert_allclose(change[[4, 5, 11]], [-2.7, 10.5, 10.4], atol=0.06)


def test_split_of_a_humbucker():
    # Two equal coils 18 mm apart, string comb included, n = 1; and the pair factor 2cos(nπs/2L).
    modes = modes_of()

    for distance_mm, far_db, near_db in ((45.0, -4.46, -7.93), (150.0, -5.60, -6.46)):
        near, far = (
            coil_comb(modes, st.Coil(distance_mm + side, aperture_mm=0.0)) for side in (-9.0, 9.0)
        )
        assert db(far[0] / (near + far)[0]) == pytest.approx(far_db, abs=0.006)
        assert db(near[0] / (near + far)[0]) == pytest.approx(near_db, abs=0.006)
    centre = coil_comb(modes, st.Coil(150.0, aperture_mm=0.0))
    few = [0, 9, 19, 29]
    pair = db((near + far)[few] / centre[few])
    np.testing.assert_allclose(pair, [6.012, 5.17, 2.18, -5.7], atol=0.06)
    assert abs(near[35] + far[35]) < 1e-12  # null at n = L/s = 36


def test_long_wave_limit_of_a_split_is_6_02_db():
    pickup = st.humbucker(150.0, spacing_mm=0.01, mismatch=0.0)
    modes = modes_of()
    near, far = (c.sensitivity * coil_comb(modes, c) for c in pickup.coils)
    assert db(far / (near + far))[0] == pytest.approx(-6.0206, abs=1e-3)


def test_split_halves_inductance_and_resistance():
    split = st.split_coil(st.humbucker(150.0), coil="near")
    assert split.coils[0].distance_mm == 141.0
    assert (split.circuit.inductance_h, split.circuit.resistance_ohm) == (2.2, 4000.0)


def test_inharmonicity_and_frets():
    modes = modes_of(flexible=False, string=6, fret=12)
    n = modes.number
    b = 1.3e-4 * 4  # B ~ 1/L² (Fletcher 1964): one octave up, four times
    ideal_hz = 2 * 82.4069 / np.sqrt(1 + 1.3e-4)
    np.testing.assert_allclose(
        modes.rates[:, 0].imag / (2 * np.pi), n * ideal_hz * np.sqrt(1 + b * n**2), rtol=1e-6
    )
    assert modes.length_mm == pytest.approx(324.0)


def test_tension_and_wave_speed():
    # E2: c = 2Lf = 106.8 m/s; .010 plain E4 of 3.9777e-4 kg/m: 72.59 N (Mersenne).
    assert modes_of(string=6).wave_speed_m_per_s == pytest.approx(106.8, abs=0.05)
    strings = (
        replace(GUITAR.string(1), mass_kg_per_m=3.9777e-4, inharmonicity=0.0, open_hz=329.6276),
    )
    modes = string_modes(replace(GUITAR, strings=strings), st.PluckSpec(0.0, 1), rate_hz=48e3)[1]
    assert modes.tension_n == pytest.approx(72.59, abs=0.01)


def test_bridge_force_is_the_travelling_square():
    # d'Alembert: T h/p until the corner arrives at p/c, then −T h/(L − p) until (2L − p)/c.
    modes = modes_of(position_mm=120.0, damping=(0.0, 0.0, 0.0), rate_hz=8e6)
    drive = force_drive(modes)[:, 0]
    c, length = modes.wave_speed_m_per_s, modes.length_mm / 1000
    t = np.array([0.3 * 0.12 / c, 0.6 * 0.12 / c, length / c, 1.4 * length / c])
    force = (np.exp(np.multiply.outer(t, modes.rates[:, 0])) @ drive).real
    up, down = modes.tension_n * 1e-3 / 0.120, -modes.tension_n * 1e-3 / (length - 0.120)
    # 36 000 partials of a step: Gibbs ripple below 0.1 % this far from the edges.
    np.testing.assert_allclose(force, [up, up, down, down], rtol=1e-3)


def test_velocity_from_bridge_force_of_two_times():
    # v(d, t) = [F(t + τ) − F(t − τ)]/(2Z), τ = d/c: travelling waves on a lossless string.
    modes = modes_of(position_mm=131.0, damping=(0.0, 0.0, 0.0))
    d, rates = 100.0, modes.rates[:, 0]
    tau = d / 1000 / modes.wave_speed_m_per_s
    impedance = modes.tension_n / modes.wave_speed_m_per_s
    t = np.linspace(0.01, 0.03, 500)

    def total(drive, at):
        return (np.exp(np.multiply.outer(at, rates)) @ drive).real

    velocity = total(velocity_drive(modes)[:, 0] * coil_comb(modes, st.Coil(d, aperture_mm=0.0)), t)
    force = force_drive(modes)[:, 0]
    expected = (total(force, t + tau) - total(force, t - tau)) / (2 * impedance)
    np.testing.assert_allclose(velocity, expected, atol=1e-10 * np.max(np.abs(velocity)))


def test_velocity_and_force_are_in_quadrature():
    modes = modes_of(position_mm=131.0, damping=(0.0, 0.0, 0.0))
    velocity = velocity_drive(modes)[:, 0] * coil_comb(modes, st.Coil(100.0, aperture_mm=0.0))
    ratio = velocity / force_drive(modes)[:, 0]
    impedance = modes.tension_n / modes.wave_speed_m_per_s
    expected = 1j * np.sin(modes.number * np.pi * 100.0 / 648.0) / impedance
    np.testing.assert_allclose(ratio, expected, atol=1e-10)


def test_string_is_let_go_from_rest_and_velocity_is_the_derivative():
    # Heavily damped, so that the terms in sigma/omega count: y(0) = a, dy/dt(0) = 0, v = dy/dt.
    modes = modes_of(damping=(200.0, 0.0, 0.0))
    slope = modes.tension_n * modes.number * np.pi / 0.648
    displacement = force_drive(modes)[:, 0] / slope
    velocity = velocity_drive(modes)[:, 0]
    np.testing.assert_allclose(displacement.real, modes.shape_m[:, 0], rtol=1e-12)
    np.testing.assert_allclose(velocity.real, 0.0, atol=1e-15)
    np.testing.assert_allclose(velocity, modes.rates[:, 0] * displacement, rtol=1e-9, atol=1e-15)


def test_pick_width_rounds_as_the_mean_over_a_raised_cosine():
    w, p = 20.0, 120.0
    modes, sharp = (modes_of(position_mm=p, width_mm=x) for x in (w, 0.0))
    x = np.linspace(-w / 2, w / 2, 20001)
    weight = (1 + np.cos(2 * np.pi * x / w)) / w
    n = modes.number[:60, None]
    kernel = np.trapezoid(weight * np.cos(n * np.pi * x / modes.length_mm), x, axis=1)
    np.testing.assert_allclose(
        modes.shape_m[:60, 0], sharp.shape_m[:60, 0] * kernel, rtol=1e-6, atol=1e-12
    )


@pytest.mark.parametrize(
    ("pluck", "message"),
    [
        ({"position_mm": 700.0}, "between the bridge"),
        ({"position_mm": 330.0, "fret": 12}, r"fret \(324.0 mm\)"),
        ({"string": 7}, "string=7"),
        ({"release_ms": 0.0}, "release_ms=0.0"),
    ],
)
def test_impossible_plucks_are_refused(pluck, message):
    with pytest.raises(InputError, match=message):
        modes_of(**pluck)
