"""Hann frames and the burst-free runs they are cut from."""

from __future__ import annotations

import numpy as np
import pytest
from quiet_truth import white
from scipy.signal import get_window

from tonecompare.measure.quiet.quiet_frames import (
    MEAN_W2,
    MEAN_W4,
    Frames,
    burst_free_runs,
    find_bursts,
    hann_kernel,
    make_frames,
)

RATE_HZ = 48000.0


def test_kernel_is_the_transform_of_scipys_hann_window() -> None:
    n = 4096
    window = get_window("hann", n)
    for distance in (0.0, 0.3, 0.9999999, 1.0, 1.5, 2.0, 3.7):
        t = np.arange(n) - n / 2
        expected = (window * np.exp(-2j * np.pi * distance * t / n)).sum() / n
        assert hann_kernel(np.array([distance]))[0] == pytest.approx(expected.real, abs=2e-6)


def test_window_means_are_harris_s() -> None:
    window = get_window("hann", 65536)
    assert np.mean(window**2) == pytest.approx(MEAN_W2, abs=1e-9)
    assert np.mean(window**4) == pytest.approx(MEAN_W4, abs=1e-9)
    # Harris 1978: coherent gain 0.5 and noise bandwidth 1.5 bins.
    assert MEAN_W2 / np.mean(window) ** 2 == pytest.approx(1.5, abs=1e-9)


def test_density_of_white_noise_and_of_a_sine() -> None:
    rng = np.random.default_rng(1)
    n = 480000
    frames = make_frames(rng.standard_normal(n), rate_hz=RATE_HZ, runs=[(0, n)])
    # Mean square 1 over 24 kHz.
    assert frames.density().mean() * 24000.0 == pytest.approx(1.0, abs=0.01)
    assert frames.length_s == pytest.approx(2.0)
    sine = np.sin(2 * np.pi * 1000.0 * np.arange(96000) / RATE_HZ)
    one = make_frames(sine, rate_hz=RATE_HZ, runs=[(0, 96000)])
    assert one.density().sum() * one.bin_hz == pytest.approx(0.5, rel=1e-9)


def test_noise_has_no_bursts_and_clicks_are_bursts() -> None:
    for seed in range(20):
        x = white(-80.0, np.random.default_rng(seed), n=96000, rate_hz=RATE_HZ)
        assert not find_bursts(x, RATE_HZ).any()
    x[48000] += 0.05
    bursts = find_bursts(x, RATE_HZ)
    assert np.flatnonzero(bursts).tolist() == [199, 200, 201]


def test_runs_lie_between_the_bursts() -> None:
    bursts = np.zeros(400, dtype=bool)
    bursts[[0, 100, 101, 399]] = True
    assert burst_free_runs(bursts, n=96010, rate_hz=RATE_HZ) == [(240, 24000), (24480, 95760)]
    assert burst_free_runs(np.zeros(400, dtype=bool), n=96010, rate_hz=RATE_HZ) == [(0, 96010)]


def test_frames_keep_out_of_what_lies_between_runs() -> None:
    x = np.random.default_rng(2).standard_normal(48000)
    x[20000:21000] = 1e6
    frames = make_frames(x, rate_hz=RATE_HZ, runs=[(0, 20000), (21000, 48000)])
    assert frames.density().max() < 1.0


@pytest.mark.parametrize(
    ("starts", "worth"),
    # Welch 1967: at half overlap Hann powers correlate by (1/6)² = 1/36; apart not at all.
    [((0,), 1.0), ((0, 5000), 2.0), ((0, 500), 2.0 / (1.0 + 1.0 / 36.0)), ((0, 0), 1.0)],
)
def test_overlapping_frames_count_for_what_they_are_worth(
    starts: tuple[int, ...], worth: float
) -> None:
    frames = Frames(np.zeros((len(starts), 501), dtype=complex), 1000, 1000.0, starts)
    assert frames.independent == pytest.approx(worth, rel=1e-3)


def test_line_frequency_gains_from_overlap() -> None:
    # Correlation of w² u over half a frame, w = cos²(pi u): by quadrature here, -0.31.
    u = (np.arange(100000) + 0.5) / 100000 - 0.5
    g = np.cos(np.pi * u) ** 4 * u
    rho = float((g[50000:] * g[:50000]).sum() / (g * g).sum())
    frames = Frames(np.zeros((2, 501), dtype=complex), 1000, 1000.0, (0, 500))
    assert rho < 0.0
    assert frames.variance_of_mean("frequency") == pytest.approx((1.0 + rho) / 2.0, rel=1e-2)
