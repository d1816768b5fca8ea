"""How long a note rings: decay times from backward-integrated energy.

``L(t) = 10 lg( int_t^inf e dt / int_0^inf e dt )`` (Schroeder 1965), e the energy with the quiet's
mean power subtracted (Chu 1978), cut where the note sinks into the quiet, the missing tail added
from the slope there (Lundeby et al. 1995). decay_s is 60 dB over the slope between -5 and -25 dB
(range of T20, ISO 3382-1), decay_early_s from 0 to -10 dB, decay_late_s from -25 to -45 dB. Two
stages of decay thus show as two different times instead of one that fits neither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.measure.columns import N_DECAY_PARTIALS
from tonecompare.measure.model import FloatArray, Measured, unmeasured
from tonecompare.measure.partials import PartialSet
from tonecompare.measure.signal import ComplexArray, PluckSignal
from tonecompare.units import T60_TIMES_SIGMA

MAIN_RANGE_DB = (-5.0, -25.0)
EARLY_RANGE_DB = (0.0, -10.0)
LATE_RANGE_DB = (-25.0, -45.0)
#: A shorter fall that is still used for a note cut early.
SHORT_RANGE_DB = (-5.0, -15.0)
#: Step of the energy that is integrated.
STEP_S = 0.005
#: The slope that is carried on beyond the cut is that of this last fall.
TAIL_RANGE_DB = 10.0
#: … unless the partials explain the energy of this last stretch within this ratio.
TAIL_CHECK_S = 0.6
LEAST_AGREEMENT = 0.8
#: The added tail may be at most this share of the energy left at the lower end of a range.
LARGEST_TAIL_SHARE = 0.6
#: Relative uncertainty beyond which a decay time is no measurement.
LARGEST_RELATIVE_SD = 0.25

_METHOD = "backward integration, quiet subtracted"


@dataclass(frozen=True)
class DecayCurve:
    """Backward-integrated energy of one signal.

    ``level_db`` (T,) re its start at ``time_s`` (T,); ``level_sd_db`` what the quiet's randomness
    makes of it; ``tail_share`` (T,) the share of the added tail in the energy left.
    """

    time_s: FloatArray
    level_db: FloatArray
    level_sd_db: FloatArray
    tail_share: FloatArray


def decay_curve(
    energy: FloatArray,
    *,
    step_s: float,
    noise: float,
    noise_sd: float,
    start_s: float = 0.0,
    tail_model: TailModel | None = None,
) -> DecayCurve | None:
    """Backward-integrate a row of energies.

    Parameters
    ----------
    energy
        Mean square in successive steps, shape (T,).
    step_s
        Length of a step.
    noise
        Mean square of the quiet alone (0 when unknown).
    noise_sd
        Standard deviation of the quiet's mean square from step to step.
    start_s
        Time of the first step after the onset.
    tail_model
        What the partials say will still come, see :class:`TailModel`.

    Returns
    -------
    DecayCurve or None
        None when nothing stands above the quiet.
    """
    net = energy - noise
    reach = max(1, round(0.05 / step_s))
    smooth = _running_mean(net, reach)
    floor = max(noise, noise_sd / np.sqrt(reach) * 3.0)
    above = smooth > floor
    end = net.size if above.all() else int(np.argmin(above))
    if end < 8:
        return None
    tail, tail_sd = _tail(net[:end], step_s, floor)
    if tail_model is not None:
        tail, tail_sd = tail_model.tail(net[:end], step_s, start_s, line=(tail, tail_sd))
    left = np.cumsum(net[:end][::-1])[::-1] * step_s + tail
    positive = left > 0.0
    end = end if positive.all() else int(np.argmin(positive))
    if end < 8:
        return None
    left = left[:end]
    count = np.arange(left.size, 0, -1)
    noise_part = noise_sd * step_s * np.sqrt(count)
    spread = np.sqrt(noise_part**2 + tail_sd**2)
    return DecayCurve(
        time_s=np.asarray(start_s + np.arange(end) * step_s, dtype=np.float64),
        level_db=10.0 * np.log10(left / left[0]),
        level_sd_db=10.0 / np.log(10.0) * spread / left,
        tail_share=tail / left,
    )


@dataclass(frozen=True)
class TailModel:
    """The fitted damped sinusoids of a pluck, which know of beats that a line cannot foresee.

    ``amplitude`` and ``rate`` have shape (partials, 2), an absent second component 0 and -1.
    """

    amplitude: ComplexArray
    rate: ComplexArray

    @classmethod
    def of(cls, partials: PartialSet) -> TailModel | None:
        """Collect the partials that a model fits; None when there are none."""
        use = partials.measured & (partials.n_components > 0)
        rate, amplitude = partials.components_rate[use], partials.components_amplitude[use]
        rate = np.where(np.isfinite(rate), rate, -1.0)
        amplitude = np.where(np.isfinite(amplitude), amplitude, 0.0)
        return cls(amplitude, rate) if use.any() and np.all(rate.real < -0.01) else None

    def left(self, time_s: float) -> float:
        """Energy from a time after the onset on, closed form of two beating components.

        ``int_t^inf |sum_p a_p exp(s_p u)|² du = - sum_pq a_p a_q* exp(s_pq t) / s_pq``,
        s_pq = s_p + s_q*.
        """
        now = self.amplitude * np.exp(self.rate * time_s)
        sums = self.rate[:, :, None] + self.rate.conj()[:, None, :]
        return float(np.sum(now[:, :, None] * now.conj()[:, None, :] / -sums).real / 2.0)

    def tail(
        self, net: FloatArray, step_s: float, start_s: float, *, line: tuple[float, float]
    ) -> tuple[float, float]:
        """Tail after the cut, from the model where it agrees with the last stretch, else the line.

        The sum of partials is scaled to what the last 0.6 s hold, so that partials it lacks do not
        matter much; the distance between the two enters the uncertainty.
        """
        end_s = start_s + net.size * step_s
        span = min(net.size, max(8, round(TAIL_CHECK_S / step_s)))
        held = float(net[-span:].sum()) * step_s
        after = self.left(end_s)
        expected = self.left(end_s - span * step_s) - after
        if expected <= 0.0 or not LEAST_AGREEMENT < held / expected < 1.0 / LEAST_AGREEMENT:
            return line
        tail = after * held / expected
        return tail, float(np.hypot(0.03 * tail, 0.15 * (tail - line[0])))


def _running_mean(values: FloatArray, reach: int) -> FloatArray:
    """Mean over ``reach`` values ahead (fewer at the end)."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    stop = np.minimum(np.arange(values.size) + reach, values.size)
    return np.asarray((total[stop] - total[:-1]) / (stop - np.arange(values.size)))


