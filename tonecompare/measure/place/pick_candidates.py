"""Where each pluck was picked, with its rivals: all dips of the cost and the probability of each.

With everything common known, one pluck's levels depend on its picking point, gain, slope and
release. The comb repeats almost, so that the cost has several dips; each is refined, and its share
of the probability is its height times its width (Laplace's approximation), times what a player
makes likely: picks of a voice crowd about one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.place.combs import ORDER, comb_db, comb_parts
from tonecompare.measure.place.joint_fit import BEND_SD, HUBER, SLOPE_SD, Joint, own_columns
from tonecompare.measure.place.plucks_as_arrays import Data

_GRID: FloatArray = np.arange(0.03, 0.4981, 0.003)
_N_DIPS = 4
#: Half the distance of two dips of a comb of 24 partials: none is wider.
WIDEST = 0.02
#: A player's picks lie about one place with this spread, share of the scale (26 mm of 648) …
CROWD = 0.04
#: … but may lie anywhere at this cost.
_CROWD_MOST = 6.0
#: Plucks whose whole grids are worked out at once.
_AT_ONCE = 32


@dataclass(frozen=True)
class Dips:
    """Dips of each pluck's cost, best first, shape (I, 4): place, uncertainty, probability."""

    place: FloatArray
    sd: FloatArray
    probability: FloatArray


def find_dips(data: Data, joint: Joint, *, crowd: bool = True) -> Dips:
    """Find the dips of every pluck's cost over its picking point.

    Parameters
    ----------
    data
        Usable plucks.
    joint
        The voice as fitted; its picking points only say where the crowd is.
    crowd
        Whether to use it.
    """
    base = data.y - joint.common - joint.linear[0] * data.octave - joint.linear[1] * data.khz2
    columns = own_columns(data)
    prior = np.diag([1e-8, SLOPE_SD**-2.0, BEND_SD**-2.0])
    variance = joint.scatter_db**2 + data.variance + joint.common_variance
    weight = np.where(data.known, 1.0 / variance, 0.0)
    rough = _rough(base, columns, prior, weight, data)
    place = _deepest(rough)
    cost, sd = np.empty_like(place), np.empty_like(place)
    for _ in range(4):
        place, cost, sd = _refined(data, base, columns, prior, variance, place)
    # The last step moved the places a little further; cost and sd are those before it.
    middle = float(np.median(joint.picks * data.sounding))
    shared = (joint.neighbour * joint.misfit)[:, None]
    cost, sd = cost / shared, sd * np.sqrt(shared)
    if crowd:
        # A place and its mirror image look alike: whichever the crowd is nearer to.
        length = data.sounding[:, None]
        off = np.minimum(np.abs(place * length - middle), np.abs((1 - place) * length - middle))
        cost = cost + np.minimum((off / CROWD) ** 2, _CROWD_MOST)
    # A dip found twice counts once.
    twice = np.zeros(place.shape, dtype=bool)
    for k in range(1, place.shape[1]):
        twice[:, k] = np.min(np.abs(place[:, :k] - place[:, k : k + 1]), axis=1) < 0.003
    score = np.where(twice, -np.inf, np.log(np.minimum(sd, WIDEST)) - 0.5 * cost)
    share = np.exp(score - np.max(score, axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    order = np.argsort(-share, axis=1, kind="stable")
    return Dips(*(np.take_along_axis(x, order, axis=1) for x in (place, sd, share)))


@cache
def _grid_combs(fill: float) -> FloatArray:
    return comb_db(_GRID, fill)


def _rough(
    base: FloatArray, columns: FloatArray, prior: FloatArray, weight: FloatArray, data: Data
) -> FloatArray:
    """Cost (I, grid) with Huber's loss on what a least-squares line leaves."""
    weighted = columns * weight[:, :, None]
    inverse = np.linalg.inv(weighted.transpose(0, 2, 1) @ columns + prior)
    root, across = np.sqrt(weight)[:, None, :], columns.transpose(0, 2, 1)
    cost = np.empty((len(base), _GRID.size))
    for first in range(0, len(base), _AT_ONCE):  # for the memory, and near the processor
        part = slice(first, first + _AT_ONCE)
        left = base[part, None, :] - _grid_combs(data.fill)
        line = (left @ weighted[part]) @ inverse[part]
        left -= line @ across[part]
        left *= root[part]
        size = np.abs(left)
        small = np.minimum(size, HUBER)
        cost[part] = np.sum(small * (2.0 * size - small), axis=2)
    return cost


def _deepest(cost: FloatArray) -> FloatArray:
    """Places of the deepest local minima, shape (I, 4); fewer are filled with the deepest."""
    padded = np.pad(cost, ((0, 0), (1, 1)), constant_values=np.inf)
    dip = (cost <= padded[:, :-2]) & (cost <= padded[:, 2:])
    ranked = np.argsort(np.where(dip, cost, np.inf), axis=1)[:, :_N_DIPS]
    real = np.take_along_axis(dip, ranked, axis=1)
    return np.asarray(_GRID[np.where(real, ranked, ranked[:, :1])])


def _refined(
    data: Data,
    base: FloatArray,
    columns: FloatArray,
    prior: FloatArray,
    variance: FloatArray,
    place: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One Gauss-Newton step of every dip: (places after, cost and sd before)."""
    comb, by_pick, doubt = comb_parts(
        np.broadcast_to(ORDER, (1, 1, ORDER.size)), place[..., None], data.fill
    )
    left = base[:, None, :] - comb
    var = variance[:, None, :] + doubt**2
    weight = np.where(data.known[:, None, :], 1.0 / var, 0.0)
    own = np.broadcast_to(columns[:, None], (*place.shape, *columns.shape[1:]))
    # Robust line first (weights of the residual about it), then line and place together.
    for _ in range(2):
        line = _line(own, left, weight, prior)
        residual = left - (own @ line[..., None])[..., 0]
        z = np.abs(residual) / np.sqrt(var)
        weight = np.where(
            data.known[:, None, :], np.minimum(1.0, HUBER / np.maximum(z, 1e-9)) / var, 0.0
        )
    small = np.minimum(z, HUBER)
    loss = np.where(data.known[:, None, :], small * (2.0 * z - small) + np.log(var), 0.0)
    cost = loss.sum(axis=2) + (line[..., 1] / SLOPE_SD) ** 2 + (line[..., 2] / BEND_SD) ** 2
    full = np.concatenate([own, by_pick[..., None]], axis=3)
    wide = np.zeros((4, 4))
    wide[:3, :3], wide[3, 3] = prior, 1e-2
    weighted = full * weight[..., None]
    gram = np.linalg.inv(np.swapaxes(weighted, 2, 3) @ full + wide)
    step = (gram @ (np.swapaxes(weighted, 2, 3) @ left[..., None]))[..., 3, 0]
    moved = np.clip(place + np.clip(step, -0.002, 0.002), 0.02, 0.4999)
    return moved, cost, np.sqrt(gram[..., 3, 3])


def _line(own: FloatArray, left: FloatArray, weight: FloatArray, prior: FloatArray) -> FloatArray:
    weighted = own * weight[..., None]
    gram = np.swapaxes(weighted, 2, 3) @ own + prior
    right = np.swapaxes(weighted, 2, 3) @ left[..., None]
    return np.asarray(np.linalg.solve(gram, right)[..., 0])
