"""Sums of exponentials against direct evaluation and numerical integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate

from tonecompare.strings.exponentials import (
    release_gain,
    release_head,
    released_exponentials,
    sum_exponentials,
)

RATES = np.array([-2.0 + 2j * np.pi * 440.0, -30.0 + 2j * np.pi * 5000.0, -2e4 + 1e4j, -7e3 + 0j])
AMPLITUDES = np.array([0.5 + 0.1j, 0.2j, -0.4, 0.3 - 0.2j])


def test_sum_is_the_sum():
    t = 0.0123 + np.arange(20000) / 44100
    expected = sum((a * np.exp(r * t)).real for r, a in zip(RATES, AMPLITUDES, strict=True))
    found = sum_exponentials(RATES, AMPLITUDES, first_s=0.0123, rate_hz=44100, n=20000)
    np.testing.assert_allclose(found, expected, atol=1e-8)  # drops what is below −180 dBFS


def test_one_sample():
    found = sum_exponentials(RATES[:1], AMPLITUDES[:1], first_s=0.0, rate_hz=48000, n=1)
    assert found == pytest.approx([0.5])


@pytest.mark.parametrize("rate", [0j, -3 + 600j, -50 + 2j * np.pi * 5000, -2e4 + 1e4j])
def test_release_gain_is_the_transform_of_the_weight(rate):
    r = 2e-4
    s = np.linspace(0, r, 20001)
    expected = integrate.simpson((1 - np.cos(2 * np.pi * s / r)) / r * np.exp(-rate * s), x=s)
    assert release_gain(np.array([rate]), r)[0] == pytest.approx(expected, rel=1e-8)


def test_release_head_is_the_convolution():
    r = 2e-4
    times = np.array([0.0, 3e-5, 1e-4, 1.7e-4, 2e-4])
    found = release_head(RATES, AMPLITUDES, times, r)
    for t, value in zip(times, found, strict=True):
        s = np.linspace(0, t, 20001)
        weight = (1 - np.cos(2 * np.pi * s / r)) / r
        total = (AMPLITUDES * np.exp(np.multiply.outer(t - s, RATES))).sum(axis=1).real
        assert value == pytest.approx(integrate.simpson(weight * total, x=s), abs=1e-8)


def test_release_starts_between_samples_and_joins_smoothly():
    # The same sound, started half a sample later, sampled twice as densely, must agree.
    late = released_exponentials(
        RATES, AMPLITUDES, release_s=2e-4, start_s=10.5 / 48000, rate_hz=48000, n=500
    )
    dense = released_exponentials(
        RATES, AMPLITUDES, release_s=2e-4, start_s=21 / 96000, rate_hz=96000, n=1000
    )
    np.testing.assert_allclose(late, dense[::2], atol=1e-8)
    assert np.all(late[:11] == 0.0)
