"""What an equaliser could have done instead: the few bands that turn before into after.

Bands are added one at a time, the one that helps most first, and all fitted together by weighted
least squares on the response of the change, each point counting as surely as it is known. Adding
stops when the response is met to within its own uncertainty, when a band no longer helps, or at
:data:`MOST_BANDS`. A weak pull towards small gains and wide bands picks the smoothest of equals.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from tonecompare.arrays import FloatArray
from tonecompare.compare.model import Equaliser, EqualiserBand, Response
from tonecompare.compare.response.biquads import gain_db, impulse_response

MOST_BANDS = 4
#: Rate of the impulse response, and its length.
RATE_HZ = 48000.0
IMPULSE_SAMPLES = 8192
#: A further band must take away this share of what is left.
LEAST_HELP = 0.15
#: A point is never taken to be surer than this, dB.
LEAST_SE_DB = 0.3
#: Left over less than this is met, dB RMS.
MET_DB = 0.3
#: Widest and narrowest bell; shelves are of maximal flatness.
Q_RANGE = (0.4, 4.0)
SHELF_Q = float(np.sqrt(0.5))
MOST_GAIN_DB = 18.0
#: A trial that takes more than so many evaluations to come to rest is left out.
_MOST_EVALUATIONS = 60
#: Where most of a guitar's power lies: a shelf reaches outwards from here.
MIDDLE_HZ = (300.0, 1000.0)


@dataclass(frozen=True)
class _Target:
    frequency_hz: FloatArray
    difference_db: FloatArray
    se_db: FloatArray


@dataclass(frozen=True)
class _Fit:
    overall_gain_db: float
    bands: tuple[EqualiserBand, ...]
    left_db: FloatArray
    converged: bool

    @property
    def rms_db(self) -> float:
        return float(np.sqrt(np.mean(self.left_db**2)))


def find_equalisers(responses: Sequence[Response]) -> tuple[Equaliser, ...]:
    """Return the correction for every response that shows a change."""
    found = (fit_equaliser(response) for response in responses)
    return tuple(one for one in found if one is not None)


def fit_equaliser(response: Response) -> Equaliser | None:
    """Return the smoothest correction of few bands; None when the response shows no change.

    Parameters
    ----------
    response
        After minus before over frequency, with its band.
    """
    target = _target(response)
    if target is None:
        return None
    fit = _refit(target, ())
    before = float(np.sqrt(np.mean(target.difference_db**2)))
    noise = float(np.sqrt(np.mean(target.se_db**2)))
    while len(fit.bands) < MOST_BANDS and fit.rms_db > max(MET_DB, 0.7 * noise):
        tried = (_refit(target, (*fit.bands, start)) for start in _starts(target, fit))
        settled = [one for one in tried if one.converged]
        better = min(settled, key=lambda one: one.rms_db, default=fit)
        if better.rms_db > (1.0 - LEAST_HELP) * fit.rms_db:
            break
        fit = better
    overall_gain_db, bands = plainest(fit.overall_gain_db, fit.bands)
    return Equaliser(
        comparison=response.comparison,
        voice=response.voice,
        output=response.output,
        bands=bands,
        overall_gain_db=overall_gain_db,
        rms_before_db=before,
        rms_left_db=fit.rms_db,
        share=1.0 - fit.rms_db / before,
        impulse_response=impulse_response(
            bands, overall_gain_db=overall_gain_db, rate_hz=RATE_HZ, n=IMPULSE_SAMPLES
        ),
        rate_hz=RATE_HZ,
    )


def plainest(
    overall_gain_db: float, bands: Sequence[EqualiserBand]
) -> tuple[float, tuple[EqualiserBand, ...]]:
    """Return the same correction with every shelf at the end it is nearer to, in order.

    A low shelf that lifts by G dB is a high shelf that cuts by G, and G more overall, exactly. A
    low shelf above :data:`MIDDLE_HZ` would shift what carries most of a guitar's power, a high
    shelf below it too, and the overall gain would have to make up for that.
    """
    told = []
    for band in bands:
        if band.kind == "low-shelf" and band.frequency_hz > MIDDLE_HZ[1]:
            overall_gain_db += band.gain_db
            told.append(EqualiserBand("high-shelf", band.frequency_hz, -band.gain_db, band.q))
        elif band.kind == "high-shelf" and band.frequency_hz < MIDDLE_HZ[0]:
            overall_gain_db += band.gain_db
            told.append(EqualiserBand("low-shelf", band.frequency_hz, -band.gain_db, band.q))
        else:
            told.append(band)
    return overall_gain_db, tuple(sorted(told, key=lambda band: band.frequency_hz))


def _target(response: Response) -> _Target | None:
    there = np.isfinite(response.difference_db) & (response.frequency_hz < 0.45 * RATE_HZ)
    if np.count_nonzero(there) < 6:
        return None
    low, high = response.ci_low_db[there], response.ci_high_db[there]
    shown = (low > 0.0) | (high < 0.0)
    if np.count_nonzero(shown) < 2:
        return None
    se = np.maximum((high - low) / 4.0, LEAST_SE_DB)
    return _Target(response.frequency_hz[there], response.difference_db[there], se)


def _starts(target: _Target, fit: _Fit) -> list[EqualiserBand]:
    """Bands worth trying next: bells where most is left, shelves at either end."""
    left = fit.left_db
    smooth = np.convolve(left, np.full(3, 1.0 / 3.0), mode="same")
    peak = int(np.argmax(np.abs(smooth)))
    hz = target.frequency_hz
    ends = (float(hz[len(hz) // 5]), float(hz[-len(hz) // 4]))
    starts = [EqualiserBand("peak", float(hz[peak]), float(smooth[peak]), q) for q in (0.7, 2.0)]
    fifth = max(len(hz) // 5, 2)
    starts.append(EqualiserBand("low-shelf", ends[0], float(left[:fifth].mean()), SHELF_Q))
    starts.append(EqualiserBand("high-shelf", ends[1], float(left[-fifth:].mean()), SHELF_Q))
    return starts


def _refit(target: _Target, bands: tuple[EqualiserBand, ...]) -> _Fit:
    kinds = [band.kind for band in bands]
    start = [float(np.average(target.difference_db, weights=target.se_db**-2.0))]
    low, high = [-40.0], [40.0]
    lowest, highest = np.log2(target.frequency_hz[[0, -1]])
    for band in bands:
        start += [float(np.log2(band.frequency_hz)), band.gain_db, float(np.log(band.q))]
        low += [lowest - 1.0, -MOST_GAIN_DB, np.log(Q_RANGE[0])]
        high += [min(highest + 0.7, np.log2(0.45 * RATE_HZ)), MOST_GAIN_DB, np.log(Q_RANGE[1])]

    def unpack(x: FloatArray) -> tuple[EqualiserBand, ...]:
        return tuple(
            EqualiserBand(
                kind,
                float(2.0 ** x[1 + 3 * i]),
                float(x[2 + 3 * i]),
                float(np.exp(x[3 + 3 * i])) if kind == "peak" else SHELF_Q,
            )
            for i, kind in enumerate(kinds)
        )

    def residual(x: FloatArray) -> FloatArray:
        model = x[0] + gain_db(unpack(x), target.frequency_hz, rate_hz=RATE_HZ)
        pull = [np.concatenate((x[2 + 3 * i : 3 + 3 * i] / 20.0, x[3 + 3 * i : 4 + 3 * i] * 0.3))
                for i in range(len(kinds))]  # fmt: skip
        return np.concatenate([(target.difference_db - model) / target.se_db, *pull])

    inside = np.clip(start, np.array(low) + 1e-6, np.array(high) - 1e-6)
    found = least_squares(residual, inside, bounds=(low, high), max_nfev=_MOST_EVALUATIONS)
    # The last digits hang on how many threads the linear algebra has: 0.0001 dB, octaves and log Q.
    settled = np.round(found.x, 4)
    fitted = unpack(settled)
    left = target.difference_db - settled[0] - gain_db(fitted, target.frequency_hz, rate_hz=RATE_HZ)
    return _Fit(float(settled[0]), fitted, left, converged=bool(found.success))
