"""Which passages are the same music, and what each would read had all been played note for note.

Two passages are laid over each other by dynamic time warping of pitch classes (each class against
its own mean over the passage, so that a common key is no likeness) and onsets. Stretches between
the onsets of the first one are the cells: a cell in which a passage holds other notes is left out
of that passage. Of the rest the levels in decibels follow ``v = a(cell) + b(passage) + e`` for each
voice and output; ``mean a + b`` is what a passage reads, and passages are repeats of each other.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.played.passage_frames import HOP_S, PassageFrames

#: Passages this alike are the same music.
SAME_MUSIC = 0.52
#: A cell holds the same notes when its pitch classes agree this well (cosine).
SAME_NOTES = 0.6
#: A frame of one passage may meet up to two of the other; a step that skips one costs twice.
_STEPS, _STEP_WEIGHTS = ((1, 1), (1, 2), (2, 1)), (1.0, 2.0, 2.0)
#: What onsets weigh against pitch classes when passages are aligned.
_ONSET_WEIGHT = 0.3
#: What every step costs, so that time is not stretched for nothing.
_STEP_COST = 0.6
#: A band is read in a cell where it stands over the quiet by this factor.
_OVER_QUIET = 2.0
_SWEEPS = 30
#: An onset this near to where the path puts a cell is that cell's.
_NEAR_S = 0.12
#: Cells this many standard deviations (by their median, no less than so many dB) off the additive
#: model are left out.
_FAR, _LEAST_SCATTER_DB = 4.0, 0.25


@dataclass(frozen=True)
class Alignment:
    """One passage laid over another.

    Attributes
    ----------
    frames
        Shape (pairs, 2): frames of the first and the second that belong together.
    agreement
        Shape (cells,): cosine of the pitch classes within each cell of the first.
    likeness
        Mean cosine of the pitch classes over all pairs, 0 … 1; 0 where one lasts more than twice as
        long as the other.
    """

    frames: NDArray[np.intp]
    agreement: FloatArray
    likeness: float


def align(first: PassageFrames, second: PassageFrames) -> Alignment:
    """Lay a passage over another (dynamic time warping; Sakoe & Chiba 1978, librosa's).

    The cost of two frames is ``1.6 - cos(chroma) + 0.3 |onset difference|``.
    """
    import librosa

    cells = cells_of(first)
    one, other = _centred(first.chroma), _centred(second.chroma)
    lengths = sorted((one.shape[1], other.shape[1]))
    if lengths[1] > 2 * lengths[0] - 2:
        return Alignment(np.empty((0, 2), dtype=np.intp), np.zeros(len(cells)), 0.0)
    cost = _STEP_COST + 1.0 - one.T @ other
    cost += _ONSET_WEIGHT * np.abs(first.onset[:, np.newaxis] - second.onset[np.newaxis, :])
    _, path = librosa.sequence.dtw(
        C=cost, step_sizes_sigma=np.array(_STEPS), weights_mul=np.array(_STEP_WEIGHTS)
    )
    frames = np.asarray(path[::-1], dtype=np.intp)
    agreement = np.empty(len(cells))
    for cell, (start, stop) in enumerate(cells):
        here = frames[(frames[:, 0] >= start) & (frames[:, 0] < stop)]
        mine, yours = one[:, here[:, 0]].sum(axis=1), other[:, here[:, 1]].sum(axis=1)
        length = float(np.linalg.norm(mine) * np.linalg.norm(yours))
        agreement[cell] = float(mine @ yours) / length if length > 0.0 else 0.0
    alike = float(np.mean(np.sum(one[:, frames[:, 0]] * other[:, frames[:, 1]], axis=0)))
    return Alignment(frames, agreement, max(0.0, alike))


def _centred(chroma: FloatArray) -> FloatArray:
    """Pitch classes against their mean over the passage, each frame of length 1."""
    rest = chroma - chroma.mean(axis=1, keepdims=True)
    return np.asarray(rest / np.maximum(np.linalg.norm(rest, axis=0), np.finfo(float).tiny))


def start_offset_s(first: PassageFrames, second: PassageFrames, alignment: Alignment) -> float:
    """Return where in the second passage the start of the first lies, seconds from its onset.

    The first cell that both hold, with an onset in the second near where the path puts it, ties
    the two: 0 where both begin with the same note, negative where the second lacks the beginning.
    """
    for cell, event in enumerate(events_of_cells(first, second, alignment)):
        if event is not None:
            return second.events_s[event] - first.events_s[cell]
    return 0.0


def events_of_cells(
    first: PassageFrames, second: PassageFrames, alignment: Alignment
) -> list[int | None]:
    """Return which event of the second passage is each cell of the first.

    None where notes differ, or where none begins near where the path puts the cell.
    """
    begins = np.asarray(second.events_s)
    found: list[int | None] = []
    for cell, (start, _) in enumerate(cells_of(first)):
        there = alignment.frames[alignment.frames[:, 0] == start, 1]
        if alignment.agreement[cell] <= SAME_NOTES or not there.size:
            found.append(None)
            continue
        away_s = np.abs(begins - HOP_S * float(there.mean()))
        nearest = int(np.argmin(away_s))
        found.append(nearest if away_s[nearest] < _NEAR_S else None)
    return found


def cells_of(passage: PassageFrames) -> list[tuple[int, int]]:
    """First and last frame (exclusive) of each cell: from one onset to the next."""
    count = passage.chroma.shape[1]
    starts = [min(round(each / HOP_S), count - 1) for each in passage.events_s]
    stops = [*starts[1:], count]
    return [(start, max(start + 1, stop)) for start, stop in zip(starts, stops, strict=True)]


def cell_levels(first: PassageFrames, second: PassageFrames, alignment: Alignment) -> FloatArray:
    """Read the second passage in the cells of the first.

    Returns
    -------
    ndarray
        Shape (10, cells): mean square in the eight octave bands in dB, in all of them together, and
        the logarithm of the centroid times 10/ln 10; NaN where notes differ or nothing stands over
        the quiet.
    """
    levels = np.full((10, len(first.events_s)), np.nan)
    for cell, (start, stop) in enumerate(cells_of(first)):
        if alignment.agreement[cell] <= SAME_NOTES:
            continue
        inside = (alignment.frames[:, 0] >= start) & (alignment.frames[:, 0] < stop)
        there = np.unique(alignment.frames[inside, 1])
        power = second.power[:, there].mean(axis=1)
        stands = power > _OVER_QUIET * second.noise
        levels[:8, cell] = np.where(stands, _db(power), np.nan)
        whole = float(power.sum())
        if whole > _OVER_QUIET * float(second.noise.sum()):
            levels[8, cell] = _db(np.array(whole))
        magnitude = float(second.magnitude[there].sum())
        if magnitude > 0.0:
            levels[9, cell] = _db(np.array(float(second.moment[there].sum()) / magnitude))
    return levels


def _db(power: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(10.0 * np.log10(np.maximum(power, 1e-30)))


def passage_readings(cells: Sequence[FloatArray]) -> FloatArray:
    """Return what each passage reads over the cells that most passages share.

    Parameters
    ----------
    cells
        One (quantities, cells) array a passage.

    Returns
    -------
    ndarray
        Shape (passages, quantities): ``mean a + b`` of the additive model, by alternating means
        over the cells that at least half of the passages have; NaN without such a cell.
    """
    values = np.stack(cells)  # passages, quantities, cells
    enough = np.isfinite(values).mean(axis=0) >= 0.5
    values = np.where(enough, values, np.nan)
    of_cell, own = _additive(values)
    # A slip sounds other notes than the cell's: what lies far off the model is left out.
    rest = np.abs(values - of_cell - own)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # quantities without a cell
        scale = 1.4826 * np.nanmedian(rest, axis=(0, 2), keepdims=True)
        values = np.where(rest > _FAR * np.maximum(scale, _LEAST_SCATTER_DB), np.nan, values)
        of_cell, own = _additive(values)
        mean = np.nanmean(of_cell, axis=1)
    return np.asarray(mean + own[:, :, 0], dtype=np.float64)


def _additive(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fit cells (quantities, cells) and passages (passages, quantities, 1) by alternating means."""
    there = np.isfinite(values)
    held = there.sum(axis=2, keepdims=True)
    filled = np.where(there, values, 0.0)
    own = np.zeros((values.shape[0], values.shape[1], 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(_SWEEPS):
            of_cell = np.where(there, filled - own, 0.0).sum(axis=0) / there.sum(axis=0)
            rest = np.where(there, filled - np.nan_to_num(of_cell), 0.0)
            own = rest.sum(axis=2, keepdims=True) / held
    return np.asarray(of_cell), np.asarray(own)


def same_music(passages: Sequence[PassageFrames]) -> tuple[list[int], FloatArray]:
    """Group passages by their music.

    Returns
    -------
    groups, likeness
        For each passage the index of the first passage of its group, and how much of that one it
        holds (for a group's first, of the group before it that it is most like; 0 without one).
    """
    groups: list[int] = []
    likeness = np.zeros(len(passages))
    for index, passage in enumerate(passages):
        known = list(dict.fromkeys(groups))
        found = {first: align(passages[first], passage).likeness for first in known}
        best = max(found, key=lambda first: found[first], default=None)
        if best is not None:
            likeness[index] = found[best]
        alike = best is not None and found[best] >= SAME_MUSIC
        groups.append(best if alike and best is not None else index)
    return groups, likeness
