"""Cells of partials: the expected root in closed form and by quadrature, lobes, decay rates."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from tonecompare.measure.pluck.centroid_cells import (
    Cells,
    damping_along,
    lobe_roots,
    root_above_zero,
)

BIN_HZ = 5.0
FREQUENCY_HZ = 60.0 + BIN_HZ * np.arange(2389)


@pytest.mark.parametrize("mean", [-70.0, -30.0, -3.0, -0.4, 0.0, 1.3, 6.0, 35.0, 90.0])
def test_root_above_zero_by_quadrature(mean: float) -> None:
    # scipy.integrate.quad of the definition; the peak is shifted out of the exponent.
    top = max(mean, 0.0)

    def density(s: float) -> float:
        return float(np.exp(-0.5 * (s - mean) ** 2 + 0.5 * (top - mean) ** 2))

    ends = (max(0.0, top - 12.0), top + 12.0 if mean > -1.0 else 40.0 / (1.0 - mean))
    whole = quad(density, *ends, epsabs=0.0, epsrel=1e-10)[0]
    root = quad(lambda s: np.sqrt(s) * density(s), *ends, epsabs=0.0, epsrel=1e-10)[0] / whole
    square = quad(lambda s: s * density(s), *ends, epsabs=0.0, epsrel=1e-10)[0] / whole
    found = root_above_zero(np.array([mean]))
    assert found[0][0] == pytest.approx(root, rel=2e-3)
    assert found[1][0] == pytest.approx(square, rel=2e-3)


def test_root_at_zero_in_closed_form() -> None:
    # Half-normal: E sqrt|x| = 2^(1/4) Gamma(3/4) / sqrt(pi), E |x| = sqrt(2 / pi).
    root, square = root_above_zero(np.array([0.0]))
    assert root[0] == pytest.approx(0.8222, abs=1e-4)
    assert square[0] == pytest.approx(np.sqrt(2.0 / np.pi), rel=1e-6)


def _cells(power: np.ndarray, noise: np.ndarray, f0_hz: float = 150.0) -> Cells:
    centre_hz = f0_hz * np.arange(1, int(11900.0 / f0_hz) + 1)
    return Cells.of(FREQUENCY_HZ, power, noise, centre_hz)


@pytest.mark.parametrize("damping", [0.5, 8.0, 40.0])
def test_shape_is_the_spectrum_of_a_damped_sinusoid(damping: float) -> None:
    rate_hz, partial_hz = 48000.0, 1501.7
    size = int(rate_hz / BIN_HZ)
    t = np.arange(size) / rate_hz
    frame = np.exp((-damping + 2j * np.pi * partial_hz) * t) * np.hanning(size + 1)[:-1]
    magnitude = np.abs(np.fft.fft(frame))[: size // 2]
    magnitude = magnitude[12 : 12 + FREQUENCY_HZ.size]
    centre_hz = np.array([1351.0, partial_hz, 1652.0])
    cells = Cells.of(FREQUENCY_HZ, magnitude**2, np.zeros_like(magnitude), centre_hz)
    shape = cells.shape(np.full(3, damping), BIN_HZ)
    own = cells.owner == 1
    assert own.sum() == 30
    assert shape[own & cells.in_lobe] ** 2 @ np.ones(5) == pytest.approx(1.0)
    scaled = magnitude / np.sqrt(cells.lobe_power[1])
    np.testing.assert_allclose(shape[own], scaled[own], rtol=2e-3)


def test_strong_lobes_keep_their_power_and_empty_ones_weigh_little() -> None:
    rng = np.random.default_rng(3)
    frames = 5  # independent ones, as good as nine that overlap by half
    steep = np.zeros(FREQUENCY_HZ.size)
    centre = np.rint((150.0 * np.arange(1, 80) - 60.0) / BIN_HZ).astype(int)
    # Falls by 8 dB per 150 Hz from 60 dB above the noise: gone after partial 9.
    steep[centre] = 10.0 ** (6.0 - 0.8 * np.arange(79))
    noise = np.ones(FREQUENCY_HZ.size)
    seen = rng.gamma(frames, 1.0 / frames, FREQUENCY_HZ.size) - 1.0
    cells = _cells(steep + seen, noise)
    found = lobe_roots(cells, 1.0 / frames)
    true = np.sqrt(10.0 ** (6.0 - 0.8 * np.arange(79)))
    np.testing.assert_allclose(found.root[:4], true[:4], rtol=0.02)
    # Roots of what noise leaves, cut at zero, add up to many times what is there.
    rectified = np.sqrt(np.maximum(cells.lobe_power[20:], 0.0)).sum()
    assert rectified > 12.0
    assert found.root[20:].sum() < 0.02 * rectified
    assert np.all(found.variance >= 0.0)


def test_noise_does_not_lift_the_run() -> None:
    # 100 noises behind a row that falls by 2 dB a partial from 60 dB: the upper 29 lobes are empty.
    noise = np.ones(FREQUENCY_HZ.size)
    centre = np.rint((150.0 * np.arange(1, 80) - 60.0) / BIN_HZ).astype(int)
    sums = []
    for seed in range(100):
        seen = np.random.default_rng([6, seed]).gamma(5, 0.2, FREQUENCY_HZ.size) - 1.0
        seen[centre] += 10.0 ** (6.0 - 0.2 * np.arange(79))
        sums.append(lobe_roots(_cells(seen, noise), 0.2).root[50:].sum())
    # Their own magnitudes sum to 0.05; noise cut at zero and rooted gives about 12.
    assert max(sums) < 0.3


def test_a_hump_far_up_is_not_taken_for_noise() -> None:
    rng = np.random.default_rng(4)
    seen = rng.gamma(5, 0.2, FREQUENCY_HZ.size) - 1.0
    centre = np.rint((150.0 * np.arange(1, 80) - 60.0) / BIN_HZ).astype(int)
    seen[centre[:6]] += 1e5
    seen[centre[60:68]] += 20.0
    found = lobe_roots(_cells(seen, np.ones(FREQUENCY_HZ.size)), 0.2)
    assert found.root[60:68].mean() == pytest.approx(np.sqrt(20.0), rel=0.1)


def test_roots_are_the_same_at_any_scale() -> None:
    rng = np.random.default_rng(5)
    power = rng.gamma(5, 0.2, FREQUENCY_HZ.size) - 1.0
    power[18::30] += 1e4 * np.exp(-np.arange(power[18::30].size) / 5.0)
    one = lobe_roots(_cells(power, np.ones_like(power)), 0.2).root
    small = lobe_roots(_cells(1e-10 * power, np.full_like(power, 1e-10)), 0.2).root
    np.testing.assert_allclose(small, 1e-5 * one, rtol=1e-5)


def test_decay_rates_carry_on_above_the_partials_known() -> None:
    known_hz = np.arange(1, 20) * 110.0
    along_hz = np.array([200.0, 3000.0, 8000.0])

    def law(hz: np.ndarray) -> np.ndarray:
        return 0.6 + 0.9e-3 * hz + 0.35e-6 * hz**2

    np.testing.assert_allclose(damping_along(known_hz, law(known_hz), along_hz), law(along_hz))
    # Rates that seem to fall are held constant, never extrapolated below zero.
    falling = damping_along(known_hz, 3.0 - known_hz / 1000.0, along_hz)
    assert np.all(falling > 0.0)
    np.testing.assert_allclose(damping_along(known_hz[:3], law(known_hz[:3]), along_hz), 2.0)
