"""What the picking place does to a pluck, from the ideal string, and taking it out.

A string picked at the share ``p`` of its sounding length has partials proportional to
``|sin(n pi p)|`` (textbook; the same share for all, so it cancels between plucks at one place).
Moving a pick by 5 mm changes single partials by up to 10 dB. A pick has a width and the string is
stiff, so the nulls are not infinitely deep: :data:`NULL_POWER` fills them.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from tonecompare.arrays import FloatArray
from tonecompare.measure.pluck.harmonic_balance import TILT_FLOOR
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS

#: Power that stays in a null of the comb (-23 dB).
NULL_POWER = 0.005
#: Where magnetic pickups can sit, share of the sounding length.
PICKUPS_AT = np.linspace(0.04, 0.5, 24)
_ORDER = np.arange(1, N_PARTIALS + 1)


def comb_db(pluck_point: ArrayLike) -> FloatArray:
    """Return the comb of partials 1 … 24 in dB, shape (…, 24).

    ``10 lg(sin²(n pi p) + NULL_POWER)``, p the picking place over the sounding length.
    """
    p = np.asarray(pluck_point, dtype=np.float64)[..., np.newaxis]
    return np.asarray(10.0 * np.log10(np.square(np.sin(np.pi * _ORDER * p)) + NULL_POWER))


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

    Partials are moved by the comb, and what is worked out from them (level, brightness, tilt, odd
    over even, tristimulus) moves as the partials make it move. Plucks whose place is not known
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
    if "centroid_hz" in moved:
        ratio = _centroid(after) / _centroid(before)
        moved["centroid_hz"] = numbers(plucks, ["centroid_hz"])[:, 0] * ratio
    return moved


def comb_allows(before: ArrayLike, after: ArrayLike) -> dict[str, float]:
    """Return how far a pick that moved can change what comes of the partials, by column.

    The largest change of an ideal string (partials ``|sin(n pi p)| / n``) under any magnetic
    pickup (``|sin(n pi d)|``, d :data:`PICKUPS_AT`), over all pairs of the places given: what a
    comb correction takes out beyond it is made of errors in partials near a null.

    Parameters
    ----------
    before, after
        Picking places that are possible, shape (k,) each: the estimate and the ends of its
        interval.

    Returns
    -------
    dict
        Level, partials, tilt and odd over even in dB, tristimulus as shares, centroid as a natural
        logarithm; all positive.
    """
    sides = [_ideal_quantities(np.asarray(side, dtype=np.float64)) for side in (before, after)]
    return {
        column: float(np.nanmax(np.abs(sides[1][column][np.newaxis] - of[:, np.newaxis])))
        for column, of in sides[0].items()
    }


def _ideal_quantities(places: FloatArray) -> dict[str, FloatArray]:
    """Columns of an ideal string at places (k,) under pickups anywhere, shape (k, pickups) each."""
    power_db = comb_db(places)[:, np.newaxis] + comb_db(PICKUPS_AT) - 20.0 * np.log10(_ORDER)
    h = power_db.reshape(-1, N_PARTIALS)
    total = _total_db(h)
    shares = _tristimulus(h)
    found = {
        "level_dbfs": total,
        "tilt_db_per_octave": _tilt(h),
        "odd_even_db": _odd_even(h),
        "centroid_hz": np.log(_centroid(h)),
        **{f"tristimulus_{k + 1}": shares[:, k] for k in range(3)},
        **dict(zip(PARTIAL_LEVELS, (h - total[:, np.newaxis]).T, strict=True)),
    }
    return {column: values.reshape(power_db.shape[:2]) for column, values in found.items()}


def numbers(frame: pd.DataFrame, columns: list[str]) -> FloatArray:
    """Return columns of a table as (rows, columns), NaN where empty or absent."""
    found = np.full((len(frame), len(columns)), np.nan)
    for index, column in enumerate(columns):
        if column in frame.columns:
            values = pd.to_numeric(frame[column], errors="coerce")
            found[:, index] = values.to_numpy(dtype=np.float64, na_value=np.nan)
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
