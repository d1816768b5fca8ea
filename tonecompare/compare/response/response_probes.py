"""Every partial of every note as a probe of the response of a change, picking place taken out.

A comb is taken out only where both sides of a note have places. Whether those places are there at
all is told by the partials: right ones make neighbours of all notes agree better than they do as
they were picked, wrong ones (one comb fitted to two pickups) worse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_correction import comb_db, comb_slope_db, numbers, release_level_db
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS

#: Grid of the curve: 1/6 octaves around 1 kHz.
GRID_HZ = 1000.0 * 2.0 ** (np.arange(-24, 22) / 6.0)
#: Fewer notes or partials than this give no curve.
FEWEST_NOTES = 2
FEWEST_PARTIALS = 12
#: A partial's level is never surer than this from plucks, dB.
LEAST_SCATTER_DB = 0.3
#: A picking place is never surer than this (share of the length): what a null suffers from.
PLACE_SD = 0.004
#: Partials this near, in octaves, tell whether picking places are borne out, and by how much worse
#: they may agree with them taken out.
AROUND_OCTAVES = 0.25
MOST_WORSE = 1.1


@dataclass(frozen=True)
class Probes:
    """Level differences of partials, one element each."""

    frequency_hz: FloatArray
    difference_db: FloatArray
    #: The same with the picking place left in.
    as_picked_db: FloatArray
    #: Variance that re-plucking explains.
    variance: FloatArray
    #: Which note, 0, 1, …
    note: NDArray[np.intp]
    n_notes: int
    #: What is unsure about the level of all of them, dB, since the pick moved (standard deviation).
    common_sd_db: float = 0.0


def probes_of(
    plucks: pd.DataFrame, before: str, after: str, *, placed: bool = True
) -> Probes | None:
    """Return the partials of one voice and output that both stages have; None when too few.

    Partials are absolute (level plus balance), each pluck's comb taken off: a pluck whose place is
    not known is left out, and so is a note without places on either side, since a comb taken off
    one side alone would stand in the curve as a change. With ``placed`` False all are as they were
    picked.
    """
    levels = numbers(plucks, list(PARTIAL_LEVELS))
    levels += numbers(plucks, ["level_dbfs"])
    as_picked = levels
    place, place_sd = numbers(plucks, ["pluck_point", "pluck_point_se"]).T
    known = np.isfinite(place) | (not placed)
    unsure = np.zeros_like(levels)
    if placed:
        levels = levels - comb_db(place)
        sd = np.fmax(place_sd, PLACE_SD)[:, np.newaxis]
        unsure = np.square(sd * comb_slope_db(place))
    f0, stretch = numbers(plucks, ["f0_hz", "inharmonicity"]).T
    stage = plucks["stage"].astype(str).to_numpy()
    note = plucks["note"].astype(str).to_numpy()
    parts: list[tuple[FloatArray, FloatArray, FloatArray, FloatArray, int]] = []
    for name in dict.fromkeys(note[note != ""]):
        sides = [(stage == s) & (note == name) & known for s in (before, after)]
        if not all(side.any() for side in sides):
            continue
        frequency_hz = _partials_hz(f0[sides[0] | sides[1]], stretch[sides[0] | sides[1]])
        if frequency_hz is None:
            continue
        means, variances = zip(*(_side(levels[s], unsure[s]) for s in sides), strict=True)
        before_db, after_db = (_side(as_picked[s], unsure[s])[0] for s in sides)
        parts.append(
            (
                frequency_hz,
                means[1] - means[0],
                after_db - before_db,
                variances[0] + variances[1],
                len(parts),
            )
        )
    if len(parts) < FEWEST_NOTES:
        return None
    frequency, difference, picked, variance = (
        np.concatenate([p[i] for p in parts]) for i in range(4)
    )
    index = np.repeat([p[4] for p in parts], N_PARTIALS)
    there = np.isfinite(difference) & np.isfinite(variance)
    there &= (frequency >= GRID_HZ[0]) & (frequency <= GRID_HZ[-1])
    if there.sum() < FEWEST_PARTIALS or np.unique(index[there]).size < FEWEST_NOTES:
        return None
    notes, index = np.unique(index[there], return_inverse=True)
    return Probes(
        frequency[there],
        difference[there],
        picked[there],
        variance[there],
        index,
        notes.size,
        _common_sd_db(place, stage, before, after),
    )


def borne_out(probes: Probes) -> bool:
    """Whether the partials bear out the picking places taken out of them.

    A comb that is really there goes out of the differences, and what is left lies nearer to one
    curve; one that is not there is put in. Told by the median distance of the partials from those
    of other orders and notes around them.
    """
    placed, picked = (
        _distance_from_others_db(probes, values)
        for values in (probes.difference_db, probes.as_picked_db)
    )
    return placed <= MOST_WORSE * picked + LEAST_SCATTER_DB


def _distance_from_others_db(probes: Probes, values: FloatArray) -> float:
    """Median distance from the median within a quarter octave, each note's own level taken out."""
    left = values.copy()
    for note in range(probes.n_notes):
        left[probes.note == note] -= np.median(left[probes.note == note])
    octave = np.log2(probes.frequency_hz)
    near = np.abs(octave[:, np.newaxis] - octave) <= AROUND_OCTAVES
    middle = np.nanmedian(np.where(near, left, np.nan), axis=1)
    return float(np.median(np.abs(left - middle)))


def _partials_hz(f0_hz: FloatArray, inharmonicity: FloatArray) -> FloatArray | None:
    """Where the partials of one note stand: ``n f_1 sqrt((1 + B n²)/(1 + B))`` (Fletcher 1964).

    Medians over the plucks; an unknown B is 0. None without any pitch. At the 12th fret of a low
    E partial 24 stands some 230 cents above ``24 f_1``.
    """
    known = f0_hz[np.isfinite(f0_hz)]
    if known.size == 0:
        return None
    there = inharmonicity[np.isfinite(inharmonicity)]
    b = float(np.median(there)) if there.size else 0.0
    n = np.arange(1.0, N_PARTIALS + 1.0)
    return np.asarray(float(np.median(known)) * n * np.sqrt((1.0 + b * n * n) / (1.0 + b)))


def _common_sd_db(place: FloatArray, stage: NDArray[np.object_], before: str, after: str) -> float:
    """Half the span between equal force and equal height, as evenly likely all the way."""
    means = [place[(stage == s) & np.isfinite(place)] for s in (before, after)]
    if not all(side.size for side in means):
        return 0.0
    span_db = release_level_db(float(means[0].mean()), float(means[1].mean()))
    return abs(span_db) / float(np.sqrt(3.0))


def _side(levels: FloatArray, unsure: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Median over the plucks of one note and its variance, partial by partial."""
    there = np.isfinite(levels)
    count = there.sum(axis=0)
    mean = np.full(levels.shape[1], np.nan)
    some = count > 0
    mean[some] = np.nanmedian(levels[:, some], axis=0)
    deviation = np.where(there, levels - mean, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        scatter = np.square(deviation).sum(axis=0) / np.maximum(count - 1, 1)
        place = np.where(there, unsure, 0.0).sum(axis=0) / count
        variance = (np.maximum(scatter, LEAST_SCATTER_DB**2) + place) / count
    return mean, np.where(some, variance, np.nan)
