"""How hard each passage was picked, by how far the same events glide in all of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.played.passage_frames import PassageFrames
from tonecompare.measure.played.same_music import Alignment, events_of_cells

#: How finely one event's glide tells, cents, and what a hand changes from one to the next.
EVENT_CENTS, EVENT_SHARE = 0.15, 0.2
#: Fewer cells than this tell nothing.
FEWEST_CELLS = 6
_HUBER, _STEPS = 1.5, 12


def glides_of_cells(
    first: PassageFrames, second: PassageFrames, leading: PassageFrames, alignment: Alignment
) -> FloatArray:
    """Return the glide of a passage in each cell of the first, (cells,), NaN where unknown.

    ``leading`` is what was aligned: the same events, on another channel of the file perhaps.
    """
    events = events_of_cells(first, leading, alignment)
    glides = second.glide_cents
    return np.array([np.nan if event is None else glides[event] for event in events])


def glide_readings(cells: Sequence[FloatArray]) -> FloatArray:
    """Return what each passage would glide had it all events, and with which standard error.

    Glides go with the square of the swing, so ``g(passage, cell) = r(passage) a(cell)``. Both are
    found in turn, ``r`` as Huber's mean of ``g / a`` with the weights that the uncertainty of one
    event gives, ``a`` likewise; the reading is ``r`` times the mean ``a``.

    Parameters
    ----------
    cells
        One (cells,) array a passage, cents.

    Returns
    -------
    ndarray
        Shape (passages, 2): cents and standard error, NaN where fewer than :data:`FEWEST_CELLS`
        cells are known or nothing glides.
    """
    glides = np.stack(cells)
    nothing = np.full((len(cells), 2), np.nan)
    known = np.isfinite(glides)
    enough = known.sum(axis=1) >= FEWEST_CELLS
    if enough.any() and not enough.all():  # what tells nothing does not keep others from telling
        nothing[enough] = glide_readings(list(glides[enough]))
        return nothing
    shared = known.sum(axis=0) * 2 >= len(cells)
    glides, known = glides[:, shared], known[:, shared]
    if glides.shape[1] < FEWEST_CELLS:
        return nothing
    of_cell = np.nanmedian(glides, axis=0)
    ratio, se = np.ones(len(cells)), np.full(len(cells), np.nan)
    for _ in range(_STEPS):
        if np.count_nonzero(of_cell > EVENT_CENTS) < FEWEST_CELLS:
            return nothing
        ratio, se = _means(glides, np.maximum(of_cell, 0.0)[np.newaxis])
        if not (ratio > 0.0).all():
            return nothing
        ratio, se = ratio / ratio.mean(), se / ratio.mean()
        of_cell, _ = _means(glides.T, ratio[np.newaxis])
    mean = float(np.maximum(of_cell, 0.0).mean())
    enough = known.sum(axis=1) >= FEWEST_CELLS  # of those that are shared
    return np.where(enough[:, np.newaxis], mean * np.stack([ratio, se], axis=1), np.nan)


def _means(values: FloatArray, factor: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fit ``values = m factor`` row by row: Huber's ``m`` and its standard error."""
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)
    mean = np.full((len(values), 1), np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean[:, 0] = (filled * factor).sum(axis=1) / (known * factor**2).sum(axis=1)
        for _ in range(_STEPS):
            expected = mean * factor
            sd = np.hypot(EVENT_CENTS, EVENT_SHARE * expected)
            rest = np.where(known, filled - expected, 0.0)
            trust = np.minimum(1.0, _HUBER * sd / np.maximum(np.abs(rest), 1e-9))
            weight = np.where(known, trust / sd**2, 0.0)
            norm = (weight * factor**2).sum(axis=1)
            mean[:, 0] = (weight * filled * factor).sum(axis=1) / norm
        left = np.sqrt(((weight * factor * rest) ** 2).sum(axis=1)) / norm
    return mean[:, 0], np.asarray(left)
