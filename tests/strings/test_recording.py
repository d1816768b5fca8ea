"""Rendered recordings against their own stated truth, by plain signal processing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import soundfile

from tonecompare import strings as st
from tonecompare.errors import InputError

RATE = 48000.0
GUITAR = st.standard_instrument()
BRIDGE = st.humbucker(45.0)
PIEZO = st.Channel("piezo", None, st.Piezo(), ratio=1.0)


def render(channels, plucks, *, instrument=GUITAR, rate_hz=RATE, seed=1, **options):
    options = {"subtype": "FLOAT", **options}
    return st.render_recording(
        instrument,
        st.VoiceSpec("voice", tuple(channels)),
        plucks,
        rng=np.random.default_rng(seed),
        rate_hz=rate_hz,
        **options,
    )


def line_fit(x, hz, rate_hz, sigma=None):
    """Least-squares complex amplitudes of damped lines, Re Σ A exp((−σ + jω) t), t from x[0]."""
    t = np.arange(x.size) / rate_hz
    rates = 2j * np.pi * np.asarray(hz) - (0 if sigma is None else np.asarray(sigma))
    waves = np.exp(np.multiply.outer(t, rates))
    parts = np.linalg.lstsq(np.hstack((waves.real, -waves.imag)), x, rcond=None)[0]
    return parts[: len(hz)] + 1j * parts[len(hz) :]


@pytest.mark.parametrize("channel", [st.Channel("magnetic", BRIDGE), PIEZO])
def test_partials_in_the_samples_are_those_of_the_truth(channel):
    pluck = st.PluckSpec(0.50007, 5, angle_deg=0.0)
    rendered = render([channel], [pluck], length_s=2.0)
    truth = rendered.truth.plucks[0].outputs[0]
    first = 28000  # 83 ms after the release: the circuit's transients are gone
    count = 40
    sigma = truth.sigma_per_s[:count, 0]
    # Partials above the fitted ones stay in the residual; they are 40 dB down here.
    fitted = line_fit(
        rendered.samples[0, first : first + 24000], truth.partial_hz[:count, 0], RATE, sigma
    )
    rates = -sigma + 2j * np.pi * truth.partial_hz[:count, 0]
    expected = truth.amplitude[:count, 0] * np.exp(rates * (first / RATE - pluck.time_s))
    strong = np.abs(expected[:30]) > 1e-3 * np.abs(expected).max()
    assert strong.sum() > 15
    error_db = 20 * np.log10(np.abs(fitted[:30][strong] / expected[:30][strong]))
    assert np.max(np.abs(error_db)) < 0.05
    assert np.max(np.abs(np.angle(fitted[:30][strong] / expected[:30][strong]))) < 0.01


def test_two_polarisations_beat_as_stated():
    rendered = render([st.Channel("magnetic", BRIDGE)], [st.PluckSpec(0.5, 6)], length_s=6.5)
    truth = rendered.truth.plucks[0].outputs[0]
    x = rendered.samples[0]
    for window in ((0.05, 0.55), (2.0, 3.0), (4.0, 5.5)):
        first, last = (round((truth.onset_s + t) * RATE) for t in window)
        mean_square = np.mean(x[first:last] ** 2)
        # Whole periods do not fit the window and partials interfere a little: 3 %.
        assert truth.partial_mean_square(window).sum() == pytest.approx(mean_square, rel=0.03)
    # The beat alone: both polarisations of h6 in phase at first, in opposition 1/(2 Δf) later.
    first_s = 1 / (2 * (truth.partial_hz[5, 1] - truth.partial_hz[5, 0]))
    sum_db, rest_db = (truth.partial_dbfs((t - 0.01, t + 0.01))[5] for t in (0.02, float(first_s)))
    fitted = [
        line_fit(x[i : i + 12000], truth.partial_hz[:24].mean(axis=1), RATE)[5]
        for i in (round((truth.onset_s + t) * RATE) - 6000 for t in (0.14, first_s))
    ]
    assert 20 * np.log10(np.abs(fitted[1])) == pytest.approx(rest_db, abs=0.5)
    assert sum_db - rest_db > 3.0
    assert abs(truth.partial_hz[0, 1] / truth.partial_hz[0, 0] - 1) == pytest.approx(6e-4)


def test_level_is_that_of_the_clean_samples():
    rendered = render([st.Channel("magnetic", BRIDGE)], [st.PluckSpec(0.5, 4)], length_s=2.0)
    truth = rendered.truth.plucks[0].outputs[0]
    first, last = (round((truth.onset_s + t) * RATE) for t in (0.05, 0.55))
    rms = np.sqrt(np.mean(rendered.samples[0, first:last] ** 2))
    assert truth.level_dbfs == pytest.approx(20 * np.log10(rms * np.sqrt(2)), abs=1e-9)  # AES17


def test_truth_does_not_depend_on_the_rate():
    pluck = st.PluckSpec(0.5, 3)
    low, high = (
        render([st.Channel("magnetic", BRIDGE)], [pluck], rate_hz=r, length_s=2.0)
        for r in (44100.0, 96000.0)
    )
    a, b = (r.truth.plucks[0].outputs[0] for r in (low, high))
    np.testing.assert_allclose(a.amplitude[:60], b.amplitude[:60], rtol=1e-9)
    assert a.level_dbfs == pytest.approx(b.level_dbfs, abs=0.01)
    assert a.onset_s == b.onset_s
    assert a.motion_s == pytest.approx(b.motion_s, abs=2e-5)


def test_nothing_moves_before_the_release():
    rendered = render([st.Channel("magnetic", BRIDGE), PIEZO], [st.PluckSpec(0.7, 6)])
    assert not np.any(rendered.samples[:, : int(0.7 * RATE) + 1])


@pytest.mark.parametrize("channel", [st.Channel("magnetic", st.single_coil(60.0)), PIEZO])
def test_flexible_string_is_silent_until_the_front_arrives(channel):
    # Without stiffness nothing outruns c = 2Lf. What is left before the front is the ripple of a
    # finite number of partials (0.2 % of the peak), where a wrong travel time would give tens of %.
    strings = tuple(replace(s, inharmonicity=0.0) for s in GUITAR.strings)
    flexible = replace(GUITAR, strings=strings)
    for string in range(1, 7):
        pluck = st.PluckSpec(0.5, string, position_mm=160.0)
        rendered = render([channel], [pluck], instrument=flexible, length_s=1.0, rate_hz=96000.0)
        truth = rendered.truth.plucks[0].outputs[0]
        distance_mm = 160.0 - 2.0 - (60.0 + 6.0 if channel.output == "magnetic" else 0.0)
        speed = 2 * 0.648 * GUITAR.string(string).open_hz
        assert truth.onset_s == pytest.approx(0.5 + distance_mm / 1000 / speed, abs=1e-12)
        x = np.abs(rendered.samples[0]) / np.max(np.abs(rendered.samples[0, : int(0.52 * 96000)]))
        assert np.max(x[: int(truth.onset_s * 96000)]) < 2e-3
        # The front rises within the release of 0.15 ms and the width of pick and coil.
        assert 0.0 < truth.motion_s - truth.onset_s < 1.5e-4


def test_how_far_stiffness_carries_motion_ahead_of_the_front():
    # Highest partials of a stiff string run ahead; the documented range of motion − onset.
    gaps = {}
    for name, channel in (("magnetic", st.Channel("magnetic", BRIDGE)), ("piezo", PIEZO)):
        plucks = [st.PluckSpec(0.5 + string, string) for string in range(1, 7)]
        outputs = [p.outputs[0] for p in render([channel], plucks).truth.plucks]
        gaps[name] = [1e3 * (o.motion_s - o.onset_s) for o in outputs]
    assert min(gaps["magnetic"]) > -0.2
    assert max(gaps["magnetic"]) < 0.15
    assert min(gaps["piezo"]) > -0.55
    assert max(gaps["piezo"]) < 0.15


def test_electronic_delay_is_exact_and_polarity_inverts():
    pluck = st.PluckSpec(0.5, 2)
    plain = render([PIEZO], [pluck], length_s=1.5).samples[0]
    # 10 samples at 48 kHz = 208.3 µs; 10.25 samples against four times the rate.
    late = render([replace(PIEZO, delay_us=1e6 * 10 / RATE)], [pluck], length_s=1.5).samples[0]
    np.testing.assert_allclose(late[10:], plain[:-10], atol=1e-8)
    quarter = replace(PIEZO, delay_us=1e6 * 10.25 / RATE, polarity=-1)
    late = render([quarter], [pluck], length_s=1.5)
    truth = late.truth.plucks[0].outputs[0]
    first = 30000
    early_truth = render([PIEZO], [pluck], length_s=1.5).truth.plucks[0].outputs[0]
    turn = np.exp(-(2j * np.pi * truth.partial_hz - truth.sigma_per_s) * 10.25 / RATE)
    np.testing.assert_allclose(truth.amplitude, -early_truth.amplitude * turn, rtol=1e-9)
    assert truth.onset_s - early_truth.onset_s == pytest.approx(10.25 / RATE, abs=1e-12)
    t = np.arange(first, 40000) / RATE - 0.5
    rates = (2j * np.pi * truth.partial_hz - truth.sigma_per_s).ravel()
    expected = (np.exp(np.multiply.outer(t, rates)) @ truth.amplitude.ravel()).real
    # The 16 Hz high-pass of the piezo leaves a slow transient, the only other thing there.
    rest = late.samples[0, first:40000] - expected
    assert np.max(np.abs(np.diff(rest))) < 1e-4 * np.max(np.abs(expected))


def test_fixed_delay_makes_a_comb_in_a_blend_of_two_piezo_paths():
    # |1 + e^(−jωτ)| has notches at (2k + 1)/2τ: 0.25 ms → 2 kHz and 6 kHz (closed form).
    pluck = st.PluckSpec(0.5, 6, angle_deg=0.0)
    plain, late = (
        render([replace(PIEZO, delay_us=d)], [pluck]).truth.plucks[0].outputs[0]
        for d in (0.0, 250.0)
    )
    hz = plain.partial_hz[:, 0]
    level = 20 * np.log10(np.abs(1 + late.amplitude[:, 0] / plain.amplitude[:, 0]))
    for notch_hz, peak_hz in ((2000.0, 4000.0), (6000.0, 8000.0)):
        assert level[np.argmin(np.abs(hz - notch_hz))] < -20
        assert level[np.argmin(np.abs(hz - peak_hz))] == pytest.approx(6.02, abs=0.05)


def test_blend_is_the_stated_mix():
    pluck = st.PluckSpec(0.5, 4)
    blend = st.Channel("blend", BRIDGE, st.Piezo(), ratio=0.3, delay_us=120.0, polarity=-1)
    piezo = replace(PIEZO, delay_us=120.0, polarity=-1)
    mixed, magnetic, alone = render(
        [blend, st.Channel("magnetic", BRIDGE), piezo], [pluck], length_s=1.5
    ).samples
    np.testing.assert_allclose(mixed, 0.3 * alone + 0.7 * magnetic, atol=1e-9)


def test_preamp_clips_before_the_mix():
    hot = st.Piezo(gain_db=30.0, clip=0.5)
    blend = st.Channel("blend", BRIDGE, hot, ratio=0.5)
    only = replace(PIEZO, piezo=hot)
    plucks = [st.PluckSpec(0.5, 6), st.PluckSpec(0.6, 5)]
    magnetic, piezo, mixed = render([st.Channel("magnetic", BRIDGE), only, blend], plucks).samples
    assert np.max(np.abs(piezo)) == 0.5
    assert np.mean(np.abs(piezo) == 0.5) > 0.01
    np.testing.assert_allclose(mixed, 0.5 * piezo + 0.5 * magnetic, atol=1e-9)


def test_a_new_pluck_stops_its_own_string_only():
    channel = st.Channel("magnetic", BRIDGE)
    again = render([channel], [st.PluckSpec(0.5, 6), st.PluckSpec(1.5, 6)], length_s=2.5)
    other = render([channel], [st.PluckSpec(0.5, 6), st.PluckSpec(1.5, 4)], length_s=2.5)
    assert [p.ended_by for p in again.truth.plucks] == ["next-pluck", "file-end"]
    assert [p.ended_by for p in other.truth.plucks] == ["file-end", "file-end"]
    assert again.truth.plucks[0].end_s == pytest.approx(1.48)
    contact = slice(round(1.487 * RATE), round(1.5 * RATE))
    assert not np.any(again.samples[0, contact])
    assert np.std(other.samples[0, contact]) > 1e-3


def test_hand_damping_kills_within_a_quarter_second():
    damped = render([st.Channel("magnetic", BRIDGE)], [st.PluckSpec(0.5, 6, damp_s=1.0)])
    assert damped.truth.plucks[0].ended_by == "damped"
    x = damped.samples[0]
    before, after = (np.std(x[round(t * RATE) : round((t + 0.1) * RATE)]) for t in (1.4, 1.7))
    # 90 nepers per second over 0.195 … 0.295 s.
    assert 20 * np.log10(after / before) < -150


def test_strength_is_level():
    soft, loud = (
        render([st.Channel("magnetic", BRIDGE)], [st.PluckSpec(0.5, 3, strength_db=level)])
        for level in (-20.0, 0.0)
    )
    np.testing.assert_allclose(10 * soft.samples, loud.samples, atol=1e-7)


@pytest.mark.parametrize(("subtype", "bits"), [("PCM_16", 16), ("PCM_24", 24)])
@pytest.mark.parametrize("suffix", ["wav", "flac"])
def test_written_files_hold_the_rendered_samples(tmp_path, subtype, bits, suffix):
    noise = st.NoiseSpec(hiss_dbfs=-80.0)
    channels = [st.Channel("magnetic", BRIDGE), PIEZO]
    rendered = render(channels, [st.PluckSpec(0.3, 1)], length_s=1.0, noise=noise, subtype=subtype)
    path = tmp_path / f"take.{suffix}"
    rendered.write(path)
    read, rate = soundfile.read(path, dtype="float64", always_2d=True)
    assert (rate, soundfile.info(path).subtype) == (48000, subtype)
    np.testing.assert_array_equal(read.T, rendered.samples)
    assert np.all(rendered.samples * 2 ** (bits - 1) % 1 == 0)


def test_too_loud_takes_clip_at_full_scale():
    loud = [st.PluckSpec(0.3, 6, strength_db=20.0)]
    rendered = render([st.Channel("magnetic", BRIDGE)], loud, length_s=1.0, subtype="PCM_16")
    assert np.max(rendered.samples) == 1 - 2**-15
    assert np.min(rendered.samples) == -1.0


def test_bad_calls_are_refused():
    channel = st.Channel("magnetic", BRIDGE)
    with pytest.raises(InputError, match="subtype='PCM_8'"):
        render([channel], [], subtype="PCM_8")
    with pytest.raises(InputError, match="2 noises for 1 channels"):
        render([channel], [], noise=[st.NoiseSpec(), st.NoiseSpec()])
    with pytest.raises(InputError, match="output='both'"):
        st.Channel("both", BRIDGE)
    with pytest.raises(InputError, match="needs a magnetic pickup"):
        st.Channel("blend", None, st.Piezo(), ratio=0.5)
    with pytest.raises(InputError, match=r"ratio=1\.5"):
        st.Channel("blend", BRIDGE, st.Piezo(), ratio=1.5)
    with pytest.raises(InputError, match="polarity=0"):
        st.Channel("piezo", None, st.Piezo(), ratio=1.0, polarity=0)
