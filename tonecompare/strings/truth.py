"""What a rendered recording truly holds, in closed form from the modes.

Per partial the two polarisations give Re Σ_p A_p exp(λ_p t); over windows much longer than a
period its mean square is ½ mean |Σ_p A_p exp(λ_p t)|², which integrates in closed form:

    ∫ |Σ A_p e^(λ_p t)|² dt = Σ_pq A_p A_q* [e^((λ_p + λ_q*) t)] / (λ_p + λ_q*)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.units import T60_TIMES_SIGMA, mean_square_to_dbfs, power_to_db

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True)
class OutputTruth:
    """One pluck on one channel, without noise. Arrays have shape (partials,) or (partials, 2).

    Parameters
    ----------
    output
        "magnetic", "piezo" or "blend".
    onset_s
        First arrival of the string's motion at this sensor, closed form: release + travel from
        the edge of the pick to the edge of the coil + electronic delay.
    motion_s
        Where the noiseless signal first exceeds 1 % (−40 dB) of its peak in the first 20 ms,
        interpolated: what a detector can see. See :mod:`tonecompare.strings.recording`.
    level_dbfs
        RMS over 0.05–0.55 s after ``onset_s`` of the noiseless samples of this pluck alone.
    peak_dbfs
        Sample peak of the same, re 1.0.
    partial_hz
        Frequencies per polarisation, (partials, 2).
    amplitude
        Complex amplitudes at ``time_s`` (release), (partials, 2).
    sigma_per_s
        Decay rates, (partials, 2).
    """

    output: str
    onset_s: float
    motion_s: float
    level_dbfs: float
    peak_dbfs: float
    time_s: float
    partial_hz: FloatArray
    amplitude: ComplexArray
    sigma_per_s: FloatArray

    @property
    def f0_hz(self) -> float:
        """h1: mean of the two polarisations, weighted with their power at this sensor."""
        weight = np.abs(self.amplitude[0]) ** 2
        return float(np.sum(weight * self.partial_hz[0]) / np.sum(weight))

    @property
    def t60_s(self) -> FloatArray:
        """T60 = 3 ln 10/σ per partial and polarisation, (partials, 2)."""
        return np.asarray(T60_TIMES_SIGMA / self.sigma_per_s)

    def partial_mean_square(self, window_s: tuple[float, float] = (0.05, 0.55)) -> FloatArray:
        """Mean square of each partial over a window counted from ``onset_s``, (partials,)."""
        t0, t1 = (self.onset_s - self.time_s + edge for edge in window_s)
        rates = self._rates()
        total = np.zeros(rates.shape[0])
        for p in range(2):
            for q in range(2):
                both = rates[:, p] + np.conj(rates[:, q])
                term = self.amplitude[:, p] * np.conj(self.amplitude[:, q])
                total += (term * (np.exp(both * t1) - np.exp(both * t0)) / both).real
        return np.asarray(total / (2 * (t1 - t0)))

    def partial_dbfs(self, window_s: tuple[float, float] = (0.05, 0.55)) -> FloatArray:
        """RMS of each partial over a window from ``onset_s`` in dBFS, (partials,)."""
        return np.asarray(mean_square_to_dbfs(self.partial_mean_square(window_s)))

    def balance_db(self, n_partials: int = 24) -> FloatArray:
        """Partial levels over 0.05–0.55 s in dB re the power sum of the first 24."""
        power = self.partial_mean_square()[:n_partials]
        return np.asarray(power_to_db(power / np.sum(power)))

    def energy(self, times_s: FloatArray) -> FloatArray:
        """Backward-integrated energy ∫_t^∞ at times after ``onset_s``, shape of ``times_s``."""
        t = np.asarray(times_s) + (self.onset_s - self.time_s)
        power = np.max(np.abs(self.amplitude) ** 2, axis=1)
        strong = power > 1e-9 * np.max(power)
        rates, amplitude = self._rates()[strong], self.amplitude[strong]
        total = np.zeros(t.shape)
        for p in range(2):
            for q in range(2):
                both = rates[:, p] + np.conj(rates[:, q])
                term = amplitude[:, p] * np.conj(amplitude[:, q])
                total += (np.exp(np.multiply.outer(t, both)) @ (-term / both)).real / 2
        return total

    def decay_s(self, from_db: float = -5.0, to_db: float = -25.0) -> float:
        """T60 from the least-squares slope of the backward-integrated energy in this range."""
        slowest = T60_TIMES_SIGMA / float(np.min(self.sigma_per_s))
        t = np.linspace(0.0, slowest * abs(to_db) / 60.0 * 1.5, 2001)
        level = np.asarray(power_to_db(self.energy(t)))
        level -= level[0]
        use = (level <= from_db) & (level >= to_db)
        slope = np.polyfit(t[use], level[use], 1)[0]
        return float(-60.0 / slope)

    def centroid_hz(self, window_s: tuple[float, float] = (0.05, 1.05)) -> float:
        """Magnitude-weighted mean frequency of the partials' RMS, 60 Hz–12 kHz.

        A line-spectrum value; a measured one also weighs the skirts of the analysis window.
        """
        hz = self.partial_hz.mean(axis=1)
        use = (hz >= 60.0) & (hz <= 12e3)
        magnitude = np.sqrt(self.partial_mean_square(window_s))[use]
        return float(np.sum(hz[use] * magnitude) / np.sum(magnitude))

    def _rates(self) -> ComplexArray:
        return np.asarray(-self.sigma_per_s + 2j * np.pi * self.partial_hz, dtype=np.complex128)


@dataclass(frozen=True)
class PluckTruth:
    """One pluck: what was played, and what each channel got of it."""

    number: int
    time_s: float
    string: int
    fret: int
    note: str
    position_mm: float
    #: Pick distance over sounding length.
    pluck_point: float
    length_mm: float
    #: B of the sounding length.
    inharmonicity: float
    #: Where it stops ringing freely, and why: "next-pluck", "damped" or "file-end".
    end_s: float
    ended_by: str
    outputs: tuple[OutputTruth, ...]

    @property
    def f0_hz(self) -> float:
        """h1 on the first channel."""
        return self.outputs[0].f0_hz

    @property
    def onset_s(self) -> float:
        """Earliest arrival over the channels."""
        return min(output.onset_s for output in self.outputs)


@dataclass(frozen=True)
class ChannelTruth:
    """What one channel carries besides plucks, and how it is wired."""

    output: str
    mains_hz: float
    #: RMS of mains lines k = 1, 2, … in dBFS; -inf = none.
    line_dbfs: tuple[float, ...]
    #: Power sum of the lines up to 1 kHz, and of those above.
    hum_dbfs: float
    buzz_dbfs: float
    #: 20 Hz–20 kHz, quantisation included.
    hiss_dbfs: float
    delay_us: float
    polarity: int
    ratio: float


@dataclass(frozen=True)
class RecordingTruth:
    """Everything known of a rendered recording."""

    voice: str
    rate_hz: float
    quiet_s: float
    channels: tuple[ChannelTruth, ...]
    plucks: tuple[PluckTruth, ...]
