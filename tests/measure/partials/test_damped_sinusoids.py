"""Fit of damped sinusoids: rates of one and two components, mains lines, the Cramér–Rao bound."""

from __future__ import annotations

import numpy as np
import pytest
from accuracy_bound import bound_line, rate_bound

from tonecompare.measure.partials.damped_sinusoids import BandsToFit, DampedFit, fit_damped
from tonecompare.measure.partials.exponential_rows import (
    TimeGrids,
    exponentials,
    padded_length,
    projections,
)
from tonecompare.measure.partials.first_guess import start_pair, start_single
from tonecompare.measure.partials.narrow_bands import means

RATE_HZ = 160.0


def _time_s(length_s: float = 4.0) -> np.ndarray:
    return 0.05 + np.arange(round(length_s * RATE_HZ)) / RATE_HZ


def _bands(
    z: np.ndarray,
    time_s: np.ndarray,
    start: np.ndarray,
    noise: float = 0.0,
    *,
    line_rate: list[complex] | None = None,
    line_power: float = 0.0,
) -> BandsToFit:
    of_all, rate = np.full(len(z), noise), np.array([line_rate or []] * len(z), dtype=complex)
    return BandsToFit(z, time_s, start, of_all, of_all, rate, np.full(rate.shape, line_power))


def _fit(z: np.ndarray, time_s: np.ndarray, start: np.ndarray, noise: float = 0.0) -> DampedFit:
    return fit_damped([_bands(z, time_s, start, noise)])[0]


def test_exponentials_are_exponentials() -> None:
    time_s = _time_s()
    rate = np.array([[-0.7 + 3.0j, -40.0 - 20.0j]])
    assert exponentials(rate, time_s) == pytest.approx(
        np.exp(rate[:, :, None] * time_s), rel=1e-9, abs=1e-20
    )


@pytest.mark.parametrize("n_times", [1, 2, 9, 16, 61])
def test_projections_are_sums_over_time(n_times: int) -> None:
    time_s = 0.3 + 0.02 * np.arange(n_times)
    rng = np.random.default_rng(5)
    z = rng.normal(size=(2, n_times)) + 1j * rng.normal(size=(2, n_times))
    rate = np.array([[-0.7 + 3.0j, -40.0 - 20.0j], [2.0j, -3.0 + 0.0j]])
    wanted = [
        [np.sum(np.exp(s * time_s).conj() * row) for s in of]
        for of, row in zip(rate, z, strict=True)
    ]
    assert projections(z, rate, time_s) == pytest.approx(np.array(wanted), rel=1e-12)


def test_means_of_neighbours() -> None:
    assert means(np.arange(7.0)[None, :], 3) == pytest.approx(np.array([[1.0, 4.0]]))


@pytest.mark.parametrize("rate", [-0.3 + 2.0j, -2.0 - 8.0j, -12.0 + 0.5j])
def test_one_component_exactly(rate: complex) -> None:
    time_s = _time_s()
    z = (0.3 * np.exp(0.4j) * np.exp(rate * time_s))[None, :]
    fit = _fit(z, time_s, start_single(z, RATE_HZ))
    assert fit.rate[0, 0] == pytest.approx(rate, rel=1e-6)
    assert fit.amplitude[0, 0] == pytest.approx(0.3 * np.exp(0.4j), rel=1e-6)
    assert fit.misfit[0] < 1e-12


@pytest.mark.parametrize("apart_hz", [0.05, 0.1, 0.4, 1.5, 5.0])
def test_two_that_beat_fast_or_slower_than_they_ring(apart_hz: float) -> None:
    time_s = _time_s()
    rates = np.array([-0.8 + 1.0j, -0.5 + 1.0j + 2j * np.pi * apart_hz])
    z = (np.array([0.2, 0.03]) @ np.exp(rates[:, None] * time_s))[None, :]
    fit = _fit(z, time_s, start_pair(z, RATE_HZ))
    assert fit.rate[0] == pytest.approx(rates, rel=2e-3)


def test_mains_line_is_told_from_the_partial() -> None:
    time_s = _time_s()
    z = 0.1 * np.exp((-1.5 + 0.3j) * time_s) + 0.02 * np.exp(0.9j)
    start = start_single(z[None, :], RATE_HZ)
    bands = _bands(z[None, :], time_s, start, line_rate=[0j], line_power=0.02**2)
    fit = fit_damped([bands])[0]
    assert fit.rate[0, 0] == pytest.approx(-1.5 + 0.3j, rel=1e-3)
    assert abs(fit.lines[0, 0]) == pytest.approx(0.02, rel=1e-3)


