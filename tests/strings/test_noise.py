"""Hum and hiss have the stated levels: dBFS by AES17 (a full-scale sine is 0 dBFS)."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare import strings as st
from tonecompare.strings.noise import render_noise

RNG = np.random.default_rng


def band_dbfs(x, rate_hz, low_hz, high_hz):
    """RMS of a band by Parseval, re a full-scale sine."""
    spectrum = np.abs(np.fft.rfft(x)) ** 2 * 2 / x.size**2
    hz = np.fft.rfftfreq(x.size, 1 / rate_hz)
    return 10 * np.log10(2 * spectrum[(hz >= low_hz) & (hz <= high_hz)].sum())


@pytest.mark.parametrize(("mains_hz", "seconds"), [(50.0, 1), (60.0, 1), (49.97, 100)])
def test_mains_lines(mains_hz, seconds):
    # Whole numbers of periods, so each line is one bin.
    noise = st.NoiseSpec(mains_hz=mains_hz, line_dbfs=(-60.0, float("-inf"), -66.0))
    x = render_noise(noise, n=48000 * seconds, rate_hz=48000.0, rng=RNG(1))
    peak = 2 * np.abs(np.fft.rfft(x)) / x.size
    first = round(mains_hz * seconds)
    # Peak of a 0 dBFS sine is 1 (AES17).
    assert 20 * np.log10(peak[first]) == pytest.approx(-60.0, abs=1e-5)
    assert 20 * np.log10(peak[3 * first]) == pytest.approx(-66.0, abs=1e-5)
    assert peak[2 * first] < 1e-9
    assert 20 * np.log10(np.sqrt(2 * np.mean(x**2))) == pytest.approx(
        10 * np.log10(10**-6 + 10**-6.6), abs=1e-5
    )


@pytest.mark.parametrize(("mains_hz", "n_hum"), [(50.0, 20), (50.1, 20), (49.9, 20), (60.0, 16)])
def test_power_sums_in_the_truth(mains_hz, n_hum):
    # Lines up to 1 kHz are hum (nominally 20 at 50 Hz), the rest is buzz; N equal lines: + 10 lg N.
    noise = st.NoiseSpec(mains_hz=mains_hz, line_dbfs=(-80.0,) * 24)
    rendered = st.render_partials([], rng=RNG(0), length_s=0.1, noise=noise)
    channel = rendered.truth.channels[0]
    assert channel.hum_dbfs == pytest.approx(-80 + 10 * np.log10(n_hum))
    assert channel.buzz_dbfs == pytest.approx(-80 + 10 * np.log10(24 - n_hum))


@pytest.mark.parametrize("rate_hz", [44100.0, 48000.0, 96000.0])
@pytest.mark.parametrize("tilt", [0.0, -3.0, 4.0])
def test_hiss_level_in_its_band(rate_hz, tilt):
    noise = st.NoiseSpec(hiss_dbfs=-72.0, hiss_tilt_db_per_octave=tilt)
    x = render_noise(noise, n=int(40 * rate_hz), rate_hz=rate_hz, rng=RNG(2))
    # 40 s, 20 kHz: SD of a band level 4.34/√(800 000 degrees) = 0.005 dB, more where it is tilted.
    assert band_dbfs(x, rate_hz, 20, 20e3) == pytest.approx(-72.0, abs=0.03)


def test_hiss_tilt():
    noise = st.NoiseSpec(hiss_dbfs=-72.0, hiss_tilt_db_per_octave=-3.0)
    x = render_noise(noise, n=48000 * 40, rate_hz=48000.0, rng=RNG(3))
    # Density −3.01 dB an octave is 1/f: every octave the same power.
    octaves = [band_dbfs(x, 48000.0, f, 2 * f) for f in (500.0, 1000.0, 2000.0, 4000.0)]
    assert np.ptp(octaves) < 0.1


def test_hiss_truth_counts_rounding():
    # Rounding error is LSB²/12 (uniform), white: 16 bit −98.09 dBFS over all frequencies.
    # It holds while the hiss moves the samples over at least about half a step.
    for hiss_dbfs in (-85.0, -91.0):
        noise = st.NoiseSpec(hiss_dbfs=hiss_dbfs)
        rendered = st.render_partials(
            [], rng=RNG(4), length_s=40.0, rate_hz=44100.0, noise=noise, subtype="PCM_16"
        )
        stated = rendered.truth.channels[0].hiss_dbfs
        assert band_dbfs(rendered.samples[0], 44100.0, 20, 20e3) == pytest.approx(stated, abs=0.05)
        assert stated > hiss_dbfs + 0.1


def test_bursts_and_whistles():
    noise = st.NoiseSpec(bursts=(st.Burst(1.0, 0.5, -50.0),), whistles=((7812.5, -70.0),))
    x = render_noise(noise, n=96000, rate_hz=48000.0, rng=RNG(5))
    assert 20 * np.log10(np.sqrt(2 * np.mean(x[:48000] ** 2))) == pytest.approx(-70.0, abs=0.01)
    assert band_dbfs(x[48000:72000], 48000.0, 0, 24e3) == pytest.approx(-50.0, abs=0.1)


@pytest.mark.parametrize(
    ("mismatch", "re_one_coil_db"), [(0.001, -60.0), (0.01, -40.0), (0.05, -26.0), (0.2, -14.0)]
)
def test_coil_mismatch_residual(mismatch, re_one_coil_db):
    # 20 lg |a − b| re the mean of the coils (algebra); the circuits of both are the same here.
    both = st.humbucker(45.0, mismatch=mismatch)
    one = st.Magnetic((st.Coil(45.0),), both.circuit)
    residual = st.coil_line_dbfs(both, (-60.0,), mains_hz=50.0)[0]
    single = st.coil_line_dbfs(one, (-60.0,), mains_hz=50.0)[0]
    assert residual - single == pytest.approx(re_one_coil_db, abs=0.03)


def test_circuit_acts_on_hum():
    # At 50 Hz only the divider is left: RL/(R + RL).
    pickup = st.single_coil(45.0, circuit=st.Circuit(2.4, 5800.0, 110e-12, 10e3, 360e-12))
    level = st.coil_line_dbfs(pickup, (-60.0,), mains_hz=50.0)[0]
    assert level == pytest.approx(-60.0 + 20 * np.log10(10 / 15.8), abs=0.02)


def test_one_over_f_noise_has_its_level_and_as_much_in_every_octave():
    noise = st.NoiseSpec(pink_dbfs=-70.0)
    x = render_noise(noise, n=48000 * 60, rate_hz=48000.0, rng=RNG(4))
    assert band_dbfs(x, 48000.0, 20.0, 20e3) == pytest.approx(-70.0, abs=0.3)
    # A density of 1/f has ln 2 of its power per octave out of ln 1000.
    for low in (125.0, 1000.0, 8000.0):
        expected = -70.0 + 10 * np.log10(np.log(2) / np.log(1000))
        assert band_dbfs(x, 48000.0, low, 2 * low) == pytest.approx(expected, abs=0.4)


def test_one_over_f_noise_is_part_of_the_stated_hiss():
    channel = st.Channel("magnetic", st.single_coil(150.0))
    rendered = st.render_recording(
        st.standard_instrument(), st.VoiceSpec("v", (channel,)), [], rng=RNG(1), length_s=0.1,
        noise=st.NoiseSpec(hiss_dbfs=-80.0, pink_dbfs=-80.0), subtype="FLOAT",
    )  # fmt: skip
    assert rendered.truth.channels[0].hiss_dbfs == pytest.approx(-80.0 + 3.0103, abs=1e-3)


def test_wandering_lines_drift_by_the_stated_db_about_their_level():
    noise = st.NoiseSpec(line_dbfs=(-60.0,), line_wander_db=1.0)
    levels = []
    for seed in range(60):
        x = render_noise(noise, n=8000, rate_hz=4000.0, rng=RNG(seed))
        levels += [band_dbfs(x[i : i + 400], 4000.0, 40.0, 60.0) for i in (0, 7600)]
    assert np.mean(levels) == pytest.approx(-60.0, abs=0.3)
    assert np.std(levels) == pytest.approx(1.0, abs=0.25)


def test_a_wandering_mains_takes_its_lines_along_in_proportion():
    noise = st.NoiseSpec(line_dbfs=(-60.0, -60.0, -60.0), mains_wander_hz=0.05)
    offsets = []
    for seed in range(40):
        x = render_noise(noise, n=8000, rate_hz=2000.0, rng=RNG(seed))
        t = np.arange(x.size) / 2000.0
        # Mean frequency over half a second: phase between two tenths, each of whole periods.
        turn = []
        for line in (1, 3):
            base = x * np.exp(-2j * np.pi * 50.0 * line * t)
            first, second = base[:400].sum(), base[1000:1400].sum()
            turn.append(np.angle(second / first) / (2 * np.pi * 0.5))
        offsets.append(turn)
    one, three = np.transpose(offsets)
    assert three == pytest.approx(3 * one, abs=8e-3)
    assert np.std(one) == pytest.approx(0.05, abs=0.015)
