"""How long a note rings: decay times from backward-integrated energy.

``L(t) = 10 lg( int_t^inf e dt / int_0^inf e dt )`` (Schroeder 1965), e the energy with the quiet's
mean power subtracted (Chu 1978), cut where the note sinks into the quiet, the missing tail added
from the slope there (Lundeby et al. 1995). decay_s is 60 dB over the slope between -5 and -25 dB
(range of T20, ISO 3382-1), decay_early_s from 0 to -10 dB, decay_late_s from -25 to -45 dB. Two
stages of decay thus show as two different times instead of one that fits neither.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tonecompare.measure.decay.energy_curve import (
    LARGEST_TAIL_SHARE,
    MAIN_RANGE_DB,
    SHORT_RANGE_DB,
    SHORT_RANGE_SHARE,
    DecayCurve,
    TailModel,
    decay_curve,
    slope_time,
)
from tonecompare.measure.decay.partial_decays import partial_decays
from tonecompare.measure.flags import SHORT_DECAY, words
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.model import Noise
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.signal import PluckSignal
from tonecompare.quantities.registry import N_DECAY_PARTIALS

EARLY_RANGE_DB = (0.0, -10.0)
LATE_RANGE_DB = (-25.0, -45.0)
#: A range of 10 dB that is crossed in less than this share of the time of one before it is no
#: string's.
HAND_RATIO = 0.5
#: Step of the energy that is integrated.
STEP_S = 0.005
_METHOD = "backward integration, quiet subtracted"


def broadband_curve(signal: PluckSignal, partials: PartialSet | None = None) -> DecayCurve | None:
    """Backward-integrated energy of the whole band of a pluck; its partials foretell the tail."""
    step = max(1, round(STEP_S * signal.rate_hz))
    if signal.samples.size // step < 8:
        return None
    return decay_curve(
        signal.mean_squares(step),
        step_s=step / signal.rate_hz,
        noise=signal.noise_power(),
        noise_sd=_noise_step_sd(signal.noise, step / signal.rate_hz),
        start_s=signal.lag_s,
        tail_model=None if partials is None else TailModel.of(partials),
    )


@lru_cache(maxsize=8)
def _noise_step_sd(noise: Noise | None, step_s: float) -> float:
    """Spread of the quiet's mean square over one step.

    For a floor of density S the mean square of a stretch of length T has the variance
    ``int S² df / T`` (Bendat & Piersol); mains lines beat with it and with each other within a
    step, which adds at most their own mean square.
    """
    if noise is None:
        return 0.0
    step_hz = float(noise.frequency_hz[1] - noise.frequency_hz[0])
    floor = float(np.sum(noise.density**2)) * step_hz / step_s
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
        "decay_s": curve_time(curve, MAIN_RANGE_DB, signal),
        "decay_early_s": curve_time(curve, EARLY_RANGE_DB, signal),
        "decay_late_s": curve_time(curve, LATE_RANGE_DB, signal),
    }
    for name, lower_db in (("decay_s", MAIN_RANGE_DB[1]), ("decay_late_s", LATE_RANGE_DB[1])):
        if curve is not None and result[name].value is not None and under_hand(curve, lower_db):
            result[name] = unmeasured(
                "s", "falls ever faster, as under a hand: no string does by itself", method=_METHOD
            )
    for n, decay in enumerate(partial_decays(partials, N_DECAY_PARTIALS), start=1):
        result[f"decay_h{n:02d}_s"] = decay
    return result, curve


def under_hand(curve: DecayCurve, lower_db: float) -> bool:
    """Whether a curve falls faster by far the longer it lasts, down to ``lower_db``.

    A sum of dying exponentials dies fastest at first; beats bend that by less than a half on 43
    real notes, a soft hand (40 to 90 dB/s, too slow to be seen as a damping) by three to nine
    times. Ranges of 10 dB are compared, each with every one before it.
    """
    times: list[float] = []
    for upper_db in (0.0, -5.0, -15.0, -25.0, -35.0):
        if upper_db - 10.0 < lower_db:
            continue
        found = slope_time(curve, (upper_db, upper_db - 10.0))
        if found is not None:
            times.append(found[0])
    return any(
        time_s < HAND_RATIO * earlier_s for k, time_s in enumerate(times) for earlier_s in times[:k]
    )


def curve_time(
    curve: DecayCurve | None, range_db: tuple[float, float], signal: PluckSignal
) -> Measured:
    """Return the decay time of a curve over a range of levels, or why there is none."""
    if curve is None:
        return unmeasured("s", "does not stand above the quiet", method=_METHOD)
    found = slope_time(curve, range_db)
    used_db, share = range_db, 0.0
    if found is None and range_db == MAIN_RANGE_DB:
        used_db, share = SHORT_RANGE_DB, SHORT_RANGE_SHARE
        found = slope_time(curve, used_db)
    if found is None:
        fell = -float(curve.level_db[curve.tail_share < LARGEST_TAIL_SHARE].min(initial=0.0))
        return unmeasured(
            "s",
            f"fell by {fell:.0f} dB in {signal.ring_s:.1f} s; {-range_db[1]:.0f} dB are needed",
            method=_METHOD,
        )
    return Measured(
        found[0], "s", float(np.hypot(found[1], share * found[0])),
        window_s=(float(curve.time_s[0]), float(curve.time_s[-1])),
        method=f"{_METHOD}, {used_db[0]:.0f} to {used_db[1]:.0f} dB",
        flags=words(SHORT_DECAY) if used_db != range_db else (),
    )  # fmt: skip
