"""The averaged spectrum cell by cell: what each partial weighs when most of it lies in the hiss.

A cell reaches half-way to the neighbouring partials; its *lobe* is the five bins of a Hann frame
that hold 99.9 % of a steady partial. The power of a lobe is a sum in which noise cancels, but the
root of it is not: where nothing rings, roots of what is left of the noise add up to more than the
partials themselves. So the root is taken as its expectation, given the power seen, its noise, and
the *run*, a smooth curve over frequency that says how strong partials are thereabouts (empirical
Bayes; Robbins 1956): power seen a little above nothing counts fully among strong partials, and for
next to nothing where the run has long sunk into the hiss.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import pbdv

from tonecompare.arrays import FloatArray

#: Knots of the run lie this far apart; weight of its second differences (in log power).
KNOT_HZ = 1000.0
STIFFNESS = 3.0
#: A lobe, or five of them together, counts as seen at this many standard deviations of noise.
LOBE_SEEN = 6.0
LOBES_SEEN = 5.0
#: Partials this many places from one that is seen shape the run; others can only lower it.
NEAR = 4
#: Variance of a lobe's noise over that of a bin: sum of squared correlations of five Hann bins,
#: 5 + 2 (4 (2/3)² + 3 (1/6)²), and the largest eigenvalue of their correlations.
_LOBE_VARIANCE = 5.0 + 2.0 * (4.0 * (2.0 / 3.0) ** 2 + 3.0 / 36.0)
_LOBE_GAIN = 1.94
#: Fastest decay of a partial, 1/s.
_FASTEST = 60.0
_TABLE = np.linspace(-40.0, 40.0, 801)


@dataclass(frozen=True)
class Cells:
    """Which bins belong to which partial, and the power of their lobes.

    ``first`` (n,) first bin of each cell; ``owner`` (F,) the cell of each bin; ``offset`` (F,)
    bins from the partial; ``in_lobe`` (F,); ``lobe_power`` (n,) quiet subtracted; ``bin_noise``
    (n,) what the quiet leaves in one bin of the lobe.
    """

    centre_hz: FloatArray
    first: NDArray[np.intp]
    owner: NDArray[np.intp]
    offset: FloatArray
    in_lobe: NDArray[np.bool_]
    lobe_power: FloatArray
    bin_noise: FloatArray

    @classmethod
    def of(
        cls, frequency_hz: FloatArray, net: FloatArray, noise: FloatArray, centre_hz: FloatArray
    ) -> Cells:
        """Divide a spectrum among partials at ``centre_hz``, none within three bins of its ends."""
        bin_hz = float(frequency_hz[1] - frequency_hz[0])
        position = (centre_hz - frequency_hz[0]) / bin_hz
        middle = np.rint(position).astype(np.intp)
        lobe = middle[:, None] + np.arange(-2, 3)
        between = np.rint((position[1:] + position[:-1]) / 2.0).astype(np.intp)
        first = np.concatenate([[0], between])
        owner = np.zeros(frequency_hz.size, dtype=np.intp)
        owner[between] = 1
        owner = np.cumsum(owner)
        in_lobe = np.zeros(frequency_hz.size, dtype=np.bool_)
        in_lobe[lobe] = True
        return cls(
            centre_hz, first, owner, np.arange(frequency_hz.size) - position[owner], in_lobe,
            net[lobe].sum(axis=1), noise[lobe].mean(axis=1),
        )  # fmt: skip

    def sums(self, values: FloatArray) -> FloatArray:
        """Sum of bins by cell, (F,) -> (n,)."""
        return np.asarray(np.add.reduceat(values, self.first))

    def shape(self, damping: FloatArray, bin_hz: float) -> FloatArray:
        """Magnitude of a damped partial in each bin, (F,), its lobe having power 1.

        A Hann frame answers exp(-sigma t) cos(2 pi f t) by ``sin(pi z) / (pi z (1 - z²))`` with
        z = x + i y, x bins from the partial, y = sigma / (2 pi bin_hz) (Harris 1978, continued to
        complex z). sin(pi z) has one magnitude throughout a cell.
        """
        y2 = ((damping / (2.0 * np.pi * bin_hz)) ** 2)[self.owner]
        x = self.offset
        power = 1.0 / ((x * x + y2) * ((1.0 - x) ** 2 + y2) * ((1.0 + x) ** 2 + y2))
        lobe = self.sums(np.where(self.in_lobe, power, 0.0))
        return np.asarray(np.sqrt(power / lobe[self.owner]))


@dataclass(frozen=True)
class LobeRoots:
    """Expected root of each lobe's power (n,), its variance, and what the run adds to that.

    ``by_run`` (n, K) the change of the root by each coefficient of the run, ``run_covariance``
    (K, K) theirs.
    """

    root: FloatArray
    variance: FloatArray
    by_run: FloatArray
    run_covariance: FloatArray


def lobe_roots(cells: Cells, frame_share: float) -> LobeRoots:
    """Return the expected magnitude of every lobe.

    Parameters
    ----------
    cells
        At least four.
    frame_share
        Variance of the averaged noise power over its squared mean.
    """
    power, noise = cells.lobe_power, cells.bin_noise
    # A spectrum without noise is known to its rounding.
    alone = _LOBE_VARIANCE * frame_share * noise**2 + (1e-9 * float(power.max())) ** 2
    variance = alone + 2.0 * _LOBE_GAIN * frame_share * noise * np.maximum(power, 0.0)
    run, basis, precision = _run(cells.centre_hz, power, variance, _near_seen(power, alone))
    sd = np.sqrt(variance)
    root, square = root_above_zero((power - variance / run) / sd)
    moved, _ = root_above_zero((power - variance / (1.1 * run)) / sd)
    by_log_run = (moved - root) * np.sqrt(sd) / np.log(1.1)
    return LobeRoots(
        root=root * np.sqrt(sd),
        variance=np.maximum(square - root**2, 0.0) * sd,
        by_run=by_log_run[:, None] * basis,
        run_covariance=np.asarray(np.linalg.inv(precision), dtype=np.float64),
    )


def root_above_zero(mean: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Means of sqrt(s) and s for s normal about ``mean`` with deviation 1, given s > 0.

    ``sqrt(pi)/2 D_{-3/2}(-m) / D_{-1}(-m)`` and ``D_{-2}(-m) / D_{-1}(-m)``, D the parabolic
    cylinder functions (Gradshteyn & Ryzhik 3.462.1). Beyond ±40 their leading terms.
    """
    roots, squares = _root_table()
    size = np.maximum(np.abs(mean), 1.0)
    below, above = mean < _TABLE[0], mean > _TABLE[-1]
    root = np.interp(mean, _TABLE, roots)
    root = np.where(below, np.sqrt(0.25 * np.pi / size), root)
    root = np.where(above, np.sqrt(size) * (1.0 - 0.125 / size**2), root)
    square = np.where(below, 1.0 / size, np.interp(mean, _TABLE, squares))
    return np.asarray(root), np.asarray(np.where(above, size, square))


