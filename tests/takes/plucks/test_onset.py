"""Placing the onset: change points of known place, and starts of files."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.takes.plucks.onset import change_point, find_onset, prediction_error_filter

RATE_HZ = 44100.0


@pytest.mark.parametrize("ratio", [3.0, 30.0])
@pytest.mark.parametrize("at", [100, 500, 900])
def test_change_of_variance_is_found(at: int, ratio: float) -> None:
    x = np.random.default_rng(1).standard_normal(1000)
    x[at:] *= ratio
    assert change_point(x)[0] == pytest.approx(at, abs=10 if ratio < 10 else 3)


def test_predictor_follows_an_autoregressive_process() -> None:
    """x[n] = 1.6 x[n-1] - 0.81 x[n-2] + e[n]: the filter is 1, -1.6, 0.81 by construction."""
    rng = np.random.default_rng(2)
    e = rng.standard_normal(20000)
    x = np.zeros(len(e))
    for n in range(2, len(e)):
        x[n] = 1.6 * x[n - 1] - 0.81 * x[n - 2] + e[n]
    np.testing.assert_allclose(prediction_error_filter(x, order=2), [1.0, -1.6, 0.81], atol=0.02)


def pluck(n: int, *, hz: float = 146.8, peak: float = 0.3) -> np.ndarray:
    """An ideal corner passing a pickup: a pulse train, sharp at its first sample."""
    t = np.arange(n) / RATE_HZ
    phases = [np.cos(2 * np.pi * k * hz * t) / np.sqrt(k) for k in range(1, 60)]
    return peak * np.exp(-2 * t) * np.sum(phases, axis=0) / 15.0


@pytest.mark.parametrize("near_error_s", [-0.012, 0.0, 0.008])
@pytest.mark.parametrize("hum", [0.0, 0.01])
def test_onset_in_hum(near_error_s: float, hum: float) -> None:
    t = np.arange(round(1.0 * RATE_HZ)) / RATE_HZ
    x = hum * np.sin(2 * np.pi * 50.0 * t) + 1e-4 * np.random.default_rng(3).standard_normal(len(t))
    at = 22050
    x[at:] += pluck(len(x) - at)
    found = find_onset(x, rate_hz=RATE_HZ, near_s=0.5 + near_error_s).time_s
    assert found * RATE_HZ == pytest.approx(at, abs=2)


@pytest.mark.parametrize("at", [22050, 882])
def test_an_offset_moves_no_onset(at: int) -> None:
    # A soft start: the prediction error of the offset, were it there, would stand beside it.
    n = 22050
    swell = np.minimum(np.arange(n) / 200.0, 1.0) * pluck(n, peak=0.02)
    x = 1e-5 * np.random.default_rng(3).standard_normal(at + n)
    x[at:] += swell
    plain = find_onset(x, rate_hz=RATE_HZ, near_s=at / RATE_HZ).time_s
    assert find_onset(x + 0.05, rate_hz=RATE_HZ, near_s=at / RATE_HZ).time_s == pytest.approx(
        plain, abs=1.0 / RATE_HZ
    )


def test_a_click_just_before_is_passed_over() -> None:
    x = 1e-4 * np.random.default_rng(4).standard_normal(44100)
    x[20000] += 0.5
    x[22050:] += pluck(44100 - 22050)
    assert find_onset(x, rate_hz=RATE_HZ, near_s=0.46).time_s * RATE_HZ == pytest.approx(
        22050, abs=2
    )


@pytest.mark.parametrize("before_s", [0.004, 0.010, 0.022, 0.060])
def test_little_before_the_note(before_s: float) -> None:
    at = round(before_s * RATE_HZ)
    x = 1e-4 * np.random.default_rng(5).standard_normal(at + 22050)
    x[at:] += pluck(22050)
    assert find_onset(x, rate_hz=RATE_HZ, near_s=0.01).time_s * RATE_HZ == pytest.approx(at, abs=3)


def test_file_that_begins_with_the_attack() -> None:
    x = pluck(44100) + 1e-4 * np.random.default_rng(6).standard_normal(44100)
    assert find_onset(x, rate_hz=RATE_HZ, near_s=0.005).time_s == 0.0


def test_file_that_begins_inside_a_note() -> None:
    t = np.arange(44100) / RATE_HZ
    rng = np.random.default_rng(7)
    x = sum(np.sin(2 * np.pi * 110.0 * k * t + rng.uniform(0, 6)) / k for k in range(1, 20))
    assert find_onset(0.1 * x * np.exp(-2 * t), rate_hz=RATE_HZ, near_s=0.005).time_s == 0.0


def test_more_noise_or_a_slower_rise_makes_the_onset_less_sure() -> None:
    def sd_s(noise: float, rise_s: float) -> float:
        at, n = 22050, 44100
        x = noise * np.random.default_rng(8).standard_normal(n)
        t = np.arange(n - at) / RATE_HZ
        x[at:] += pluck(n - at) * (1.0 - np.exp(-((t / rise_s) ** 2)))
        found = find_onset(x, rate_hz=RATE_HZ, near_s=0.5)
        assert found.sd_s is not None
        return found.sd_s

    assert sd_s(1e-3, 1e-3) > 1.5 * sd_s(1e-3, 1e-4)
    assert sd_s(1e-2, 1e-3) > 1.2 * sd_s(1e-3, 1e-3)
    # Never surer than half a sample.
    assert sd_s(1e-5, 1e-5) >= 0.5 / RATE_HZ


def test_where_the_file_begins_with_the_sound_nothing_tells_how_sure() -> None:
    x = pluck(44100) + 1e-4 * np.random.default_rng(6).standard_normal(44100)
    assert find_onset(x, rate_hz=RATE_HZ, near_s=0.005).sd_s is None


def test_a_sharp_start_over_silence_is_placed_on_its_very_sample() -> None:
    # The first sample of the pulse train is the first that the past cannot foretell.
    for at in (22050, 22061, 22083):
        x = 1e-7 * np.random.default_rng(at).standard_normal(88200)
        x[at:] += pluck(len(x) - at)
        found = find_onset(x, rate_hz=RATE_HZ, near_s=at / RATE_HZ + 0.004).time_s
        assert round(found * RATE_HZ) == at


@pytest.mark.parametrize("start", [200, 300])
def test_a_sharp_start_soon_after_the_file_begins_is_placed_on_its_very_sample(start: int) -> None:
    samples = 1e-5 * np.random.default_rng(3).standard_normal(22050)
    time_s = np.arange(samples.size - start) / 44100.0
    samples[start:] += 0.3 * np.exp(-5.0 * time_s) * np.cos(2 * np.pi * 110.0 * time_s)
    found = find_onset(samples, rate_hz=44100.0, near_s=start / 44100.0)
    assert round(found.time_s * 44100.0) == start
