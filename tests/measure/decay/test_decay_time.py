"""Decay times against closed forms: exponentials, two stages, truncation, noise, cut notes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pluck_truth import RATE_HZ, partials, series, signal, white_noise

from tonecompare.measure.decay.decay_time import broadband_curve, measure_decay, under_hand
from tonecompare.measure.decay.energy_curve import MAIN_RANGE_DB, TailModel, decay_curve, slope_time
from tonecompare.measure.decay.partial_decays import partial_decays
from tonecompare.measure.flags import SHORT_DECAY, words
from tonecompare.measure.measured import Measured
from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.signal import PluckSignal

STEP_S = 0.005


def _measured(pluck: PluckSignal) -> dict[str, Measured]:
    return measure_decay(pluck, measure_partials(pluck))[0]


def _value(quantities: dict[str, Measured], name: str) -> float:
    value = quantities[name].value
    assert value is not None, quantities[name].reason
    return value


def _two_stage(second_db: float, *, length_s: float = 20.0) -> np.ndarray:
    """Energy of two components that decay with T60 of 2 s and 8 s, in steps of 5 ms."""
    t = (np.arange(round(length_s / STEP_S)) + 0.5) * STEP_S
    return np.asarray(10.0 ** (-6.0 * t / 2.0) + 10.0 ** (second_db / 10.0 - 6.0 * t / 8.0))


@pytest.mark.parametrize("t60_s", [1.0, 2.0, 4.0])
def test_exponential_without_noise(t60_s: float) -> None:
    # A decaying sine of 196 Hz gives T20 = T60 exactly (Schroeder 1965; check by pyroomacoustics).
    pluck = signal(partials([196.0], [0.3], t60_s), 196.0)
    assert _value(_measured(pluck), "decay_s") == pytest.approx(t60_s, rel=2e-3)


@pytest.mark.parametrize(
    ("second_db", "early_s", "main_s"), [(-10.0, 3.995, 7.549), (-20.0, 2.159, 4.000)]
)
def test_two_stages_show_as_two_times(second_db: float, early_s: float, main_s: float) -> None:
    # Schroeder curve of two exponentials, T60 2 s and 8 s: closed form, fitted 0…-10 and -5…-25 dB.
    curve = decay_curve(_two_stage(second_db), step_s=STEP_S, noise=0.0, noise_sd=0.0)
    assert curve is not None
    early, main = slope_time(curve, (0.0, -10.0)), slope_time(curve, MAIN_RANGE_DB)
    assert early is not None
    assert main is not None
    assert early[0] == pytest.approx(early_s, rel=5e-3)
    assert main[0] == pytest.approx(main_s, rel=5e-3)


@pytest.mark.parametrize("cut_db", [28.0, 30.0, 35.0, 45.0])
def test_truncation_does_not_bias(cut_db: float) -> None:
    # Without a tail T20 reads 4.5 % low when cut 30 dB below the start, 1.6 % at 35 dB
    # (L = 10 lg((e^-kt - e^-kT)/(1 - e^-kT))); with the slope carried on it must not.
    t = (np.arange(round(2.0 * cut_db / 60.0 / STEP_S)) + 0.5) * STEP_S
    curve = decay_curve(10.0 ** (-6.0 * t / 2.0), step_s=STEP_S, noise=0.0, noise_sd=0.0)
    assert curve is not None
    found = slope_time(curve, MAIN_RANGE_DB)
    assert found is not None
    assert found[0] == pytest.approx(2.0, rel=2e-3)


@pytest.mark.parametrize("snr_db", [40.0, 45.0, 50.0])
def test_noise_does_not_bias(snr_db: float) -> None:
    # Without subtraction a 2·T60 record at 45 dB reads 4.1 % high (closed form).
    pluck = signal(partials([196.0], [0.3], 2.0), 196.0, snr_db=snr_db)
    found = _measured(pluck)["decay_s"]
    assert found.value == pytest.approx(2.0, rel=0.01)
    assert found.uncertainty is not None
    assert abs(found.value - 2.0) < 3.0 * found.uncertainty


def test_low_note_tail_is_not_one_step_of_it() -> None:
    # 5 ms hold 0.4 periods of 82 Hz: the level of the cut must not hang on where it falls.
    for length_s in np.linspace(4.600, 4.612, 6):
        x = series(82.407, t60_s=9.5, length_s=float(length_s))
        found = slope_time(curve, MAIN_RANGE_DB) if (
            curve := broadband_curve(signal(x, 82.407))) else None  # fmt: skip
        assert found is not None
        assert found[0] == pytest.approx(9.5, rel=5e-3)


def test_partials_foretell_a_beat_that_a_line_cannot() -> None:
    # Two polarisations 0.12 Hz apart stand in a trough (4.2 s) at the cut; energy comes back.
    hz, a, t60 = [164.8, 164.92], [0.2, 0.08], [6.0, 10.0]
    x = sum(
        a_ * np.exp(-6.907755 / t_ * np.arange(216000) / RATE_HZ)
        * np.cos(2.0 * np.pi * f * np.arange(216000) / RATE_HZ)
        for f, a_, t_ in zip(hz, a, t60, strict=True)
    )  # fmt: skip
    pluck = signal(np.asarray(x), 164.8, snr_db=60.0)
    curve = broadband_curve(pluck, measure_partials(pluck))
    assert curve is not None
    end_s = 4.5
    # Closed form: int |a1 e^(s1 t) + a2 e^(s2 t)|² from t on, over the same from 0 on.
    rate = np.array([-6.907755 / t_ + 2j * np.pi * f for f, t_ in zip(hz, t60, strict=True)])
    model = TailModel(np.array([a], dtype=complex), rate[None, :])
    sums = rate[:, None] + rate.conj()[None, :]
    left = [
        float(np.sum(np.outer(a, a) * np.exp(sums * t) / -sums).real) / 2.0 for t in (0.0, end_s)
    ]
    assert model.left(end_s) == pytest.approx(left[1], rel=1e-9)
    truth_db = 10.0 * np.log10(left[1] / left[0])
    at_end = float(curve.level_db[-1] + 10.0 * np.log10(curve.tail_share[-1]))
    assert at_end == pytest.approx(truth_db, abs=0.5)


def test_damped_note_uses_only_what_rang() -> None:
    full = series(110.0, t60_s=3.0, length_s=2.0)
    assert _value(_measured(signal(full, 110.0)), "decay_s") == pytest.approx(3.0, rel=0.01)
    short = _measured(signal(full[: round(0.7 * RATE_HZ)], 110.0, snr_db=50.0))["decay_s"]
    assert short.value is None or short.value == pytest.approx(3.0, rel=0.1)


def test_a_note_that_hardly_fell_is_unmeasured_with_the_reason() -> None:
    found = _measured(signal(series(110.0, t60_s=20.0, length_s=1.0), 110.0, snr_db=50.0))
    assert found["decay_s"].value is None
    assert "25 dB are needed" in found["decay_s"].reason
    assert found["decay_late_s"].value is None


def test_nothing_above_the_quiet_is_unmeasured() -> None:
    x = np.zeros(round(2.0 * RATE_HZ))
    found = _measured(signal(x + 1e-12, None))
    assert found["decay_h01_s"].value is None
    assert found["decay_h01_s"].reason == "no pitch was found"


def test_partial_decays_of_single_partials() -> None:
    t60 = np.array([6.0, 5.0, 4.0, 3.5, 3.0, 2.5, 2.2, 2.0, 1.8, 1.6])
    x = partials(110.0 * np.arange(1, 11), 0.1 / np.arange(1, 11), t60)
    found = _measured(signal(x, 110.0, snr_db=60.0))
    for n, true in enumerate(t60, start=1):
        assert _value(found, f"decay_h{n:02d}_s") == pytest.approx(true, rel=0.01)


def test_beating_partial_is_two_components_not_a_slow_decay() -> None:
    # One partial of two polarisations, 0.7 Hz apart. Truth: the closed form above, -5…-25 dB.
    t = np.arange(round(5.0 * RATE_HZ)) / RATE_HZ
    s = np.array([-6.907755 / 3.0 + 2j * np.pi * 110.0, -6.907755 / 5.0 + 2j * np.pi * 110.7])
    a = np.array([0.2, 0.1])
    x = (a @ np.exp(np.outer(s, t))).real + series(220.0, n=8, gain=0.05, length_s=5.0)
    pluck = signal(x, 110.0, snr_db=60.0)
    found = measure_partials(pluck)
    assert found.n_components[0] == 2.0
    assert np.sort(-found.components_rate[0].real) == pytest.approx(np.sort(-s.real), rel=0.01)
    sums = s[:, None] + s.conj()[None, :]
    grid = np.linspace(0.0, 5.0, 3000)
    left = np.array([np.sum(np.outer(a, a) * np.exp(sums * u) / -sums).real for u in grid])
    level = 10.0 * np.log10(left / left[0])
    use = (level <= -5.0) & (level >= -25.0)
    truth = -60.0 / np.polyfit(grid[use], level[use], 1)[0]
    assert _value(_measured(pluck), "decay_h01_s") == pytest.approx(truth, rel=0.02)


def test_intervals_cover_in_noise() -> None:
    inside = []
    for seed in range(24):
        x = series(110.0, n=8, t60_s=3.0, length_s=3.0, seed=seed)
        found = _measured(signal(x, 110.0, snr_db=35.0, seed=seed))
        for name in ("decay_s", "decay_h02_s", "decay_h04_s"):
            value, sd = found[name].value, found[name].uncertainty
            assert value is not None
            assert sd is not None
            inside.append(abs(value - 3.0) < 1.96 * sd)
    assert np.mean(inside) > 0.9


def test_a_note_shorter_than_one_block_of_the_tail_still_has_a_curve() -> None:
    energy = np.exp(-np.arange(9) * STEP_S / 0.02)
    curve = decay_curve(energy, step_s=STEP_S, noise=0.0, noise_sd=0.0)
    assert curve is not None


def test_a_fall_of_15_db_serves_with_a_wide_interval_and_a_flag() -> None:
    # T60 2.5 s cut after 0.75 s: an 18 dB fall of single partials that a line carries on.
    x = series(110.0, n=3, t60_s=2.5, length_s=0.75)
    pluck = signal(x, None, snr_db=60.0)
    found = _measured(pluck)["decay_s"]
    assert found.flags == words(SHORT_DECAY)
    assert found.value is not None
    assert found.uncertainty is not None
    assert found.value == pytest.approx(2.5, rel=0.1)
    assert found.uncertainty > 0.15 * found.value


def test_weak_slow_polarisation_is_heard_near_the_noise() -> None:
    # The second one, 15 dB down and dying half as fast, 0.4 Hz off, leaves hardly more than the
    # noise in its band (45 dB takes); a single fit would read 25 % short.
    t = np.arange(round(4.0 * RATE_HZ)) / RATE_HZ
    hz, a, sigma = (1188.0, 1188.4), (1.8e-3, 3.2e-4), (2.9, 1.5)
    x = sum(
        a_ * np.exp(-s * t) * np.cos(2.0 * np.pi * f * t + 2.5 * i)
        for i, (f, a_, s) in enumerate(zip(hz, a, sigma, strict=True))
    )
    row = series(198.0, n=5, t60_s=6.0) + np.asarray(x)
    rng = np.random.default_rng(5)
    noisy = row + 2e-3 * rng.standard_normal(row.size)
    noise = white_noise(2.0 * 2e-3**2 / RATE_HZ)
    found = measure_partials(PluckSignal(noisy, RATE_HZ, 198.0, noise))
    assert found.n_components[5] == 2
    decay = partial_decays(found, 6)[5]
    # T60 from -5 to -25 dB of the closed-form energy: integrated here on a fine grid.
    fine = np.arange(0.0, 20.0, 1e-3)
    z = sum(
        a_ * np.exp((-s + 2j * np.pi * f) * fine + 2.5j * i)
        for i, (f, a_, s) in enumerate(zip((0.0, 0.4), a, sigma, strict=True))
    )
    left = np.cumsum((np.abs(np.asarray(z)) ** 2)[::-1])[::-1]
    level = 10.0 * np.log10(left / left[0])
    inside = (level <= -5.0) & (level >= -25.0)
    truth = -60.0 / np.polyfit(fine[inside], level[inside], 1)[0]
    assert decay.value == pytest.approx(truth, rel=0.1)
    single = 3.0 * np.log(10.0) / 2.9
    assert abs(single / truth - 1.0) > 0.1


def test_other_partials_say_what_a_hidden_second_polarisation_does() -> None:
    # Six partials of two polarisations each (second 16 dB down, decay 0.6 of the first's, 1 cent
    # off); partials 4 and 6 are some 40 dB weaker, so that their second one is under the noise.
    t = np.arange(round(4.0 * RATE_HZ)) / RATE_HZ
    fine = np.arange(0.0, 20.0, 1e-3)
    x, truth = np.zeros(t.size), []
    for n, gain in zip(range(1, 7), (1.0, 0.7, 0.5, 0.007, 0.4, 0.007), strict=True):
        sigma = np.array([0.9, 0.54]) * (1.0 + 0.15 * n)
        hz = 220.0 * n * np.array([1.0, 2.0 ** (1.0 / 1200.0)])
        a = 0.1 * gain * np.array([1.0, 0.16])
        x += np.exp(-sigma[0] * t) * a[0] * np.cos(2.0 * np.pi * hz[0] * t + n)
        x += np.exp(-sigma[1] * t) * a[1] * np.cos(2.0 * np.pi * hz[1] * t + n + 0.5)
        # T60 from -5 to -25 dB of the energy, by a fine sum of the closed form.
        apart = np.exp(2j * np.pi * (hz[1] - hz[0]) * fine + 0.5j)
        z = a[0] * np.exp(-sigma[0] * fine) + a[1] * np.exp(-sigma[1] * fine) * apart
        level = 10.0 * np.log10(np.cumsum((np.abs(z) ** 2)[::-1])[::-1])
        inside = (level <= level[0] - 5.0) & (level >= level[0] - 25.0)
        truth.append(-60.0 / np.polyfit(fine[inside], level[inside], 1)[0])
    off, alone_off = [], []
    for seed in range(8):
        noisy = x + 2e-3 * np.random.default_rng(seed).standard_normal(x.size)
        noise = white_noise(2.0 * 4e-6 / RATE_HZ)
        found = measure_partials(PluckSignal(noisy, RATE_HZ, 220.0, noise))
        decays = partial_decays(found, 6)
        assert found.n_components[[0, 1, 2, 4]].tolist() == [2, 2, 2, 2]
        for i in np.flatnonzero(found.n_components[:6] == 1):
            value, sd = decays[i].value, decays[i].uncertainty
            assert value is not None
            assert sd is not None
            off.append((value - truth[i]) / sd)
            alone_off.append((3.0 * np.log(10.0) / found.single_sigma[i] - truth[i]) / sd)
    # n = 8 or more: the root mean square of unit normals lies between 0.5 and 1.6 in 99 %.
    assert len(off) >= 8
    assert 0.4 < np.sqrt(np.mean(np.square(off))) < 1.6
    assert np.mean(off) ** 2 < np.mean(alone_off) ** 2


@pytest.mark.parametrize("hand_per_s", [5.0, 10.0, 40.0])
def test_a_note_under_a_soft_hand_has_no_decay_time(hand_per_s: float) -> None:
    # Two components 0.4 Hz apart beat; from 1.5 s on a hand adds 8.7 dB/s for each per second.
    t = (np.arange(round(9.0 / STEP_S)) + 0.5) * STEP_S
    energy = 10.0 ** (-6.0 * t / 8.0) * (1.0 + 0.5 * np.cos(2.0 * np.pi * 0.4 * t))
    damped = energy * np.exp(-2.0 * hand_per_s * np.maximum(t - 1.5, 0.0))
    free, hand = (
        decay_curve(each, step_s=STEP_S, noise=0.0, noise_sd=0.0) for each in (energy, damped)
    )
    assert free is not None
    assert hand is not None
    assert not under_hand(free, MAIN_RANGE_DB[1])
    assert under_hand(hand, MAIN_RANGE_DB[1])


def test_a_hand_is_said_where_the_decay_time_would_stand() -> None:
    pluck = signal(partials([196.0, 392.0], [0.3, 0.2], 8.0), 196.0)
    t = np.arange(pluck.samples.size) / RATE_HZ
    soft = replace(pluck, samples=pluck.samples * np.exp(-8.0 * np.maximum(t - 1.0, 0.0)))
    found = _measured(soft)
    for name in ("decay_s", "decay_late_s"):
        assert found[name].value is None
    assert "as under a hand" in found["decay_s"].reason