@lru_cache(maxsize=1)
def _root_table() -> tuple[FloatArray, FloatArray]:
    one = pbdv(-1.0, -_TABLE)[0]
    roots: FloatArray = np.asarray(0.5 * np.sqrt(np.pi) * pbdv(-1.5, -_TABLE)[0] / one)
    squares: FloatArray = np.asarray(pbdv(-2.0, -_TABLE)[0] / one, dtype=np.float64)
    return roots, squares


def damping_along(
    frequency_hz: FloatArray, damping: FloatArray, centre_hz: FloatArray
) -> FloatArray:
    """Decay rate at ``centre_hz`` from that of some partials, 1/s.

    ``b0 + b1 f + b2 f²``, none negative (a string loses energy in more ways the higher; Chaigne &
    Askenfelt 1994), each rate known to the same share of itself; 2/s without four partials.
    """
    if frequency_hz.size < 4:
        return np.full(centre_hz.size, 2.0)
    powers = np.stack([np.ones_like(frequency_hz), frequency_hz, frequency_hz**2], axis=1)
    top = powers[-1]
    design = powers / top / damping[:, None]
    for use in ([0, 1, 2], [0, 2], [0, 1], [0]):
        part = design[:, use]
        found = np.linalg.solve(part.T @ part + 1e-9 * np.eye(len(use)), part.sum(axis=0))
        if np.all(found >= 0.0):
            break
    wanted = np.stack([np.ones_like(centre_hz), centre_hz, centre_hz**2], axis=1) / top
    return np.asarray(np.clip(wanted[:, use] @ found, 0.05, _FASTEST))


