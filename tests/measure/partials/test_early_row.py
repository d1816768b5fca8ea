"""The row of a pluck's first moment against sums of damped partials."""

from __future__ import annotations

import numpy as np
from pluck_truth import RATE_HZ, white_noise

from tonecompare.measure.partials.early_row import early_row
from tonecompare.measure.signal import PluckSignal

F0_HZ, STRETCH = 110.0, 1e-4
ORDER = np.arange(1, 70)
HZ = ORDER * F0_HZ * np.sqrt((1.0 + STRETCH * ORDER**2) / (1.0 + STRETCH))


def _samples(amplitude: np.ndarray, hz: np.ndarray = HZ, length_s: float = 0.5) -> np.ndarray:
    """Partials that all die within 0.1 s (T60 0.7 s), sines so that the onset is no step."""
    t = np.arange(int(length_s * RATE_HZ)) / RATE_HZ
    return np.asarray(amplitude @ np.sin(2.0 * np.pi * np.outer(hz, t)) * np.exp(-10.0 * t))


def _signal(samples: np.ndarray, density: float = 1e-16) -> PluckSignal:
    noise = np.random.default_rng(1).normal(0.0, np.sqrt(density * RATE_HZ / 2.0), samples.size)
    return PluckSignal(samples + noise, RATE_HZ, F0_HZ, white_noise(density))


def test_powers_of_partials_far_beyond_the_24th() -> None:
    amplitude = 0.1 / ORDER * 10.0 ** (np.random.default_rng(2).uniform(-10.0, 0.0, 69) / 20.0)
    row = early_row(_signal(_samples(amplitude)), F0_HZ, STRETCH)
    assert row is not None
    assert row.power.size >= 60
    n = row.power.size - 1
    np.testing.assert_allclose(row.frequency_hz, HZ[: n + 1], rtol=1e-9)
    error_db = 10.0 * np.log10(row.power / amplitude[: n + 1] ** 2)[:n]
    # All partials die alike, so that one factor joins power and amplitude.
    assert np.std(error_db) < 0.3


def test_a_row_ends_where_it_sinks_into_the_quiet_and_not_at_a_null() -> None:
    amplitude = 0.1 / ORDER
    amplitude[9::10] = 0.0
    whole = early_row(_signal(_samples(amplitude)), F0_HZ, STRETCH)
    density = 2.4e-9
    row = early_row(_signal(_samples(amplitude), density=density), F0_HZ, STRETCH)
    assert whole is not None
    assert row is not None
    # 10 dB above the quiet in a cell 110 Hz wide; beyond the nulls at 10 and 20.
    over = whole.power[: row.power.size + 6] / (density * F0_HZ)
    assert 20 < row.power.size < whole.power.size
    assert np.median(over[-15:-6]) > 10.0
    assert np.median(over[-5:]) < 10.0


def test_a_wrong_stretch_still_finds_the_powers() -> None:
    # Off by a quarter of a partial's distance at 5 kHz.
    amplitude = 0.1 / ORDER
    right, wrong = (early_row(_signal(_samples(amplitude)), F0_HZ, b) for b in (STRETCH, 0.9e-4))
    assert right is not None
    assert wrong is not None
    at = np.arange(20, 45)
    gap_db = 10.0 * np.log10(wrong.power[at] / right.power[at])
    assert np.max(np.abs(gap_db)) < 1.5


def test_what_rang_too_short_has_none() -> None:
    assert early_row(_signal(_samples(0.1 / ORDER, length_s=0.15)), F0_HZ, STRETCH) is None
    assert early_row(_signal(_samples(0.1 / ORDER)), float("nan"), STRETCH) is None
