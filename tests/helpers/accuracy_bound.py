"""How far f0 and decay of one isolated partial are from the Cramér–Rao bound.

The bound for one damped real sinusoid in white noise of variance s², N samples, from the Fisher
matrix of (log amplitude, phase, decay rate, frequency); the amplitude parts and the phase parts
decouple, so that it is the inverse of a 2 × 2 matrix of sums of exp(-2 sigma t), t and t² (check
values section 12: var sigma = var omega = 16 sigma³ s²/(A² f_s) for a long record, which a test
holds against this). f0 and decay are measured with ``measure_take``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tonecompare import strings as st
from tonecompare.measure.take import measure_take
from tonecompare.takes.model import Audio, Pluck, Quiet, Take

HZ, T60_S, RATE_HZ = 196.0, 4.0, 48000.0
QUIET_S, RING_S = 2.0, 4.0


@dataclass(frozen=True)
class BoundLine:
    """Root-mean-square error over the bound, and over the stated uncertainty."""

    snr_db: float
    f0_ratio: float
    decay_ratio: float
    f0_over_stated: float
    decay_over_stated: float


def rate_bound(*, amplitude: float, sigma: float, noise_sd: float, rate_hz: float, n: int) -> float:
    """Smallest standard deviation of sigma and of omega, per second."""
    t = np.arange(n) / rate_hz
    weight = amplitude**2 * np.exp(-2.0 * sigma * t) / (2.0 * noise_sd**2)
    fisher = np.array([[weight.sum(), (weight * t).sum()],
                       [(weight * t).sum(), (weight * t * t).sum()]])  # fmt: skip
    return float(np.sqrt(np.linalg.inv(fisher)[1, 1]))


def bound_line(snr_db: float, *, trials: int, seed: int) -> BoundLine:
    """Monte Carlo at one start signal-to-noise ratio A²/2 over the noise's variance."""
    sigma = float(3.0 * np.log(10.0) / T60_S)
    amplitude = 0.2
    noise_sd = float(np.sqrt(amplitude**2 / 2.0 / 10.0 ** (snr_db / 10.0)))
    limit = rate_bound(amplitude=amplitude, sigma=sigma, noise_sd=noise_sd, rate_hz=RATE_HZ,
                       n=round(RING_S * RATE_HZ))  # fmt: skip
    rng = np.random.default_rng([seed, round(snr_db)])
    f0, decay = [], []
    for _ in range(trials):
        tone = st.Tone(QUIET_S, [HZ], [amplitude], [T60_S], phase_rad=rng.uniform(0, 2 * np.pi))
        x = st.render_partials([tone], rng=rng, rate_hz=RATE_HZ, length_s=QUIET_S + RING_S)
        samples = x.samples + rng.normal(0.0, noise_sd, x.samples.shape)
        audio = Audio(Path("x.wav"), samples, RATE_HZ, "FLOAT", "")
        pluck = Pluck(1, (QUIET_S,), QUIET_S + RING_S, "file-end", f0_hz=HZ, note="G3", string=3)
        take = Take("s", "v", ("magnetic",), audio, (Quiet(0.0, QUIET_S),), (pluck,))
        row = measure_take(take, file="x.wav").plucks[0].cells()
        f0.append((_number(row["f0_hz"]) - HZ, _number(row["f0_hz_se"])))
        t60 = _number(row["decay_h01_s"])
        decay.append(((t60 - T60_S) / T60_S, _number(row["decay_h01_s_se"]) / T60_S))
    return BoundLine(
        snr_db,
        _rms([e for e, _ in f0]) / (limit / (2.0 * np.pi)),
        _rms([e for e, _ in decay]) / (limit / sigma),
        _rms([e / s for e, s in f0]),
        _rms([e / s for e, s in decay]),
    )


def _number(value: object) -> float:
    assert isinstance(value, float)
    return value


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def bound_table(*, trials: int, seed: int) -> str:
    """Plain table of the ratios at 60, 50 and 40 dB."""
    rows = [
        f"One partial ({HZ:.0f} Hz, T60 {T60_S:.0f} s, {RING_S:.0f} s ring), {trials} trials: RMS "
        "error over the Cramér–Rao bound, and over the stated uncertainty",
        f"{'start SNR':>10}{'f0':>8}{'decay':>8}{'f0/stated':>11}{'decay/stated':>14}",
    ]
    for snr_db in (60.0, 50.0, 40.0):
        line = bound_line(snr_db, trials=trials, seed=seed)
        rows.append(
            f"{snr_db:7.0f} dB{line.f0_ratio:8.2f}{line.decay_ratio:8.2f}"
            f"{line.f0_over_stated:11.2f}{line.decay_over_stated:14.2f}"
        )
    return "\n".join(rows)