def _tail(net: FloatArray, step_s: float, floor: float) -> tuple[float, float]:
    """Energy after the cut if the slope of the last 10 dB went on, and how unsure that is.

    The level there is that of a straight line through blocks of 50 ms, since a single step holds
    less than a period of a low note.
    """
    reach = max(1, round(0.05 / step_s))
    blocks = net[net.size % reach :].reshape(-1, reach).mean(axis=1)
    level_db = 10.0 * np.log10(np.maximum(blocks, 0.1 * floor + 1e-300))
    begin = int(np.argmax(level_db < level_db[-1] + TAIL_RANGE_DB))
    begin = max(0, min(begin, level_db.size - 8))
    part = level_db[begin:]
    # Seconds before the cut, of the middle of each block.
    time_s = (np.arange(part.size) - part.size + 0.5) * (reach * step_s)
    span_s = net.size * step_s
    if part.size < 3:
        tail = float(max(blocks[-1], 0.0)) * span_s
        return tail, tail
    (slope, end_db), _ = np.polyfit(time_s, part, 1, cov="unscaled")
    # A note that hardly fell gives no slope: let the tail be no longer than what was heard.
    rate = max(-slope / 10.0 * np.log(10.0), 1.0 / span_s)
    left_db = part - (end_db + slope * time_s)
    tail = 10.0 ** (end_db / 10.0) / rate
    return float(tail), float(tail * np.hypot(0.05, 0.1 * np.std(left_db)))


