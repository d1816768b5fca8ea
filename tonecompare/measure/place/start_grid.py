"""Where to start: pickup positions and picking points that fit best on a grid.

Every pluck's levels are compared with all pairs of combs while a gain and a parabola over log
frequency are free; the pickup's cost is summed over the plucks, each with its best picking point.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.place.combs import comb_db
from tonecompare.measure.place.plucks_as_arrays import SCATTER_DB, Data

#: Picking points and pickup positions searched, share of the length from the bridge.
PICK_GRID: FloatArray = np.arange(0.03, 0.4981, 0.004)
#: Partials this far below a pluck's trend count as nulls, whatever their depth.
DEEPEST_DB = 15.0
PICKUP_GRID: FloatArray = np.arange(0.03, 0.3401, 0.003)
#: A start this much worse (squares of 2 dB) than the best is none, even where partials scatter by
#: 6 dB.
HOPELESS = 600.0
#: Plucks that are held against the whole grid at once: what they take stays near the processor.
_AT_ONCE = 32


@dataclass(frozen=True)
class Start:
    """A pickup position (None without comb), the picking points (I,) that go with it, its cost."""

    pickup: float | None
    picks: FloatArray
    cost: float


def starts(
    data: Data, *, count: int, pickup: float | None = None, comb: bool = True
) -> list[Start]:
    """Best starts, best first.

    Parameters
    ----------
    data
        Usable plucks.
    count
        How many pickup positions at most.
    pickup
        The pickup's place if known: then there is one start.
    comb
        False for an output without a comb of its own: one start.
    """
    places = None if not comb else PICKUP_GRID if pickup is None else np.array([pickup])
    # Some plucks after others: all together would fill the memory for an hour's.
    parts = [
        _costs(data, slice(first, first + _AT_ONCE), places)
        for first in range(0, data.n_plucks, _AT_ONCE)
    ]
    cost, picks = (np.concatenate(each) for each in zip(*parts, strict=True))
    if places is None or pickup is not None:
        return [Start(pickup, PICK_GRID[picks[:, 0]], 0.0)]
    total = np.sum(cost, axis=0)
    return [
        Start(float(PICKUP_GRID[k]), PICK_GRID[picks[:, k]], float(total[k]))
        for k in _lowest(total, count=count)
        if total[k] < np.min(total) + HOPELESS
    ]


def _costs(
    data: Data, plucks: slice, places: FloatArray | None
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Cost of every pluck with its best picking point, and which: (plucks, places) each.

    ``places`` are the pickup's; None for an output without a comb, which stands for one.
    """
    known, variance, octave = data.known[plucks], data.variance[plucks], data.octave[plucks]
    root = np.sqrt(np.where(known, 1.0 / (SCATTER_DB**2 + variance), 0.0))
    smooth = np.stack([np.ones_like(octave), octave, octave**2], axis=2)
    q, _ = np.linalg.qr(smooth * root[:, :, None])

    def free(rows: FloatArray) -> FloatArray:
        scaled = rows * root[:, None, :]
        return np.asarray(scaled - (scaled @ q) @ q.transpose(0, 2, 1))

    left = free(data.y[plucks, None, :])[:, 0, :]
    # The depth of a null is chance (polarisations, noise): no partial lies deeper than this.
    floor = -DEEPEST_DB * root
    left = free((np.maximum(left, floor) / np.maximum(root, 1e-9))[:, None, :])[:, 0, :]
    picks = free(_pick_combs(data.fill)[None])
    pick_cost = np.sum(picks**2, axis=2) - 2.0 * np.einsum("ikn,in->ik", picks, left)
    if places is None:
        pairs, own = pick_cost[:, :, None], np.zeros((1, 1))
    else:
        pickups = free(comb_db(places / data.sounding[plucks, None], data.fill))
        pairs = 2.0 * picks @ pickups.transpose(0, 2, 1)
        pairs += pick_cost[:, :, None]
        own = np.sum(pickups**2, axis=2) - 2.0 * np.einsum("ikn,in->ik", pickups, left)
    return np.min(pairs, axis=1) + own, np.argmin(pairs, axis=1)


@cache
def _pick_combs(fill: float) -> FloatArray:
    return comb_db(PICK_GRID, fill)


def _lowest(cost: FloatArray, *, count: int) -> list[int]:
    """Return the indices of the deepest local minima, deepest first."""
    padded = np.concatenate([[np.inf], cost, [np.inf]])
    minima = np.flatnonzero((padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:]))
    return [int(index) for index in minima[np.argsort(cost[minima])][:count]]
