"""Ratio and polarity of a recorded blend, from other plucks of the two outputs it was made of.

Only the powers can be compared. In each third octave of a note the blend should
have the power ``(1-r)² S_mm + r² S_pp + 2 q r (1-r) Re S_mp`` of the two-channel take, times a gain
per note (strength of the pluck, volume); the ratio and polarity that leave the least spread in dB
are taken. Another pick position moves its nodes and with them a few bands by many dB, the rest by
little, so large misfits count by their size and not its square (pseudo-Huber loss, Charbonnier et
al. 1997), notes are weighed equally and the uncertainty comes from leaving out one note at a time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.measure.outputs.band_powers import BAND_HZ
from tonecompare.measure.outputs.results import BandCross

_RATIO_STEP = 0.005
#: Steps either way over which the misfit's curvature is taken.
_CURVED_STEPS = 6
#: Bands compared.
_COMPARED_HZ = (70.0, 8000.0)
_LEAST_BANDS = 6
#: Misfits beyond about this count by their size: the least change of level one can just hear, dB.
_PLAIN_DB = 1.0
#: Least difference of the scaled sums of squares between the polarities.
_LEAST_EVIDENCE = 10.0


@dataclass(frozen=True)
class RecordedBlend:
    """What a recorded blend is made of, and how well the two outputs predict it.

    ``misfit_db`` is the RMS of measured minus predicted over bands and notes, levels of each note
    taken out.
    """

    ratio: float | None
    ratio_se: float | None
    polarity: int | None
    misfit_db: float | None
    n_notes: int
    reason: str = ""


def _predicted_db(bands: BandCross, ratio: FloatArray, polarity: int) -> FloatArray:
    """Level of the blend per ratio and band, dB."""
    r = ratio[:, None]
    power = (1 - r) ** 2 * bands.magnetic + r**2 * bands.piezo
    power = power + 2 * polarity * r * (1 - r) * bands.cross
    floor = 1e-4 * ((1 - r) ** 2 * bands.magnetic + r**2 * bands.piezo)
    return np.asarray(10.0 * np.log10(np.maximum(power, floor)))


def _misfits(
    measured: Mapping[str, FloatArray], by_note: Mapping[str, BandCross], ratio: FloatArray
) -> dict[int, list[tuple[FloatArray, int]]]:
    """Per polarity and note: mean misfit (ratios,) in dB² and the number of bands.

    That is 2 d² (sqrt(1 + x²/d²) - 1) of a band off by x, x² where that is far below d.
    """
    result: dict[int, list[tuple[FloatArray, int]]] = {1: [], -1: []}
    inside = (_COMPARED_HZ[0] <= BAND_HZ) & (_COMPARED_HZ[1] >= BAND_HZ)
    for note, power in measured.items():
        bands = by_note.get(note)
        if bands is None:
            continue
        known = inside & (np.nan_to_num(power) > 0) & np.isfinite(bands.magnetic)
        known &= np.isfinite(bands.piezo) & np.isfinite(bands.cross)
        if known.sum() < _LEAST_BANDS:
            continue
        level = 10.0 * np.log10(power[known])
        for polarity in (1, -1):
            off = level[None, :] - _predicted_db(bands, ratio, polarity)[:, known]
            # The note's gain is the median, so that one odd band does not shift all others.
            off = off - np.median(off, axis=1, keepdims=True)
            size = 2.0 * _PLAIN_DB**2 * (np.sqrt(1.0 + (off / _PLAIN_DB) ** 2) - 1.0)
            result[polarity].append((np.mean(size, axis=1), int(known.sum())))
    return result


def ratio_of_other_plucks(
    measured: Mapping[str, FloatArray], by_note: Mapping[str, BandCross]
) -> RecordedBlend:
    """Return ratio and polarity of a blend recorded with other plucks of the same notes.

    Parameters
    ----------
    measured
        Mean square of the blend per third octave (:data:`BAND_HZ`), shape (B,), by note; quiet
        subtracted, NaN where unknown.
    by_note
        Powers and cross power of the two outputs by note.

    Returns
    -------
    RecordedBlend
    """
    ratio = np.arange(0.0, 1.0 + _RATIO_STEP / 2, _RATIO_STEP)
    misfits = _misfits(measured, by_note, ratio)
    count = len(misfits[1])
    if count == 0:
        reason = tr_later(
            "no note of the blend was also recorded on two channels with enough bands"
        )
        return RecordedBlend(None, None, None, None, 0, reason)
    mean = {q: np.mean([m for m, _ in misfits[q]], axis=0) for q in (1, -1)}
    best = {q: float(mean[q].min()) for q in (1, -1)}
    polarity = 1 if best[1] <= best[-1] else -1
    index = int(np.argmin(mean[polarity]))
    bands = float(np.mean([n for _, n in misfits[1]]))
    evidence = count * bands * np.log(max(best[-polarity], 1e-12) / max(best[polarity], 1e-12))
    told = evidence >= _LEAST_EVIDENCE and 0.0 < ratio[index] < 1.0
    spread = _spread_of_ratio(misfits[polarity], ratio)
    left = _left_over(measured, by_note, float(ratio[index]), polarity)
    return RecordedBlend(
        ratio=float(ratio[index]),
        ratio_se=spread,
        polarity=polarity if told else None,
        misfit_db=_rms(left),
        n_notes=count,
        reason=""
        if told
        else tr_later("both polarities predict the recorded blend about equally well"),
    )


def _spread_of_ratio(notes: list[tuple[FloatArray, int]], ratio: FloatArray) -> float | None:
    """Return the standard error of the best ratio; None from fewer than three notes.

    From leaving out each note in turn, and from how sharply the misfit of all bands, in units of
    what is left of it, rises about the best: a pick that moved does so on all notes alike, which
    leaving one out does not show.
    """
    misfits = [misfit for misfit, _ in notes]
    n = len(misfits)
    if n < 3:
        return None
    total = np.sum(misfits, axis=0)
    left_out = np.array([ratio[int(np.argmin(total - each))] for each in misfits])
    error = float(np.sqrt((n - 1) / n * np.sum((left_out - left_out.mean()) ** 2)))
    best = int(np.argmin(total))
    near = slice(max(best - _CURVED_STEPS, 0), best + _CURVED_STEPS + 1)
    bands = sum(count for _, count in notes)
    rise = total[near] / max(float(total[best]), 1e-12) * bands
    curved = float(np.polyfit(ratio[near] - ratio[best], rise, 2)[0])
    common = 1.0 / np.sqrt(curved) if curved > 0.0 else 0.0
    return float(np.sqrt(error**2 + common**2 + _RATIO_STEP**2 / 12.0))


def _rms(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2)))


def _left_over(
    measured: Mapping[str, FloatArray],
    by_note: Mapping[str, BandCross],
    ratio: float,
    polarity: int,
) -> FloatArray:
    """Measured minus predicted level by note and band compared, each note's gain taken out, dB."""
    left = []
    inside = (_COMPARED_HZ[0] <= BAND_HZ) & (_COMPARED_HZ[1] >= BAND_HZ)
    for note, power in measured.items():
        if note not in by_note:
            continue
        with np.errstate(divide="ignore", invalid="ignore"):
            level = 10.0 * np.log10(power)
        off = level - _predicted_db(by_note[note], np.array([ratio]), polarity)[0]
        gain = np.nanmedian(off) if np.isfinite(off).any() else np.nan
        left.append(np.where(inside, off - gain, np.nan))
    return np.array(left)