def test_bound_for_a_long_record_has_its_closed_form() -> None:
    # var sigma = var omega = 16 sigma³ s² / (A² f_s); T60 4 s, 48 kHz, 40 dB: sd 2.93e-4 per s.
    sigma = 6.907755 / 4.0
    limit = rate_bound(amplitude=0.2, sigma=sigma, noise_sd=0.2 / np.sqrt(2.0) / 100.0,
                       rate_hz=48000.0, n=8 * 48000)  # fmt: skip
    assert limit == pytest.approx(2.93e-4, rel=2e-3)


@pytest.mark.parametrize("snr_db", [60.0, 40.0])
def test_f0_and_decay_stay_within_twice_the_bound(snr_db: float) -> None:
    line = bound_line(snr_db, trials=20, seed=5)
    # The RMS of 20 errors scatters by 16 %; aim: within a factor 2.
    assert 0.6 < line.f0_ratio < 2.0
    assert 0.6 < line.decay_ratio < 2.0
    assert 0.6 < line.f0_over_stated < 1.6
    # What noise could hide of a second polarisation is in the decay's interval, twice as wide.
    assert 0.2 < line.decay_over_stated < 1.2


@pytest.mark.parametrize("values", [2, 3, 4, 5])
def test_a_first_guess_from_a_handful_of_values(values: int) -> None:
    rate = -3.0 + 2.0j * np.pi
    z = np.exp(rate * np.arange(values) / 40.0)[None, :]
    assert start_single(z, 40.0)[0, 0] == pytest.approx(rate, rel=1e-6)


def test_a_fit_says_whether_it_came_to_rest_and_what_it_took() -> None:
    time_s = _time_s()
    rates = np.array([-0.8 + 1.0j, -0.5 + 1.0j + 2j * np.pi * 0.4])
    near = (np.array([0.2, 0.03]) @ np.exp(rates[:, None] * time_s))[None, :]
    hiss = np.random.default_rng(3).normal(0.0, 1e-5, (2, time_s.size))
    z = np.concatenate([near, near]) + hiss
    # The one starts at the truth, the other 3 Hz beside it.
    start = np.stack([rates, rates + 6j * np.pi])
    short = fit_damped([_bands(z, time_s, start)], iterations=3)[0]
    assert short.converged.tolist() == [True, False]
    assert short.iterations.tolist() == [2, 3]
    whole = _fit(z, time_s, start_pair(z, RATE_HZ))
    assert whole.converged.all()
    assert np.all(whole.iterations < 14)
    assert np.all(whole.cost < short.cost[1])


def test_a_fit_does_not_depend_on_what_is_fitted_beside_it() -> None:
    rng = np.random.default_rng(8)
    plucks = []
    # Grids of one padded length and of others, one with a mains line, one wide of the truth.
    for n_times, line_rate in ((201, []), (197, [0.4j]), (90, []), (199, []), (204, [1j, -2j])):
        time_s = (0.05 + 0.001 * n_times) + np.arange(n_times) / (40.0 + 0.01 * n_times)
        rates = np.array([-0.8 + 1.0j, -0.5 + 4.0j])
        z = np.array([0.2, 0.03]) @ np.exp(rates[:, None] * time_s) + rng.normal(
            0.0, 1e-4, (3, n_times)
        )
        start = np.tile(rates * (1.0 + 0.001 * n_times), (3, 1))
        plucks.append(
            _bands(z, time_s, start, 1e-8, line_rate=line_rate, line_power=1e-6)
        )  # fmt: skip
    for alone, beside in zip(plucks, fit_damped(plucks), strict=True):
        own = fit_damped([alone])[0]
        for name in ("rate", "amplitude", "rate_sd", "lines", "excess", "cost"):
            assert getattr(beside, name) == pytest.approx(getattr(own, name), rel=1e-7), name
        assert np.array_equal(own.iterations, beside.iterations)


@pytest.mark.parametrize("n_times", [1, 5, 97, 201, 640])
def test_grids_of_several_plucks_hold_their_own_times_and_nothing_beyond(n_times: int) -> None:
    grids_s = [0.05 + 0.02 * np.arange(n) for n in (n_times, n_times - n_times // 20)]
    if len({padded_length(grid.size) for grid in grids_s}) > 1:
        grids_s = [grids_s[0], grids_s[0]]
    grids = TimeGrids.of(grids_s, [1, 2])
    rate = np.array([[-0.7 + 3.0j], [-2.0 - 1.0j], [0.5j]])
    out = np.full((3, 1, padded_length(n_times)), np.nan, dtype=complex)
    grids.fill(out, np.full((3, 1), 2.0 + 0j), rate)
    for row, s, time_s in zip(out[:, 0], rate[:, 0], [grids_s[i] for i in (0, 1, 1)], strict=True):
        assert row[: time_s.size] == pytest.approx(2.0 * np.exp(s * time_s), rel=1e-9)
        assert np.all(row[time_s.size :] == 0.0)
    assert n_times <= padded_length(n_times) <= max(n_times + n_times // 8 + 8, 16)
