"""What a blend of two outputs does in each band: fill, thin, notches, and which ratio to use.

blend = (1 - r) magnetic + q r piezo has the power ``(1-r)² S_mm + r² S_pp + 2 q r (1-r) Re S_mp``.
The *interaction* is that over the power sum (the first two terms): +3.01 dB where both are equal
and in phase, 0 dB in quadrature, -inf in antiphase. Two equal copies a delay tau apart have
notches at (2k+1)/(2 tau) and peaks at k/tau; one inverted swaps them. Copies with a gain ratio g
reach 20 lg(1+g) and 20 lg(1-g).
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.results import BandCross, BlendAdvice, BlendMap, Notch

RATIOS = np.linspace(0.0, 1.0, 21)
#: Bands the advice rests on.
ADVICE_BAND_HZ = (80.0, 5000.0)
#: Smallest difference of the mean interaction that counts: the just-noticeable level difference
#: of a wide-band sound is 0.41 dB (Miller 1947).
LEAST_FULLER_DB = 0.41
#: A band thins when the sum is this far below the power sum.
THIN_LIMIT_DB = 2.0
#: A notch is worth a sentence from this depth on.
NOTCH_DB = 3.0
#: What taking out the delay or turning the polarity must give back to be named as the cause.
_CAUSE_SHARE = 0.5


def interaction_db(bands: BandCross, ratio: float, polarity: int) -> FloatArray:
    """Sum over power sum in dB per band at one ratio and polarity; NaN where a band is unknown."""
    return np.asarray(_interaction(bands, np.array([ratio]), polarity, bands.cross)[0])


def _interaction(
    bands: BandCross, ratio: FloatArray, polarity: int, cross: FloatArray
) -> FloatArray:
    r = ratio[:, None]
    power_sum = (1 - r) ** 2 * bands.magnetic[None, :] + r**2 * bands.piezo[None, :]
    total = power_sum + 2 * polarity * r * (1 - r) * cross[None, :]
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(10.0 * np.log10(np.maximum(total, 1e-12 * power_sum) / power_sum))


def equal_ratio(bands: BandCross) -> float:
    """Ratio at which both outputs contribute the same power over the bands they share."""
    known = np.isfinite(bands.magnetic) & np.isfinite(bands.piezo)
    m, p = float(bands.magnetic[known].sum()), float(bands.piezo[known].sum())
    if m <= 0.0 or p <= 0.0:
        return float("nan")
    return float(np.sqrt(m) / (np.sqrt(m) + np.sqrt(p)))


def blend_map(bands: BandCross, *, ratio: FloatArray = RATIOS) -> BlendMap:
    """Return what every ratio and both polarities do in each band."""
    both = [_interaction(bands, ratio, polarity, bands.cross) for polarity in (1, -1)]
    return BlendMap(ratio, bands.band_hz, np.array(both), equal_ratio(bands))


def _advised(bands: BandCross) -> FloatArray:
    inside = (bands.band_hz >= ADVICE_BAND_HZ[0]) & (bands.band_hz <= ADVICE_BAND_HZ[1])
    return np.asarray(inside & np.isfinite(bands.magnetic) & np.isfinite(bands.piezo))


def _ranges(good: FloatArray, ratio: FloatArray) -> tuple[tuple[float, float], ...]:
    """Return runs of consecutive good ratios as (first, last)."""
    runs: list[tuple[float, float]] = []
    start: int | None = None
    for index, value in enumerate([*good, False]):
        if value and start is None:
            start = index
        elif not value and start is not None:
            runs.append((float(ratio[start]), float(ratio[index - 1])))
            start = None
    return tuple(runs)


def find_notches(bands: BandCross, *, polarity: int, delay_s: float | None) -> tuple[Notch, ...]:
    """Return the bands that thin most at their worst ratio, each with its cause.

    A cause is the delay when taking it out gives back at least half the depth, the polarity when
    turning it does.
    """
    band_index = np.flatnonzero(_advised(bands))
    if band_index.size == 0:
        return ()
    wired = _interaction(bands, RATIOS, polarity, bands.cross)[:, band_index]
    worst = np.argmin(wired, axis=0)
    notches = []
    for column, band in enumerate(band_index):
        row = int(worst[column])
        depth = float(wired[row, column])
        lower = wired[row, column - 1] if column else np.inf
        upper = wired[row, column + 1] if column + 1 < band_index.size else np.inf
        if depth > -NOTCH_DB or lower < depth or upper <= depth:
            continue
        ratio = float(RATIOS[row])
        notches.append(_notch(bands, int(band), depth, ratio, polarity, delay_s))
    return tuple(notches)


def _notch(
    bands: BandCross, band: int, depth: float, ratio: float, polarity: int, delay_s: float | None
) -> Notch:
    one = np.array([ratio])
    turned = float(_interaction(bands, one, -polarity, bands.cross)[0, band])
    aligned = float(_interaction(bands, one, polarity, bands.cross_aligned)[0, band])
    by_delay = bool(np.isfinite(aligned) and aligned - depth > -_CAUSE_SHARE * depth)
    by_delay &= delay_s is not None and abs(delay_s) > 0.05 / float(bands.band_hz[band])
    by_polarity = turned - depth > -_CAUSE_SHARE * depth
    hz = float(bands.band_hz[band])
    if by_delay:
        cause = "delay and polarity" if by_polarity else "delay"
    else:
        cause = "polarity" if by_polarity else "string and filters"
    return Notch(hz, depth, ratio, polarity, cause, delay_s, aligned, turned)


def advise(bands: BandCross, *, delay_s: float | None = None) -> BlendAdvice:
    """Return which polarity sounds fuller and which ratios keep all bands.

    ``fuller_polarity`` is the one with the higher mean interaction over the third octaves
    80 Hz–5 kHz at equal contribution, None when they differ by less than 0.41 dB.
    """
    known = _advised(bands)
    middle = equal_ratio(bands)
    if not known.any() or not np.isfinite(middle):
        return BlendAdvice(None, None, (), THIN_LIMIT_DB, (), None)
    means = {
        polarity: float(np.mean(interaction_db(bands, middle, polarity)[known]))
        for polarity in (1, -1)
    }
    by = means[1] - means[-1]
    fuller = None if abs(by) < LEAST_FULLER_DB else (1 if by > 0 else -1)
    polarity = fuller or 1
    every = _interaction(bands, RATIOS, polarity, bands.cross)[:, known]
    row, column = np.unravel_index(int(np.argmin(every)), every.shape)
    worst = float(bands.band_hz[known][column]), float(RATIOS[row])
    ranges = _ranges(np.min(every, axis=1) >= -THIN_LIMIT_DB, RATIOS)
    ranges = tuple(run for run in ranges if run[1] > run[0])
    notches = find_notches(bands, polarity=polarity, delay_s=delay_s)
    return BlendAdvice(fuller, by, ranges, THIN_LIMIT_DB, notches, worst)
