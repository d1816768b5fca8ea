"""How hard each passage was picked, by how far the same events glide in all of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.played.passage_frames import PassageFrames
from tonecompare.measure.played.same_music import Alignment, events_of_cells

#: What a hand changes from one playing of an event to the next, as a share of its glide; and how
#: far a cell scatters by its own nature (beats), cents, with how many degrees of freedom this is
#: known beforehand. No residual counts for more than :data:`SLIP_CENTS`.
EVENT_SHARE, CELL_CENTS, CELL_DF, SLIP_CENTS = 0.15, 0.15, 4.0, 1.0
#: A cell glides from this on, cents; with fewer of them nothing is told.
EVENT_CENTS, FEWEST_CELLS = 0.15, 6
_HUBER, _STEPS = 1.5, 30


def glides_of_cells(
    first: PassageFrames, second: PassageFrames, leading: PassageFrames, alignment: Alignment
) -> FloatArray:
    """Return glide and standard error of a passage in each cell of the first, (cells, 2).

    NaN where unknown.

    ``leading`` is what was aligned: the same events, on another channel of the file perhaps.
    """
    events = events_of_cells(first, leading, alignment)
    glides = second.glide_cents
    unknown = np.full(2, np.nan)
    return np.stack([unknown if event is None else glides[event] for event in events])


def glide_readings(cells: Sequence[FloatArray]) -> FloatArray:
    """Return what each passage would glide had it all events, and with which standard error.

    Glides go with the square of the swing, so ``g(passage, cell) = r(passage) a(cell)``. ``r`` and
    ``a`` are found in turn, each as Huber's mean weighed by ``1 / (se² + c² + (share r a)²)``:
    ``se`` is the event's own error, ``c`` how far its cell scatters from passage to passage (with
    what is known of that beforehand). The reading is ``r`` times the mean ``a``.

    Parameters
    ----------
    cells
        One (cells, 2) array a passage: cents and standard error.

    Returns
    -------
    ndarray
        Shape (passages, 2): cents and standard error, NaN where fewer than :data:`FEWEST_CELLS`
        cells are known or nothing glides.
    """
    glides = np.stack(cells)
    nothing = np.full((len(cells), 2), np.nan)
    known = np.isfinite(glides.sum(axis=2))
    enough = known.sum(axis=1) >= FEWEST_CELLS
    if enough.any() and not enough.all():  # what tells nothing does not keep others from telling
        nothing[enough] = glide_readings(list(glides[enough]))
        return nothing
    shared = known.sum(axis=0) * 2 >= len(cells)
    glides, known = glides[:, shared], known[:, shared]
    if glides.shape[1] < FEWEST_CELLS:
        return nothing
    found = _fitted(np.where(known[..., np.newaxis], glides, np.nan))
    enough = known.sum(axis=1) >= FEWEST_CELLS  # of those that are shared
    return nothing if found is None else np.where(enough[:, np.newaxis], found, np.nan)


def _fitted(glides: FloatArray) -> FloatArray | None:
    """Fit ``g = r a`` to (passages, cells, 2); return ``r`` and its error times the mean ``a``."""
    known = np.isfinite(glides[..., 0])
    cents, own = (np.where(known, glides[..., k], k) for k in range(2))
    of_cell = np.nanmedian(glides[..., 0], axis=0)
    ratio, se = np.ones(len(glides)), np.full(len(glides), np.nan)
    scatter = np.full(of_cell.size, CELL_CENTS)
    for _ in range(_STEPS):
        if np.count_nonzero(of_cell > EVENT_CENTS) < FEWEST_CELLS:
            return None
        falls = np.maximum(of_cell, 0.0)
        expected = ratio[:, np.newaxis] * falls
        sd = np.sqrt(own**2 + scatter**2 + (EVENT_SHARE * expected) ** 2)
        rest = np.where(known, cents - expected, 0.0)
        trust = np.minimum(1.0, _HUBER * sd / np.maximum(np.abs(rest), 1e-9))
        weight = np.where(known, trust / sd**2, 0.0)
        norm = (weight * falls**2).sum(axis=1)
        ratio = (weight * cents * falls).sum(axis=1) / norm
        if not (ratio > 0.0).all():
            return None
        middle = float(ratio.mean())
        left = np.sqrt(np.square(weight * falls * rest).sum(axis=1)) / norm
        ratio, se = ratio / middle, np.maximum(left, norm**-0.5) / middle
        rest = np.where(known, cents - ratio[:, np.newaxis] * falls, 0.0)
        seen = np.minimum(np.square(rest), SLIP_CENTS**2).sum(axis=0)
        scatter = np.sqrt((CELL_DF * CELL_CENTS**2 + seen) / (CELL_DF + known.sum(axis=0)))
        by_cell = weight * ratio[:, np.newaxis]
        of_cell = (by_cell * cents).sum(axis=0) / (by_cell * ratio[:, np.newaxis]).sum(axis=0)
    return float(np.maximum(of_cell, 0.0).mean()) * np.stack([ratio, se], axis=1)