def slope_time(curve: DecayCurve, range_db: tuple[float, float]) -> tuple[float, float] | None:
    """T60 and its standard uncertainty from the slope of a range; None when it is not reached."""
    upper, lower = range_db
    below = np.flatnonzero(curve.level_db <= lower)
    if below.size == 0:
        return None
    last = int(below[0])
    first = int(np.argmax(curve.level_db <= upper))
    if last - first < 3 or curve.tail_share[last] > LARGEST_TAIL_SHARE:
        return None
    time_s, level_db = curve.time_s[first : last + 1], curve.level_db[first : last + 1]
    centred = time_s - time_s.mean()
    spread = float(np.sum(centred**2))
    slope = float(np.sum(centred * level_db)) / spread
    if slope >= 0.0:
        return None
    # The curve's errors hang together: at worst the whole error of the lower end tilts it.
    relative = float(curve.level_sd_db[last]) / (upper - lower) * 0.75
    step_s = float(curve.time_s[1] - curve.time_s[0])
    relative = np.hypot(relative, 0.2 * step_s / (time_s[-1] - time_s[0]))
    if relative > LARGEST_RELATIVE_SD:
        return None
    return -60.0 / slope, -60.0 / slope * float(relative)


def broadband_curve(signal: PluckSignal, partials: PartialSet | None = None) -> DecayCurve | None:
    """Backward-integrated energy of the whole band of a pluck; its partials foretell the tail."""
    step = max(1, round(STEP_S * signal.rate_hz))
    n_steps = signal.samples.size // step
    if n_steps < 8:
        return None
    edges = np.arange(n_steps + 1) * step
    energy = np.diff(signal.energy[edges]) / step
    return decay_curve(
        energy,
        step_s=step / signal.rate_hz,
        noise=signal.noise_power(),
        noise_sd=_noise_step_sd(signal, step),
        start_s=signal.lag_s,
        tail_model=None if partials is None else TailModel.of(partials),
    )


def _noise_step_sd(signal: PluckSignal, step: int) -> float:
    """Spread of the quiet's mean square over one step.

    For a floor of density S the mean square of a stretch of length T has the variance
    ``int S² df / T`` (Bendat & Piersol); mains lines beat with it and with each other within a
    step, which adds at most their own mean square.
    """
    noise = signal.noise
    if noise is None:
        return 0.0
    step_hz = float(noise.frequency_hz[1] - noise.frequency_hz[0])
    floor = float(np.sum(noise.density**2)) * step_hz / (step / signal.rate_hz)
    return float(np.sqrt(floor) + 0.5 * np.sum(noise.line_power))


def measure_decay(
    signal: PluckSignal, partials: PartialSet
) -> tuple[dict[str, Measured], DecayCurve | None]:
    """Decay times of the whole note and of partials 1…12.

    Returns
    -------
    dict
        ``decay_s``, ``decay_early_s``, ``decay_late_s``, ``decay_h01_s`` … ``decay_h12_s``.
    DecayCurve or None
        The whole note's curve.
    """
    curve = broadband_curve(signal, partials)
    result = {
        "decay_s": _from_curve(curve, MAIN_RANGE_DB, signal),
        "decay_early_s": _from_curve(curve, EARLY_RANGE_DB, signal),
        "decay_late_s": _from_curve(curve, LATE_RANGE_DB, signal),
    }
    for index in range(N_DECAY_PARTIALS):
        result[f"decay_h{index + 1:02d}_s"] = _partial_decay(partials, index)
    return result, curve