def _near_seen(power: FloatArray, variance: FloatArray) -> NDArray[np.bool_]:
    """Cells near one that is seen, alone or with its four neighbours."""
    together = _running(power, 2) > LOBES_SEEN * np.sqrt(_running(variance, 2))
    seen = together | (power > LOBE_SEEN * np.sqrt(variance))
    return np.asarray(_running(seen.astype(np.float64), NEAR) > 0.5)


def _running(values: FloatArray, reach: int) -> FloatArray:
    """Sum over each value and ``reach`` neighbours on either side."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    index = np.arange(values.size)
    return np.asarray(
        total[np.minimum(index + reach + 1, values.size)] - total[np.maximum(index - reach, 0)]
    )


def _run(
    centre_hz: FloatArray, power: FloatArray, variance: FloatArray, firm: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean power of partials over frequency, its basis (n, K) and the precision of the fit (K, K).

    Powers about the run m are exponentially distributed (mean m) with noise on top, so that their
    variance is m² + v; log m is piecewise linear between knots with small second differences,
    fitted by scoring. Cells that are not ``firm`` enter by the mean of their neighbourhood and
    only where that lies below the run: noise must not lift it.
    """
    span = float(centre_hz[-1] - centre_hz[0])
    n_knots = min(max(3, round(span / KNOT_HZ) + 1), max(3, centre_hz.size // 2))
    basis, stiff = _basis_of(centre_hz, n_knots)
    around = _running(power, NEAR) / _running(np.ones_like(power), NEAR)
    seen = np.where(firm, power, around)
    weight = np.where(firm, 1.0, 0.02)
    start = np.log(np.maximum(power, 0.1 * np.sqrt(variance)))
    ridge = 1e-6 * np.eye(n_knots)
    height = np.linalg.solve(
        basis.T @ (weight[:, None] * basis) + stiff + ridge, basis.T @ (weight * start)
    )
    for _ in range(10):
        run = np.exp(np.minimum(np.maximum(basis @ height, -80.0), 40.0))
        weight = run**2 / (run**2 + variance)
        score = (seen - run) / run * weight
        used = firm | (score < 0.0)
        weight, score = np.where(used, weight, 0.0), np.where(used, score, 0.0)
        precision = basis.T @ (weight[:, None] * basis) + stiff + ridge
        step = np.linalg.solve(precision, basis.T @ score - stiff @ height)
        largest = float(np.abs(step).max())
        height = height + step / max(1.0, largest / 2.0)
        if largest < 0.1:
            break
    return np.exp(np.minimum(np.maximum(basis @ height, -80.0), 40.0)), basis, precision


def _basis_of(centre_hz: FloatArray, n_knots: int) -> tuple[FloatArray, FloatArray]:
    """Hat functions (n, K) and the penalty on their second differences (K, K)."""
    knots = np.linspace(centre_hz[0], centre_hz[-1], n_knots)
    basis = np.maximum(0.0, 1.0 - np.abs(centre_hz[:, None] - knots) / (knots[1] - knots[0]))
    bend = np.diff(np.eye(n_knots), 2, axis=0)
    return basis, STIFFNESS * bend.T @ bend
