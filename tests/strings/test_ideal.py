"""Plain damped partials: every truth in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.errors import InputError

RNG = np.random.default_rng


def tone(**options):
    n = range(1, 11)
    options = {"hz": [200.0 * k for k in n], "amplitude": [0.1 / k for k in n], **options}
    return st.Tone(1.0, t60_s=options.pop("t60_s", [4.0] * 10), **options)


def test_samples_are_the_formula():
    rendered = st.render_partials([tone()], rng=RNG(0), rate_hz=44100.0, length_s=2.0)
    t = np.arange(88200) / 44100 - 1.0
    sigma = 3 * np.log(10) / 4.0
    k = np.arange(1, 11)[:, None]
    expected = np.sum(0.1 / k * np.sin(2 * np.pi * 200 * k * t), axis=0) * np.exp(-sigma * t)
    expected[t < 0] = 0.0
    np.testing.assert_allclose(rendered.samples[0], expected, atol=1e-7)


def test_truth_in_closed_form():
    truth = st.render_partials([tone()], rng=RNG(0)).truth.plucks[0].outputs[0]
    # Partials 1/n, N = 10, f0 = 200 Hz: centroid 682.83 Hz; equal T60 leaves it at all times.
    assert truth.centroid_hz() == pytest.approx(682.834, abs=1e-3)
    assert truth.decay_s() == pytest.approx(4.0, rel=1e-9)
    assert truth.decay_s(-0.1, -10.0) == pytest.approx(4.0, rel=1e-9)
    # Odd over even power of 1/n, N = 10: 3.23546.
    power = truth.partial_mean_square()
    assert power[::2].sum() / power[1::2].sum() == pytest.approx(3.23546, abs=1e-5)
    np.testing.assert_allclose(truth.t60_s, 4.0)
    # Mean square over 0.05 … 0.55 s of A e^(−σt) cos: A²/2 · (e^(−0.1σ) − e^(−1.1σ))/(2σ · 0.5).
    sigma = 3 * np.log(10) / 4.0
    expected = 0.005 * (np.exp(-0.1 * sigma) - np.exp(-1.1 * sigma)) / sigma
    assert power[0] == pytest.approx(expected, rel=1e-12)
    assert truth.level_dbfs == pytest.approx(10 * np.log10(2 * power.sum()), abs=1e-3)


def test_two_stage_decay_agrees_with_the_samples():
    # Second component 10 dB down with four times the T60: T20 = 7.549 s (Schroeder, closed form).
    two = st.Tone(1.0, [500.0, 700.0], [0.1, 0.1 * 10**-0.5], [2.0, 8.0])
    truth = st.render_partials([two], rng=RNG(0)).truth.plucks[0].outputs[0]
    # 7.549 s: fitted on another grid of the curved line, so 1 %.
    assert truth.decay_s() == pytest.approx(7.549, rel=0.01)


def test_energy_agrees_with_the_samples():
    rendered = st.render_partials([tone()], rng=RNG(0), length_s=9.0)
    truth = rendered.truth.plucks[0].outputs[0]
    squares = rendered.samples[0] ** 2 / 48000
    for t in (0.1, 1.0, 3.0):
        rest = squares[round((1.0 + t) * 48000) :].sum()
        assert truth.energy(np.array([t]))[0] == pytest.approx(rest, rel=1e-3)


def test_rise_keeps_the_ringing_part():
    rendered = st.render_partials([tone(rise_ms=1.0)], rng=RNG(0), length_s=2.0)
    truth = rendered.truth.plucks[0].outputs[0]
    t = np.arange(50000, 96000) / 48000 - 1.0
    rates = 2j * np.pi * truth.partial_hz[:, 0] - truth.sigma_per_s[:, 0]
    expected = (np.exp(np.multiply.outer(t, rates)) @ truth.amplitude[:, 0]).real
    np.testing.assert_allclose(rendered.samples[0, 50000:], expected, atol=1e-7)
    assert 0.0 < truth.motion_s - truth.onset_s < 1e-3


def test_end_cuts():
    rendered = st.render_partials([tone(end_s=1.5)], rng=RNG(0), length_s=2.0)
    assert np.any(rendered.samples[0, 71990:72000])
    assert not np.any(rendered.samples[0, 72000:])
    assert rendered.truth.plucks[0].ended_by == "damped"


def test_noise_comes_with_its_truth():
    noise = st.NoiseSpec(mains_hz=49.97, line_dbfs=(-60.0,), hiss_dbfs=-80.0)
    rendered = st.render_partials([tone()], rng=RNG(0), noise=noise)
    channel = rendered.truth.channels[0]
    assert (channel.mains_hz, channel.hum_dbfs) == (49.97, pytest.approx(-60.0))
    assert channel.hiss_dbfs == pytest.approx(-80.0)
    quiet = rendered.samples[0, :48000]
    assert 10 * np.log10(2 * np.mean(quiet**2)) == pytest.approx(-59.95, abs=0.05)


def test_bad_tones_are_refused():
    with pytest.raises(InputError, match="2 frequencies, 1 amplitudes"):
        st.render_partials([st.Tone(1.0, [100.0, 200.0], [0.1], [1.0])], rng=RNG(0))
    with pytest.raises(InputError, match=r"hz=30000.0: must lie below half of rate_hz=48000"):
        st.render_partials([st.Tone(1.0, [30000.0], [0.1], [1.0])], rng=RNG(0))
