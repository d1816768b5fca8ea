"""Exponentials on an even grid of times, each row of them the product of two short ones.

``exp(s (c + f)) = exp(s c) exp(s f)``: c steps through the grid some 15 values at a time, f through
the values between, so that 200 values take 30 exponentials.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import ComplexArray


@dataclass(frozen=True)
class TimeGrids:
    """Even grids of times, one a row of a batch, padded to one length.

    ``time_s`` (n, length); ``two_rows_s`` (n, 1, row + length / row) the steps between, then every
    so many; ``beyond`` (n, 1, w) which of the last w places lie beyond a row's own grid.
    """

    time_s: FloatArray
    two_rows_s: FloatArray
    row: int
    beyond: NDArray[np.bool_]

    @classmethod
    def of(cls, grids_s: Sequence[FloatArray], counts: Sequence[int]) -> TimeGrids:
        """Repeat each grid for so many rows; all must have the same :func:`padded_length`."""
        row, length = _row(grids_s[0].size), padded_length(grids_s[0].size)
        step_s = [(grid[-1] - grid[0]) / max(grid.size - 1, 1) for grid in grids_s]
        ahead = np.outer(step_s, np.arange(length)).repeat(counts, axis=0)
        time_s = ahead + np.repeat([grid[0] for grid in grids_s], counts)[:, None]
        own = np.repeat([grid.size for grid in grids_s], counts)[:, None]
        return cls(
            time_s,
            np.concatenate([ahead[:, :row], time_s[:, ::row]], axis=1)[:, None],
            row,
            (np.arange(int(own.min()), length) >= own)[:, None],
        )

    def rows(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> TimeGrids:
        """Return some of the rows."""
        return TimeGrids(
            self.time_s[index], self.two_rows_s[index], self.row, self.beyond[index]
        )  # fmt: skip

    def fill(self, out: ComplexArray, amplitude: ComplexArray, rate: ComplexArray) -> None:
        """Write ``amplitude exp(s t)`` to ``out`` (n, P, length), 0 beyond a row's own grid."""
        rows = _floored_exp(rate[:, :, None] * self.two_rows_s)
        coarse = rows[:, :, self.row :] * amplitude[:, :, None]
        shape = (*coarse.shape, self.row)
        np.multiply(coarse[..., None], rows[:, :, None, : self.row], out=out.reshape(shape))
        width = self.beyond.shape[2]
        if width:
            np.copyto(out[:, :, -width:], 0.0, where=self.beyond)


def padded_length(n_times: int) -> int:
    """Length that a grid is padded to: an eighth more at most, whatever else is in the batch."""
    unit = max(_row(n_times), 1 << max(0, n_times.bit_length() - 4))
    return -(-n_times // unit) * unit


def _row(n_times: int) -> int:
    """How many steps lie between, a power of two near the root of the number of times."""
    return 1 << max(0, (n_times.bit_length() + 1) // 2)


def exponentials(
    rate: ComplexArray, time_s: FloatArray, amplitude: ComplexArray | None = None
) -> ComplexArray:
    """Return ``a exp(s t)`` on a uniform grid of times, shape (n, P, T); a is 1 when left out."""
    coarse, fine = _two_rows(rate, time_s)
    if amplitude is not None:
        coarse = coarse * amplitude[:, :, None]
    out = coarse[:, :, :, None] * fine[:, :, None, :]
    return np.asarray(out.reshape(*rate.shape, -1)[:, :, : time_s.size])


def _two_rows(rate: ComplexArray, time_s: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """exp(s t) at every so many times and at the steps between, whose products are all of them."""
    row, times_s = _times(time_s.size, float(time_s[0]), float(time_s[-1]))
    rows = _floored_exp(rate[:, :, None] * times_s)
    return rows[:, :, row:], rows[:, :, :row]


@lru_cache(maxsize=16)
def _times(n_times: int, first_s: float, last_s: float) -> tuple[int, FloatArray]:
    """How many times lie between, and these behind one another: the steps, then every so many."""
    row = max(1, int(np.sqrt(n_times)))
    step_s = (last_s - first_s) / max(n_times - 1, 1)
    times_s = np.concatenate(
        [np.arange(row) * step_s, first_s + np.arange(0, n_times, row) * step_s]
    )
    times_s.flags.writeable = False
    return row, times_s


def projections(z: ComplexArray, rate: ComplexArray, time_s: FloatArray) -> ComplexArray:
    """Sum over time of ``exp(s t)*`` and band signals, (n, T) and (n, P) give (n, P)."""
    coarse, fine = _two_rows(rate, time_s)
    whole = np.zeros((z.shape[0], coarse.shape[2] * fine.shape[2]), dtype=np.complex128)
    whole[:, : time_s.size] = z
    inner = fine.conj() @ whole.reshape(z.shape[0], coarse.shape[2], -1).transpose(0, 2, 1)
    return np.asarray(np.einsum("npt,npt->np", coarse.conj(), inner))


def _floored_exp(exponent: ComplexArray) -> ComplexArray:
    """Exp, held above 1e-26: squares of less are denormal numbers, ten times as slow."""
    np.maximum(exponent.real, -60.0, out=exponent.real)
    return np.asarray(np.exp(exponent, out=exponent))
