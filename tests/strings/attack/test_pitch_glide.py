"""The glide is the integral of the stated frequency law, its size the published one."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.signal import hilbert

from tonecompare import strings as st
from tonecompare.strings.attack.pitch_glide import first_sharpness, glided
from tonecompare.strings.modes import string_modes

RATE = 48000.0


@pytest.mark.parametrize("hz", [110.0, 1760.0, 9000.0])
def test_phase_is_the_integral_of_frequency(hz):
    start_s, sigma, sharp = 0.05, 1.4, 3e-3
    t = np.arange(round(2.0 * RATE)) / RATE - start_s
    x = np.where(t >= 0, np.exp(-sigma * t) * np.sin(2 * np.pi * hz * t), 0.0)
    out = glided(x, sharpness=sharp, sigma_per_s=sigma, start_s=start_s, rate_hz=RATE)
    phase = np.unwrap(np.angle(hilbert(out)))
    at = [round((start_s + after) * RATE) for after in (0.3, 0.7, 1.2)]
    for first, last in itertools.pairwise(at):
        # f (1 + δ e^(−2σt)), integrated numerically.
        turns, _ = quad(lambda u: hz * (1 + sharp * np.exp(-2 * sigma * u)), t[first], t[last])
        assert (phase[last] - phase[first]) / (2 * np.pi) == pytest.approx(turns, abs=2e-3)
    # Level is kept: warping moves samples by less than a millisecond.
    late = slice(at[0], at[2])
    power = np.mean(out[late] ** 2) / np.mean(x[late] ** 2)
    assert 10 * np.log10(power) == pytest.approx(0.0, abs=0.02)


def test_no_sharpness_changes_nothing_that_is_heard():
    rng = np.random.default_rng(3)
    x = np.convolve(rng.standard_normal(9600), np.hanning(24), mode="same")
    out = glided(x, sharpness=0.0, sigma_per_s=1.0, start_s=0.0, rate_hz=RATE)
    assert np.max(np.abs(out - x)[300:-300]) < 1e-3 * np.max(np.abs(x))


def test_size_is_that_of_tension_modulation():
    # 0.25 mm steel at 72 N: EA/T = 2.0e11 · 4.91e-8/72 = 136. Pulled aside by 2 mm at 0.2 of
    # 648 mm: longer by h²/(2Lβ(1−β)) = 0.01929 mm, tension up by EA·ΔL/L = 0.4049 %, half of it
    # while swinging, and √: 0.1012 % = 1.751 cents.
    string = st.StringSpec(1, 329.6, 4e-4, stretch=136.35)
    guitar = st.InstrumentSpec("g", (string,))
    pluck = st.PluckSpec(0.0, 1, position_mm=129.6, strength_db=20 * np.log10(2.0))
    _, modes = string_modes(guitar, pluck, rate_hz=RATE)
    cents = 1200 * np.log2(1 + first_sharpness(string, pluck, modes))
    assert cents == pytest.approx(1.751, rel=0.01)


def test_a_rendered_pluck_starts_sharp_in_proportion_to_the_square_of_strength():
    plain = st.standard_instrument()
    stretched = replace(plain, strings=tuple(replace(s, stretch=400.0) for s in plain.strings))

    def early_cents(guitar: st.InstrumentSpec, strength_db: float) -> float:
        pluck = st.PluckSpec(0.1, 6, strength_db=strength_db, angle_deg=0.0)
        x = st.render_recording(
            guitar, st.VoiceSpec("v", (st.Channel("magnetic", st.single_coil(150.0)),)), [pluck],
            rng=np.random.default_rng(0), rate_hz=RATE, length_s=1.0, subtype="FLOAT",
        )  # fmt: skip
        f0 = x.truth.plucks[0].f0_hz
        # Phase of partial 1 at two times 0.4 s apart, by windows that keep the others out.
        window = np.hanning(round(0.2 * RATE))
        t = np.arange(window.size) / RATE
        first, second = (
            np.sum(x.samples[0][at : at + t.size] * window * np.exp(-2j * np.pi * f0 * t))
            for at in (round(0.15 * RATE), round(0.55 * RATE))
        )
        turn = np.angle(second / first * np.exp(-2j * np.pi * f0 * 0.4)) / (2 * np.pi * 0.4)
        return float(1200 * np.log2(1 + turn / f0))

    still = [early_cents(plain, db) for db in (0.0, 6.0206)]
    moved = [early_cents(stretched, db) for db in (0.0, 6.0206)]
    assert still[0] == pytest.approx(still[1], abs=1e-6)
    glide = [m - s for m, s in zip(moved, still, strict=True)]
    assert glide[1] / glide[0] == pytest.approx(4.0, rel=0.03)
    # δ = 400·(1/648)²/(8·0.1509) at 120 mm; times e^(−2σt) over 0.15–0.55 s after the release.
    beta = 120 / 648
    sharp = 400 * (1 / 648) ** 2 / (8 * beta * (1 - beta))
    sigma = 0.45 + 1.40 * 0.0824 + 0.30 * 0.0824**2
    mean = np.mean(np.exp(-2 * sigma * np.linspace(0.15, 0.55, 101)))
    assert glide[0] == pytest.approx(1200 * np.log2(1 + sharp * mean), rel=0.02)
