"""PhaseDrift of the phase between two outputs: two polarisations in closed form, and the noise."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.outputs.delay.partial_ratios import partial_ratios
from tonecompare.measure.outputs.delay.phase_drift import phase_drift
from tonecompare.measure.outputs.delay.pluck_frames import FRAME_PERIODS, OutputFrames, frames_of
from tonecompare.measure.outputs.results import BlendPair

RATE_HZ = 48000.0
LEAD = 960


def _two_polarisations(
    *,
    split: float,
    mixes: tuple[float, float] = (0.1, 0.25),
    f0_hz: float = 110.0,
    noise: float = 0.0,
    seed: int = 1,
) -> BlendPair:
    """Partials e^(λ₁t) + mix e^(λ₂t) on each output; their ratio at t = 0 is real and positive."""
    rng = np.random.default_rng(seed)
    t = np.arange(24000) / RATE_HZ
    channels = []
    for mix in mixes:
        samples = np.zeros(t.size)
        for n in range(1, 31):
            omega = 2 * np.pi * n * f0_hz
            decay = np.exp(-(1.0 + 0.2 * n) * t)
            samples += decay * (np.cos(omega * t) + mix * np.cos(omega * (1 + split) * t)) / n
        channels.append(np.concatenate([np.zeros(LEAD), samples]))
    magnetic, piezo = (x + noise * rng.standard_normal(x.size) for x in channels)
    return BlendPair("A2", 5, f0_hz, magnetic, piezo, LEAD, RATE_HZ)


@pytest.mark.parametrize("split", [-6e-4, -2e-4, 0.0, 3e-4, 8e-4])
def test_the_phase_at_the_pluck_is_free_of_the_drift(split: float) -> None:
    ratios = partial_ratios([_two_polarisations(split=split)])
    assert ratios is not None
    assert ratios.number.size == 30
    # Closed form: (1 + 0.1) / (1 + 0.25), without phase. Uncorrected, the mean over the first
    # frames turns by ε s ω t: -0.109 * 6e-4 * 2 pi 3300 * 0.05 s = 0.07 rad at the top partial.
    late = np.angle(ratios.ratio) / (2 * np.pi * ratios.frequency_hz)
    assert 1e6 * np.max(np.abs(late)) < 0.6
    assert np.all(np.abs(np.angle(ratios.ratio)) < 3 * ratios.turn_rad + 2e-3)
    assert np.median(np.abs(ratios.ratio)) == pytest.approx(1.1 / 1.25, rel=0.05)


def test_drift_of_frames_in_closed_form() -> None:
    time_s = np.arange(1, 9) * 0.02
    hz = 110.0 * np.arange(1, 41)
    angle = 2 * np.pi * np.outer(time_s, hz)
    turn = 0.1 * np.sin(4e-4 * angle)
    piezo = np.ones(angle.shape, dtype=complex)
    # Each partial with a phase of its own at t = 0, which is no drift.
    own = np.random.default_rng(2).uniform(-np.pi, np.pi, hz.size)
    noise = np.full(hz.size, 1e-8)
    frames = OutputFrames(
        np.arange(1.0, 41.0), hz, time_s, np.exp(1j * (turn + own)), piezo, noise, noise
    )
    found = phase_drift(frames)
    followed = angle < 2 * np.pi * 150
    assert found.turn_rad[followed] == pytest.approx(turn[followed], abs=2e-3)
    assert np.all(found.weight[2:][angle[2:] > 2 * np.pi * 151] == 0.0)
    still = OutputFrames(
        np.arange(1.0, 41.0), hz, time_s, np.exp(1j * own) * piezo, piezo, noise, noise
    )  # fmt: skip
    assert np.max(np.abs(phase_drift(still).turn_rad)) < 1e-6


def test_partials_that_drift_each_their_own_way_are_less_sure() -> None:
    rng = np.random.default_rng(3)
    time_s, hz = np.arange(1, 9) * 0.02, 110.0 * np.arange(1, 41)
    angle = 2 * np.pi * np.outer(time_s, hz)
    noise = np.full(hz.size, 1e-8)
    piezo = np.ones(angle.shape, dtype=complex)

    def error(slopes: np.ndarray) -> float:
        magnetic = np.exp(1j * angle * slopes)
        frames = OutputFrames(np.arange(1.0, 41.0), hz, time_s, magnetic, piezo, noise, noise)
        return float(np.median(phase_drift(frames).error_rad))

    assert error(2e-5 * rng.standard_normal(hz.size)) > 3 * error(np.zeros(hz.size)) + 1e-4


def test_noise_is_read_between_the_partials_and_not_from_their_lobes() -> None:
    # White noise of variance s² under a window of unit sum: s² sum(w²) / sum(w)² in each bin, and
    # for Blackman-Harris that is 2.0044 s² over the frame's length (Harris 1978).
    level = 1e-4
    frames = frames_of(_two_polarisations(split=0.0, noise=level))
    assert frames is not None
    length = round(RATE_HZ * FRAME_PERIODS / 110.0)
    expected = 2.0044 * level**2 / length
    assert np.median(frames.noise_magnetic) == pytest.approx(expected, rel=0.35)
    assert np.median(frames.noise_piezo) == pytest.approx(expected, rel=0.35)


def test_errors_of_the_ratios_are_those_stated() -> None:
    # Over many draws of the noise the scatter of the phase is what sigma says (to 30 %).
    draws = [partial_ratios([_two_polarisations(split=0.0, noise=1e-3, seed=s)]) for s in range(20)]
    stated = np.array([d.sigma / np.abs(d.ratio) for d in draws if d is not None])[:, :20]
    phases = np.array([np.angle(d.ratio) for d in draws if d is not None])[:, :20]
    ratio = np.std(phases, axis=0) / stated.mean(axis=0)
    assert 0.7 < float(np.sqrt(np.mean(ratio**2))) < 1.3
