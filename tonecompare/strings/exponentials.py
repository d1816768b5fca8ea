"""Fast exact sampling of sums of decaying exponentials, also behind a smooth release.

Everything the string model puts out is Re Σ A_k exp(λ_k t): modes, filter transients, hum lines.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray

ComplexArray = NDArray[np.complex128]

_BLOCK = 256
#: Contributions below this sample value (−180 dBFS) are dropped as they decay.
_NEGLIGIBLE = 1e-9


def sum_exponentials(
    rates: ComplexArray, amplitudes: ComplexArray, *, first_s: float, rate_hz: float, n: int
) -> FloatArray:
    """Sample Re Σ_k amplitudes_k exp(rates_k t) at t = first_s + i/rate_hz, i = 0 … n−1.

    exp(λ(a + b)) = exp(λa) exp(λb) turns the sum into one matrix product per stretch.

    Parameters
    ----------
    rates
        λ per second, shape (K,); Re λ ≤ 0.
    amplitudes
        Shape (K,).
    first_s, rate_hz, n
        Time of the first sample, sample rate and how many samples.

    Returns
    -------
    samples
        Shape (n,), float64.
    """
    out = np.zeros(n)
    # Real parts contiguous: a strided view would keep the product from BLAS.
    grid = np.exp(np.multiply.outer(rates, np.arange(_BLOCK) / rate_hz))
    grid_re, grid_im = grid.real.copy(), grid.imag.copy()
    done, stretch = 0, _BLOCK * 8
    while done < n:
        start_s = first_s + done / rate_hz
        alive = np.abs(amplitudes) * np.exp(rates.real * start_s) > _NEGLIGIBLE
        if not np.all(alive):
            rates, amplitudes = rates[alive], amplitudes[alive]
            grid_re, grid_im = grid_re[alive], grid_im[alive]
        if rates.size == 0:
            break
        count = min(stretch, n - done)
        blocks = -(-count // _BLOCK)
        starts = start_s + np.arange(blocks) * (_BLOCK / rate_hz)
        outer = amplitudes * np.exp(np.multiply.outer(starts, rates))
        piece = outer.real.copy() @ grid_re - outer.imag.copy() @ grid_im
        out[done : done + count] = piece.ravel()[:count]
        done += count
        stretch *= 2
    return out


def release_gain(rates: ComplexArray, release_s: float) -> ComplexArray:
    """K(λ) = ∫ k(s) exp(−λs) ds of the release weight k(s) = (1 − cos(2πs/r))/r on 0 … r.

    Parameters
    ----------
    rates
        λ per second, shape (K,).
    release_s
        r in seconds, above zero.

    Returns
    -------
    gain
        Shape (K,); 1 at λ = 0.
    """
    mu2 = -((2 * np.pi / release_s) ** 2)
    slow = np.abs(rates) * release_s < 1e-7
    safe = np.where(slow, 1.0 / release_s, rates)
    gain = np.expm1(-safe * release_s) / release_s * (safe / (safe**2 - mu2) - 1.0 / safe)
    return np.asarray(np.where(slow, 1.0 - rates * release_s / 2, gain), dtype=np.complex128)


def release_head(
    rates: ComplexArray, amplitudes: ComplexArray, times_s: FloatArray, release_s: float
) -> FloatArray:
    """Re Σ A ∫_0^t k(s) exp(λ(t − s)) ds during the release, 0 ≤ t ≤ r; shape of ``times_s``."""
    total = np.zeros((times_s.size, rates.size), dtype=np.complex128)
    decaying = np.exp(np.multiply.outer(times_s, rates))
    for mu, weight in ((0.0, 1.0), (2j * np.pi / release_s, -0.5), (-2j * np.pi / release_s, -0.5)):
        gap = np.where(np.abs(mu - rates) < 1e-6, 1e-6, mu - rates)
        total += weight * (np.exp(mu * times_s)[:, None] - decaying) / gap
    return np.asarray((total @ amplitudes).real / release_s, dtype=np.float64)


def released_exponentials(
    rates: ComplexArray,
    amplitudes: ComplexArray,
    *,
    release_s: float,
    start_s: float,
    rate_hz: float,
    n: int,
) -> FloatArray:
    """Sample Σ A (k * exp(λt)) from a release that begins at ``start_s``; zero before it.

    Parameters
    ----------
    rates, amplitudes
        Shape (K,).
    release_s
        Length of the release weight k.
    start_s
        Start of the release on the recording's clock (any fraction of a sample).
    rate_hz, n
        Sampling: sample i stands at i/rate_hz.

    Returns
    -------
    samples
        Shape (n,), float64.
    """
    out = np.zeros(n)
    first = max(int(np.ceil(start_s * rate_hz)), 0)
    tail = max(int(np.ceil((start_s + release_s) * rate_hz)), 0)
    head = np.arange(first, min(tail, n)) / rate_hz - start_s
    if head.size:
        out[first : first + head.size] = release_head(rates, amplitudes, head, release_s)
    if tail < n:
        out[tail:] = sum_exponentials(
            rates,
            amplitudes * release_gain(rates, release_s),
            first_s=tail / rate_hz - start_s,
            rate_hz=rate_hz,
            n=n - tail,
        )
    return out
