"""Two polarisations that beat are recognised, and their beat is not taken for decay.

Truth is the closed form of the signals rendered here: |a1 e^{s1 t} + a2 e^{s2 t}| has the beat
|f1 - f2|, and its backward-integrated energy a closed form (see ``_decay_s``).
"""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.decay.decay_time import measure_decay
from tonecompare.measure.flags import BEATING
from tonecompare.measure.model import Noise
from tonecompare.measure.partials.partial_set import PartialSet, measure_partials
from tonecompare.measure.signal import PluckSignal
from tonecompare.measure.take import beating

RATE_HZ = 48000.0
F0_HZ = 196.0
DECAY_S = (4.0, 2.5)


def _pluck(*, second: float, apart_hz: float, snr_db: float = 60.0) -> tuple[PluckSignal, Noise]:
    """Twelve partials 1/n, each with a second component ``second`` as strong, ``apart_hz`` off."""
    time_s = np.arange(int(4.0 * RATE_HZ)) / RATE_HZ
    samples = np.zeros_like(time_s)
    for order in range(1, 13):
        for share, offset, t60 in ((1.0, 0.0, DECAY_S[0]), (second, apart_hz, DECAY_S[1])):
            phase = 2.0 * np.pi * (order * F0_HZ + offset) * time_s + order
            decay = np.exp(-6.907755 / t60 * time_s)
            samples += 0.2 / order * share * decay * np.sin(phase)
    level = float(np.mean(samples[:24000] ** 2)) * 10.0 ** (-snr_db / 10.0)
    samples += np.sqrt(level) * np.random.default_rng(8).standard_normal(samples.size)
    grid = np.linspace(0.0, RATE_HZ / 2.0, 1001)
    density = np.full(grid.size, level / (RATE_HZ / 2.0))
    noise = Noise(RATE_HZ, grid, density, None, np.zeros(0), np.zeros(0), 2.0)
    return PluckSignal(samples, RATE_HZ, F0_HZ, noise), noise


def _measured(**options: float) -> tuple[PartialSet, PluckSignal]:
    signal, _ = _pluck(**options)
    return measure_partials(signal), signal


def _decay_s(second: float, apart_hz: float) -> float:
    """T60 from the -5…-25 dB slope of the two components' closed-form integrated energy."""
    rate = np.array([-6.907755 / DECAY_S[0], -6.907755 / DECAY_S[1] + 2j * np.pi * apart_hz])
    # The rendered partials start in phase at t = 0 up to the common phase.
    amplitude = np.array([1.0, second])
    time_s = np.linspace(0.0, 6.0, 60001)
    sums = rate[:, None] + rate.conj()[None, :]
    parts = amplitude[:, None] * amplitude[None, :] / -sums
    energy = np.einsum("pq,pqt->t", parts, np.exp(sums[:, :, None] * time_s)).real
    level = 10.0 * np.log10(energy / energy[0])
    use = (level <= -5.0) & (level >= -25.0)
    return float(-60.0 / np.polyfit(time_s[use], level[use], 1)[0])


@pytest.mark.parametrize("apart_hz", [0.5, 0.9, 2.0, 4.0])
def test_a_beat_is_recognised_with_its_frequency(apart_hz: float) -> None:
    partials, _ = _measured(second=0.4, apart_hz=apart_hz)
    assert np.isfinite(partials.beat_hz[:12]).all()
    assert partials.beat_hz[:12] == pytest.approx(apart_hz, abs=0.02)
    (flag,) = beating(partials)
    assert flag.code == BEATING
    assert flag.data[0][:3] == (1, 2, 3)
    assert flag.data[1] == pytest.approx(apart_hz, abs=0.02)


def test_one_polarisation_does_not_beat() -> None:
    partials, _ = _measured(second=0.0, apart_hz=0.0)
    assert not np.isfinite(partials.beat_hz).any()
    assert beating(partials) == ()


@pytest.mark.parametrize("apart_hz", [0.5, 0.9, 2.0])
def test_a_beat_is_not_taken_for_decay(apart_hz: float) -> None:
    partials, signal = _measured(second=0.4, apart_hz=apart_hz)
    decay, _ = measure_decay(signal, partials)
    truth = _decay_s(0.4, apart_hz)
    for order in range(1, 9):
        found = decay[f"decay_h{order:02d}_s"]
        assert found.value == pytest.approx(truth, rel=0.02), order
