"""Parameters of damped sinusoids in many bands, what they leave, and the next step.

One complex Gauss–Newton step solves for amplitudes, rates and mains lines together: the model is
analytic in all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.exponential_rows import TimeGrids
from tonecompare.measure.signal import ComplexArray

#: Decay or growth beyond these (per second) is not a string; keeps a wild step finite.
_WILDEST_RATE, _FASTEST_GROWTH = 400.0, 5.0


def energy_of(z: ComplexArray) -> FloatArray:
    """Sum of |z|² along the last axis of (n, T)."""
    parts = z.view(np.float64)
    return np.asarray(np.einsum("nt,nt->n", parts, parts))


@dataclass(frozen=True)
class BandLines:
    """Mains lines of the few bands that have any: ``rows`` (m,) which, ``basis`` (m, K, T)."""

    rows: NDArray[np.intp]
    basis: ComplexArray
    gram: ComplexArray

    @classmethod
    def of(cls, rate: ComplexArray, power: FloatArray, grids: TimeGrids) -> BandLines:
        """Collect the lines of some power, of rates (n, K)."""
        rows = np.flatnonzero((power > 0.0).any(axis=1))
        basis = np.empty((rows.size, rate.shape[1], grids.time_s.shape[1]), dtype=np.complex128)
        if rows.size:
            there = (power[rows] > 0.0).astype(np.complex128)
            grids.rows(rows).fill(basis, there, rate[rows])
        return cls(rows, basis, basis.conj() @ basis.transpose(0, 2, 1))

    def among(self, index: NDArray[np.intp]) -> BandLines:
        """Return the lines of some of the bands, ``index`` ascending."""
        if not self.rows.size:
            return self
        at = np.searchsorted(index[:-1], self.rows)
        keep = index[at] == self.rows
        return BandLines(at[keep], self.basis[keep], self.gram[keep])


@dataclass
class State:
    """Parameters of all bands with the residual and cost they give.

    ``z`` (n, T) is 0 beyond a band's own grid of times. ``work`` (n, 2P + 1, T) holds the
    components, room for their products with time, and the residual.
    """

    z: ComplexArray
    grids: TimeGrids
    log_amplitude: ComplexArray
    rate: ComplexArray
    lines: ComplexArray
    of_lines: BandLines
    penalty: FloatArray
    work: ComplexArray
    cost: FloatArray

    @classmethod
    def begin(
        cls,
        z: ComplexArray,
        grids: TimeGrids,
        rate: ComplexArray,
        of_lines: BandLines,
        penalty: FloatArray,
    ) -> State:
        """Solve the linear part (amplitudes, lines) for the first rates."""
        n, p = rate.shape
        rate = _bounded(rate)
        work = np.empty((n, 2 * p + 1, z.shape[1]), dtype=np.complex128)
        grids.fill(work[:, :p], np.ones_like(rate), rate)
        work[:, p] = z
        normal, right = _normal(work[:, : p + 1], of_lines, penalty)
        index = np.arange(normal.shape[1])
        normal[:, index[:p], index[:p]] *= 1.0 + 1e-9
        normal[:, index, index] += 1e-300
        solved = np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], dtype=np.complex128)
        amplitude = np.where(np.abs(solved[:, :p]) > 1e-300, solved[:, :p], 1e-300)
        work[:, :p] *= amplitude[:, :, None]
        return cls._of(z, grids, np.log(amplitude), rate, solved[:, p:], of_lines, penalty, work)

    @classmethod
    def _of(
        cls,
        z: ComplexArray,
        grids: TimeGrids,
        log_amplitude: ComplexArray,
        rate: ComplexArray,
        lines: ComplexArray,
        of_lines: BandLines,
        penalty: FloatArray,
        work: ComplexArray,
    ) -> State:
        """Work out residual and cost of components that are filled in."""
        p = rate.shape[1]
        residual = work[:, 2 * p]
        np.subtract(z, work[:, 0], out=residual)
        for component in range(1, p):
            residual -= work[:, component]
        cost = energy_of(residual)
        rows = of_lines.rows
        if rows.size:
            residual[rows] -= (lines[rows, None, :] @ of_lines.basis)[:, 0]
            cost = energy_of(residual) + np.sum(penalty * np.abs(lines) ** 2, axis=1)
        return cls(z, grids, log_amplitude, rate, lines, of_lines, penalty, work, cost)

    @property
    def residual(self) -> ComplexArray:
        """What the model leaves, shape (n, T)."""
        return self.work[:, -1]

    def normal_matrix(self) -> tuple[ComplexArray, ComplexArray]:
        """Return the normal matrix (n, 2P + K, 2P + K) and the right-hand side (n, 2P + K)."""
        p, work = self.rate.shape[1], self.work
        np.multiply(work[:, :p], self.grids.time_s[:, None], out=work[:, p : 2 * p])
        return _normal(work, self.of_lines, self.penalty)

    def step(self, damping: FloatArray) -> ComplexArray:
        """One Levenberg–Marquardt step."""
        normal, right = self.normal_matrix()
        k = self.lines.shape[1]
        if k:
            right[:, right.shape[1] - k :] -= self.penalty * self.lines
        on_diagonal = np.einsum("nii->ni", normal)  # a view
        diagonal = np.abs(on_diagonal)
        on_diagonal += (
            damping[:, None] * diagonal + 1e-14 * diagonal.max(axis=1, keepdims=True) + 1e-300
        )
        return np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], dtype=np.complex128)

    def moved(self, step: ComplexArray) -> State:
        """Return the state after a step."""
        p = self.rate.shape[1]
        limit = np.maximum(1.0, np.abs(step[:, :p]))
        log_amplitude = self.log_amplitude + step[:, :p] / limit
        rate = _bounded(self.rate + step[:, p : 2 * p] / limit)
        work = np.empty_like(self.work)
        self.grids.fill(work[:, :p], np.exp(log_amplitude), rate)
        return self._of(
            self.z, self.grids, log_amplitude, rate, self.lines + step[:, 2 * p :],
            self.of_lines, self.penalty, work,
        )  # fmt: skip

    def rows(self, index: NDArray[np.intp]) -> State:
        """Return some of the bands, ``index`` ascending."""
        return State(
            self.z[index], self.grids.rows(index), self.log_amplitude[index], self.rate[index],
            self.lines[index], self.of_lines.among(index), self.penalty[index],
            self.work[index], self.cost[index],
        )  # fmt: skip

    def take(self, other: State, index: NDArray[np.intp], better: NDArray[np.bool_]) -> None:
        """Overwrite the bands ``index[better]`` with those of another state."""
        to, source = index[better], np.flatnonzero(better)
        for name in ("log_amplitude", "rate", "lines", "work", "cost"):
            getattr(self, name)[to] = getattr(other, name)[source]


def _bounded(rate: ComplexArray) -> ComplexArray:
    """Rates that a string may have."""
    bounded = rate.copy()
    np.maximum(rate.real, -_WILDEST_RATE, out=bounded.real)
    np.minimum(bounded.real, _FASTEST_GROWTH, out=bounded.real)
    return bounded


def _normal(
    work: ComplexArray, of_lines: BandLines, penalty: FloatArray
) -> tuple[ComplexArray, ComplexArray]:
    """Return normal matrix and right-hand side of the columns in ``work`` (n, C + 1, T) and lines.

    The last of ``work`` is what is to be explained. Most bands have no line: their rows and columns
    for lines hold the prior alone.
    """
    n, c = work.shape[0], work.shape[1] - 1
    size = c + penalty.shape[1]
    inner = work[:, :c].conj() @ work.transpose(0, 2, 1)
    if size == c:
        return inner[:, :, :c], inner[:, :, c]
    normal = np.zeros((n, size, size), dtype=np.complex128)
    right = np.zeros((n, size), dtype=np.complex128)
    normal[:, :c, :c], right[:, :c] = inner[:, :, :c], inner[:, :, c]
    rows = of_lines.rows
    if rows.size:
        across = of_lines.basis.conj() @ work[rows].transpose(0, 2, 1)
        normal[rows, c:, :c] = across[:, :, :c]
        normal[rows, :c, c:] = across[:, :, :c].conj().transpose(0, 2, 1)
        normal[rows, c:, c:] = of_lines.gram
        right[rows, c:] = across[:, :, c]
    index = np.arange(c, size)
    normal[:, index, index] += penalty
    return normal, right