def _from_curve(
    curve: DecayCurve | None, range_db: tuple[float, float], signal: PluckSignal
) -> Measured:
    """One decay time, or why there is none."""
    if curve is None:
        return unmeasured("s", "does not stand above the quiet", method=_METHOD)
    found = slope_time(curve, range_db)
    note = ""
    if found is None and range_db == MAIN_RANGE_DB:
        found, note = slope_time(curve, SHORT_RANGE_DB), " (-5 to -15 dB only)"
    if found is None:
        fell = -float(curve.level_db[curve.tail_share < LARGEST_TAIL_SHARE].min(initial=0.0))
        return unmeasured(
            "s",
            f"fell by {fell:.0f} dB in {signal.ring_s:.1f} s; {-range_db[1]:.0f} dB are needed",
            method=_METHOD,
        )
    return Measured(
        found[0], "s", found[1], window_s=(float(curve.time_s[0]), float(curve.time_s[-1])),
        method=_METHOD + note,
    )  # fmt: skip


def _partial_decay(partials: PartialSet, index: int) -> Measured:
    """T60 of one partial: from the fitted damped sinusoids, else from its band's energy."""
    if partials.reason[index]:
        return unmeasured("s", partials.reason[index])
    count = int(partials.n_components[index])
    if count == 1:
        rate = -float(partials.components_rate[index, 0].real)
        relative = float(partials.rate_sd[index]) / rate if rate > 0.0 else np.inf
        if relative > LARGEST_RELATIVE_SD:
            return unmeasured("s", "decays too little or too noisily to tell")
        t60 = T60_TIMES_SIGMA / rate
        return Measured(t60, "s", t60 * relative, method="one damped sinusoid")
    if count == 2:
        return _pair_decay(partials, index)
    return _band_decay(partials, index)


def _pair_decay(partials: PartialSet, index: int) -> Measured:
    """T60 of two beating components, from the closed form of their backward-integrated energy.

    ``int_t^inf |sum_p a_p exp(s_p u)|² du = - sum_pq a_p a_q* exp((s_p + s_q*) t) / (s_p + s_q*)``.
    """
    amplitude, rate = partials.components_amplitude[index], partials.components_rate[index]
    slowest = float(np.min(-rate.real))
    time_s = np.linspace(0.0, 60.0 / 8.68 / slowest, 800)
    sums = rate[:, None] + rate.conj()[None, :]
    products = amplitude[:, None] * amplitude.conj()[None, :] / -sums
    left = (products.ravel() @ np.exp(sums.reshape(-1, 1) * time_s)).real
    left = np.maximum(left, left[0] * 1e-12)
    level_db = 10.0 * np.log10(left / left[0])
    blank = np.zeros_like(level_db)
    found = slope_time(DecayCurve(time_s, level_db, blank, blank), MAIN_RANGE_DB)
    if found is None:
        return unmeasured("s", "two components, of which one hardly decays")
    relative = float(np.hypot(0.01, partials.rate_sd[index] / -rate.real[0]))
    if relative > LARGEST_RELATIVE_SD:
        return unmeasured("s", "decays too little or too noisily to tell")
    return Measured(found[0], "s", found[0] * relative, method="two damped sinusoids")


def _band_decay(partials: PartialSet, index: int) -> Measured:
    """T60 of a band that no model fits, from its energy."""
    bands = partials.bands
    assert bands is not None
    z = partials.clean[index]
    thin = max(1, round(0.02 * bands.rate_hz))
    usable = z.size // thin * thin
    energy = (np.abs(z[:usable]) ** 2).reshape(-1, thin).mean(axis=1)
    noise = float(partials.noise_power[index])
    independent = max(1.0, thin / bands.rate_hz * bands.sigma_hz * 2.0 * np.sqrt(np.pi))
    curve = decay_curve(
        energy, step_s=thin / bands.rate_hz, noise=noise, noise_sd=noise / np.sqrt(independent)
    )
    found = slope_time(curve, MAIN_RANGE_DB) if curve else None
    if found is None and curve is not None:
        found = slope_time(curve, SHORT_RANGE_DB)
    if found is None:
        return unmeasured("s", "did not fall far enough above the noise")
    return Measured(found[0], "s", float(np.hypot(found[1], 0.02 * found[0])),
                    method="band energy, " + _METHOD)  # fmt: skip
