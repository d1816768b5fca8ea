"""Distance between two sounds' spectral shapes: level-matched, in ERB bands, in hearing thresholds.

Each pluck's 1/24-octave band powers are summed into bands one ERB wide (Glasberg & Moore 1990,
``ERB-rate = 21.4 lg(1 + 0.00437 f)``) and divided by its total power, so that level does not count.
For a note the squared distance is the mean over bands of (difference of means)² less the variance
its repeats explain, so that scatter is not taken for a difference; over notes it is averaged, the
notes being the sample.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.measure.model import Measurements, PluckCurves

#: One band must differ by this to be noticed, dB: level difference limen, about 1 dB (Zwicker &
#: Fastl, Psychoacoustics; from memory).
SHAPE_THRESHOLD_DB = 1.0
#: Bands further below a pluck's strongest than this are not counted.
WEAKEST_DB = 40.0
_RATE_EDGES: FloatArray = np.arange(3.0, 35.5, 1.0)
EDGES_HZ: FloatArray = (10.0 ** (_RATE_EDGES / 21.4) - 1.0) / 0.00437

Key = tuple[str, str, str]


@dataclass(frozen=True)
class ShapeDistance:
    """Distance in hearing thresholds with its 95 % interval; None with a reason when unknown."""

    value: float | None
    ci_low: float | None
    ci_high: float | None
    reason: str = ""


def shapes_of(measurements: Measurements) -> dict[Key, dict[str, FloatArray]]:
    """Return each voice's plucks in ERB bands: (stage, voice, output) -> note -> (plucks, bands).

    dB re the pluck's total power; NaN more than 40 dB below its strongest band.
    """
    found: dict[Key, dict[str, list[FloatArray]]] = {}
    columns = ["stage", "voice", "output", "note", "file", "channel", "pluck"]
    for stage, voice, output, note, file, channel, pluck in measurements.plucks[columns].itertuples(
        index=False, name=None
    ):
        curves = measurements.curves.get((file, int(channel), int(pluck)))
        if curves is None or not note:
            continue
        shape = _shape(curves)
        if np.isfinite(shape).any():
            notes = found.setdefault((stage, voice, output), {})
            notes.setdefault(note, []).append(shape)
    return {
        key: {note: np.stack(rows) for note, rows in notes.items()} for key, notes in found.items()
    }


def _shape(curves: PluckCurves) -> FloatArray:
    power = np.where(np.isfinite(curves.band_dbfs), 10.0 ** (curves.band_dbfs / 10.0), 0.0)
    index = np.digitize(curves.band_hz, EDGES_HZ)
    summed = np.bincount(index, weights=power, minlength=EDGES_HZ.size + 1)[1 : EDGES_HZ.size]
    total = float(summed.sum())
    if total <= 0.0:
        return np.full(summed.size, np.nan)
    with np.errstate(divide="ignore"):
        level = 10.0 * np.log10(summed / total)
    return np.where(level > level.max() - WEAKEST_DB, level, np.nan)


def shape_distance(
    before: Mapping[str, FloatArray], after: Mapping[str, FloatArray]
) -> ShapeDistance:
    """Return the distance between two voices over the notes both have.

    Parameters
    ----------
    before, after
        Note -> (plucks, bands) as :func:`shapes_of` gives.

    Returns
    -------
    ShapeDistance
        The interval is a t interval of the squared distance over notes (two notes or more, two
        plucks a note or more); its lower end is 0 where no distance is shown.
    """
    squares = []
    for note in before:
        if note not in after or min(len(before[note]), len(after[note])) < 2:
            continue
        square = _square(before[note], after[note])
        if square is not None:
            squares.append(square)
    if len(squares) < 2:
        return ShapeDistance(None, None, None, tr_later("fewer than two notes with repeats"))
    values = np.array(squares)
    mean = float(values.mean())
    half = float(stats.t.ppf(0.975, values.size - 1) * values.std(ddof=1) / np.sqrt(values.size))
    low, middle, high = (
        float(np.sqrt(max(square, 0.0))) / SHAPE_THRESHOLD_DB
        for square in (mean - half, mean, mean + half)
    )
    return ShapeDistance(middle, low, high)


def _square(before: FloatArray, after: FloatArray) -> float | None:
    """Mean over bands of (difference of means)² less what the repeats' variance adds to it."""
    n_before, n_after = (np.isfinite(rows).sum(axis=0) for rows in (before, after))
    use = (n_before >= 2) & (n_after >= 2)
    if np.count_nonzero(use) < 3:
        return None
    one, other = before[:, use], after[:, use]
    difference = np.nanmean(other, axis=0) - np.nanmean(one, axis=0)
    noise = (
        np.nanvar(one, axis=0, ddof=1) / n_before[use]
        + np.nanvar(other, axis=0, ddof=1) / n_after[use]
    )
    return float(np.mean(difference**2 - noise))


def nearest(
    shapes: Mapping[Key, Mapping[str, FloatArray]], one: Key, among: list[Key]
) -> tuple[Key, ShapeDistance] | None:
    """Return the voice among some whose shape lies nearest to another's, with the distance."""
    best: tuple[Key, ShapeDistance] | None = None
    for key in among:
        if key not in shapes or one not in shapes:
            continue
        distance = shape_distance(shapes[key], shapes[one])
        if distance.value is None:
            continue
        if best is None or best[1].value is None or distance.value < best[1].value:
            best = (key, distance)
    return best


def voices_at(plucks: pd.DataFrame, stage: str) -> list[Key]:
    """Return the (stage, voice, output) keys of a stage in the order of the table."""
    rows = plucks[plucks["stage"] == stage][["stage", "voice", "output"]].drop_duplicates()
    return [(str(a), str(b), str(c)) for a, b, c in rows.itertuples(index=False, name=None)]
