"""What the picking place does to a pluck, from the ideal string, and taking it out.

A string picked at the share ``p`` of its sounding length has partials proportional to
``|sin(n pi p)|`` (textbook; the same share for all, so it cancels between plucks at one place).
Moving a pick by 5 mm changes single partials by up to 10 dB. A pick has a width and the string is
stiff, so the nulls are not infinitely deep: :data:`NULL_POWER` fills them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_bands import band_shifts
from tonecompare.measure.pluck.harmonic_balance import TILT_FLOOR
from tonecompare.measure.table import float_column
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS

#: What the ideal comb leaves open of partial n, dB times n: the pick's width and slip, stiffness,
#: the bend of a magnetic pickup.
LEFT_DB = 0.08
#: Power that stays in a null of the comb (-23 dB).
NULL_POWER = 0.005
_ORDER: FloatArray = np.arange(1.0, N_PARTIALS + 1.0)


def _comb_power(order: FloatArray, pluck_point: FloatArray) -> FloatArray:
    angle = np.pi * order * np.asarray(pluck_point, dtype=np.float64)[..., np.newaxis]
    return np.asarray(np.square(np.sin(angle)) + NULL_POWER)


def comb_db(pluck_point: ArrayLike) -> FloatArray:
    """Return the comb of partials 1 … 24 in dB, shape (…, 24).

    ``10 lg(sin²(n pi p) + NULL_POWER)``, p the picking place over the sounding length.
    """
    return np.asarray(10.0 * np.log10(_comb_power(_ORDER, np.asarray(pluck_point))))


def comb_slope_db(pluck_point: ArrayLike) -> FloatArray:
    """Return how fast the comb changes with the picking place, dB per unit of p, (…, 24)."""
    p = np.asarray(pluck_point, dtype=np.float64)[..., np.newaxis]
    angle = np.pi * _ORDER * p
    power = np.square(np.sin(angle)) + NULL_POWER
    slope = np.pi * _ORDER * np.sin(2.0 * angle) / power
    return np.asarray(10.0 / np.log(10.0) * slope)


def release_level_db(before: float, after: float) -> float:
    """Return by how much the level differs between equal force and equal height of release, dB.

    A pick that lets go at equal force moves the string by ``p (1 - p)`` (statics of a string);
    hands do something between both, so a picking place taken out leaves the level unsure by this.
    """
    return float(20.0 * np.log10(after * (1.0 - after) / (before * (1.0 - before))))


def at_one_place(plucks: pd.DataFrame, *, place: FloatArray | None = None) -> pd.DataFrame:
    """Return the plucks as if all of one note had been picked at one place.

    Partials are moved by the comb, and what is made of them (level, octave bands, brightness, tilt,
    odd over even, tristimulus) moves as the partials make it move. Plucks whose place is not known
    lose these quantities. Decay and pitch stay.

    Parameters
    ----------
    plucks
        Rows of ``measurements.csv`` of one voice and output, both stages.
    place
        (rows,) the place to move each pluck to; None takes the mean of its note's plucks.
    """
    moved = plucks.copy()
    p = numbers(plucks, ["pluck_point"])[:, 0]
    if place is None:
        place = (
            pd.Series(p, index=plucks.index).groupby(plucks["note"]).transform("mean").to_numpy()
        )
    shift_db = comb_db(place) - comb_db(p)
    before = numbers(plucks, list(PARTIAL_LEVELS))
    after = before + shift_db
    total_db = _total_db(after) - _total_db(before)
    after -= _total_db(after)[:, np.newaxis] - _total_db(before)[:, np.newaxis]
    for index, column in enumerate(PARTIAL_LEVELS):
        if column in moved:
            moved[column] = after[:, index]
    _add(moved, "level_dbfs", total_db)
    for column, work_out in (
        ("tilt_db_per_octave", _tilt),
        ("odd_even_db", _odd_even),
        *((f"tristimulus_{k + 1}", lambda h, k=k: _tristimulus(h)[:, k]) for k in range(3)),
    ):
        _add(moved, column, work_out(after) - work_out(before))
    _move_bands(moved, plucks, before, p, place)
    if "centroid_hz" in moved:
        ratio = _centroid(after) / _centroid(before)
        moved["centroid_hz"] = numbers(plucks, ["centroid_hz"])[:, 0] * ratio
    return moved


def _move_bands(
    moved: pd.DataFrame, plucks: pd.DataFrame, h: FloatArray, p: FloatArray, place: FloatArray
) -> None:
    """Move the octave bands, alone and against all of them together."""
    shift_db = band_shifts(numbers(plucks, ["f0_hz"])[:, 0], h, p, place, _comb_power)
    levels = numbers(plucks, list(BAND_LEVELS))
    all_db = _total_db(levels + shift_db) - _total_db(np.where(np.isnan(shift_db), np.nan, levels))
    for index, (level, shape) in enumerate(zip(BAND_LEVELS, BAND_SHAPES, strict=True)):
        _add(moved, level, shift_db[:, index])
        _add(moved, shape, shift_db[:, index] - all_db)


def comb_error(plucks: pd.DataFrame, before: str, after: str, *, share: float) -> dict[str, float]:
    """Return what is left open in partials, and quantities of the row, when the comb is off.

    Every partial's shift ``c_n`` between the stages is taken to be wrong by ``w_n``: by ``share``
    of itself, by all of it near a null of the pick at either place (a pick's width and a pickup's
    bend fill nulls), and by :data:`LEFT_DB` times n. Of quantities of the whole row
    ``sum_n (q(h + w_n e_n) - q(h))²``, root, averaged over the notes as independent; of single
    partials, which fail alike on all notes, the root mean square.

    Parameters
    ----------
    plucks
        Rows of ``measurements.csv`` of one voice and output, both stages.
    before, after
        Names of the stages.
    share
        Standard error of the comb's shift, as a share of it.

    Returns
    -------
    dict
        Column to standard error on the analysis scale; empty without a note with places in both.
    """
    levels, shifts = (
        numbers(plucks, list(PARTIAL_LEVELS)),
        comb_db(numbers(plucks, ["pluck_point"])[:, 0]),
    )
    stage = plucks["stage"].astype(str).to_numpy()
    squares: list[dict[str, float]] = []
    wrongs: list[FloatArray] = []
    for rows in plucks.groupby("note", sort=False).indices.values():
        sides = [rows[stage[rows] == name] for name in (before, after)]
        combs = [shifts[side][np.isfinite(shifts[side]).all(axis=1)] for side in sides]
        if min(len(comb) for comb in combs) == 0:
            continue
        near_null = np.exp(-np.min([10.0 ** (c.mean(axis=0) / 10.0) for c in combs], axis=0) / 0.1)
        shift = combs[1].mean(axis=0) - combs[0].mean(axis=0)
        wrong = np.hypot((share + (1.0 - share) * near_null) * shift, LEFT_DB * _ORDER)
        wrongs.append(wrong)
        known = levels[rows]
        full = np.isfinite(known).any(axis=0)
        mean = np.full(N_PARTIALS, np.nan)
        mean[full] = np.nanmean(known[:, full], axis=0)
        varied = mean + np.vstack([np.zeros(N_PARTIALS), np.diag(wrong)])
        found = {name: work_out(varied) for name, work_out in _OF_THE_ROW.items()}
        squares.append({name: float(np.nansum((q[1:] - q[0]) ** 2)) for name, q in found.items()})
    if not squares:
        return {}
    of_partials = np.sqrt(np.mean(np.square(wrongs), axis=0)).tolist()
    return dict(zip(PARTIAL_LEVELS, of_partials, strict=True)) | {
        name: float(np.sqrt(sum(each[name] for each in squares))) / len(squares)
        for name in _OF_THE_ROW
    }


def numbers(frame: pd.DataFrame, columns: list[str]) -> FloatArray:
    """Return columns of a table as (rows, columns), NaN where empty or absent."""
    found = np.empty((len(frame), len(columns)))
    for index, column in enumerate(columns):
        found[:, index] = float_column(frame, column)
    return found


def _add(frame: pd.DataFrame, column: str, change: FloatArray) -> None:
    if column in frame.columns:
        frame[column] = numbers(frame, [column])[:, 0] + change


def _power(h: FloatArray) -> FloatArray:
    return np.where(np.isfinite(h), 10.0 ** (np.nan_to_num(h) / 10.0), 0.0)


def _total_db(h: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        total = 10.0 * np.log10(_power(h).sum(axis=1))
    return np.where(np.isfinite(total), total, np.nan)


def _ratio(one: FloatArray, other: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        found = one / other
    return np.where(np.isfinite(found) & (found > 0.0), found, np.nan)


def _centroid(h: FloatArray) -> FloatArray:
    amplitude = np.sqrt(_power(h))
    return _ratio((amplitude * _ORDER).sum(axis=1), amplitude.sum(axis=1))


def _tilt(h: FloatArray) -> FloatArray:
    """Slope over log2 n, weighted as measured."""
    power = _power(h)
    floor = TILT_FLOOR * power.max(axis=1, keepdims=True, initial=0.0)
    return _slope(h, power / np.maximum(power + floor, 1e-300) / _ORDER)


def steepness(h: FloatArray) -> FloatArray:
    """Return the slope of partial levels over log2 n, faint ones counting as much, dB/octave.

    A harder pluck raises the faint upper partials most, which the tilt hardly weighs.
    """
    return _slope(h, np.broadcast_to(1.0 / _ORDER, h.shape))


def _slope(h: FloatArray, weight: FloatArray) -> FloatArray:
    there = np.isfinite(h)
    weight = np.where(there, weight, 0.0)
    octave = np.log2(_ORDER)
    with np.errstate(divide="ignore", invalid="ignore"):
        total = weight.sum(axis=1, keepdims=True)
        centred = octave - (weight * octave).sum(axis=1, keepdims=True) / total
        top = (weight * centred * np.nan_to_num(h)).sum(axis=1)
        slope = top / (weight * centred**2).sum(axis=1)
    return np.where(there.sum(axis=1) >= 4, slope, np.nan)


def _odd_even(h: FloatArray) -> FloatArray:
    power = _power(h)
    odd = _ORDER % 2 == 1
    return 10.0 * np.log10(_ratio(power[:, odd].sum(axis=1), power[:, ~odd].sum(axis=1)))


def _tristimulus(h: FloatArray) -> FloatArray:
    amplitude = np.sqrt(_power(h))
    parts = [amplitude[:, :1], amplitude[:, 1:4], amplitude[:, 4:]]
    sums = np.stack([part.sum(axis=1) for part in parts], axis=1)
    return _ratio(sums, amplitude.sum(axis=1, keepdims=True))


#: What is worked out from the row of partials, on its analysis scale.
_OF_THE_ROW: Mapping[str, Callable[[FloatArray], FloatArray]] = {
    "level_dbfs": _total_db,
    "centroid_hz": lambda h: np.log(_centroid(h)),
    "tilt_db_per_octave": _tilt,
    "odd_even_db": _odd_even,
    "tristimulus_1": lambda h: _tristimulus(h)[:, 0],
    "tristimulus_2": lambda h: _tristimulus(h)[:, 1],
    "tristimulus_3": lambda h: _tristimulus(h)[:, 2],
}
