"""Every quantity of a quiet stretch against its truth, over many stretches of noise alone.

Truth in closed form: a mains line of level L has the mean square 10^(L/10)/2, white hiss of
density S the mean square S times its band; the A curve is librosa's.
"""

from __future__ import annotations

import librosa
import numpy as np
from accuracy_errors import Error
from numpy.typing import NDArray
from quiet_truth import family, white

from tonecompare.arrays import FloatArray
from tonecompare.measure.quiet.hum_buzz_hiss import measure_quiet

#: Lines 1 … 12 with amplitudes 1/k make the hum, 21 … 60 with amplitudes 1/k the buzz.
HUM_DBFS, BUZZ_DBFS = -60.0, -72.0
HUM_ORDERS, BUZZ_ORDERS = np.arange(1, 13), np.arange(21, 61)


def a_weighted_dbfs(
    line_hz: FloatArray, line_dbfs: FloatArray, density: float, rate_hz: float
) -> float:
    """Level of lines and white hiss under the A curve (librosa.A_weighting), 20 Hz to 20 kHz."""
    hz = np.linspace(20.0, min(20000.0, rate_hz / 2.0), 20001)
    gain = 10.0 ** (librosa.A_weighting(hz, min_db=None) / 10.0)
    power = density * float(np.trapezoid(gain, hz))
    gain = 10.0 ** (librosa.A_weighting(line_hz, min_db=None) / 10.0)
    power += float(np.sum(gain * 0.5 * 10.0 ** (line_dbfs / 10.0)))
    return float(10.0 * np.log10(2.0 * power))


def quiet_errors(snr_db: float, *, trials: int, seed: int) -> list[Error]:
    """Errors of ``trials`` stretches with hiss at -15 dBFS less the signal-to-noise ratio."""
    rng = np.random.default_rng([seed, round(snr_db), 5])
    out: list[Error] = []
    for trial in range(trials):
        rate_hz = (44100.0, 48000.0, 96000.0)[trial % 3]
        nominal_hz = (50.0, 60.0)[trial % 2]
        out += _one(snr_db, rate_hz=rate_hz, nominal_hz=nominal_hz, rng=rng)
    return out


def _one(
    snr_db: float, *, rate_hz: float, nominal_hz: float, rng: np.random.Generator
) -> list[Error]:
    length_s = float(rng.uniform(1.0, 4.0))
    mains_hz = nominal_hz * (1.0 + float(rng.uniform(-0.008, 0.008)))
    n = round(length_s * rate_hz)
    orders = np.concatenate([HUM_ORDERS, BUZZ_ORDERS])
    levels = np.concatenate([_levels(HUM_ORDERS, HUM_DBFS), _levels(BUZZ_ORDERS, BUZZ_DBFS)])
    hiss_dbfs = -15.0 - snr_db
    x = family(orders, levels, rng, mains_hz=mains_hz, n=n, rate_hz=rate_hz)
    x += white(hiss_dbfs, rng, n=n, rate_hz=rate_hz)
    density = 0.5 * 10.0 ** (hiss_dbfs / 10.0) / (min(20000.0, rate_hz / 2.0) - 20.0)
    truth = {
        "mains_hz": mains_hz,
        "hum_dbfs": HUM_DBFS,
        "buzz_dbfs": BUZZ_DBFS,
        "hiss_dbfs": hiss_dbfs,
        "noise_a_dbfs": a_weighted_dbfs(mains_hz * orders, levels, density, rate_hz),
    }
    truth |= {f"hum_{k:02d}_dbfs": float(levels[k - 1]) for k in range(1, 11)}
    found = measure_quiet(x, rate_hz=rate_hz).quantities
    where = f"{length_s:.2f} s {rate_hz:.0f} {mains_hz:.2f}"
    return [
        Error(
            name, snr_db, "quiet",
            None if found[name].value is None else float(found[name].value or 0.0) - value,
            found[name].uncertainty, where,
        )
        for name, value in truth.items()
    ]  # fmt: skip


def _levels(orders: NDArray[np.int_], total_dbfs: float) -> FloatArray:
    power = 1.0 / orders**2.0
    return np.asarray(total_dbfs + 10.0 * np.log10(power / power.sum()))
