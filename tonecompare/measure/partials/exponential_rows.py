"""Exponentials on an even grid of times, each row of them the product of two short ones.

``exp(s (c + f)) = exp(s c) exp(s f)``: c steps through the grid some 15 values at a time, f through
the values between, so that 200 values take 30 exponentials.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import ComplexArray


def exponentials(
    rate: ComplexArray, time_s: FloatArray, amplitude: ComplexArray | None = None
) -> ComplexArray:
    """Return ``a exp(s t)`` on a uniform grid of times, shape (n, P, T); a is 1 when left out."""
    out = np.empty((*rate.shape, padded(time_s.size)), dtype=np.complex128)
    fill(out, np.ones_like(rate) if amplitude is None else amplitude, rate, time_s)
    return out[:, :, : time_s.size]


def padded(n_times: int) -> int:
    """Length of the product of the two rows that hold so many times."""
    row = max(1, int(np.sqrt(n_times)))
    return -(-n_times // row) * row


def fill(
    out: ComplexArray, amplitude: ComplexArray, rate: ComplexArray, time_s: FloatArray
) -> None:
    """Write ``amplitude exp(s t)`` to ``out``, of the padded length."""
    coarse, fine = _two_rows(rate, time_s)
    coarse = coarse * amplitude[:, :, None]
    shape = (*rate.shape, coarse.shape[2], fine.shape[2])
    np.multiply(coarse[:, :, :, None], fine[:, :, None, :], out=out.reshape(shape))


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
