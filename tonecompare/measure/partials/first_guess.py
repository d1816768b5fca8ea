"""First guesses for the fit of damped sinusoids: one rate per band, or two that beat."""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.exponential_rows import projections
from tonecompare.measure.partials.narrow_bands import means
from tonecompare.measure.signal import ComplexArray


def start_single(z: ComplexArray, rate_hz: float, *, span_s: float = 0.4) -> ComplexArray:
    """First guess of one rate per band from the pulse-pair ratio of the first ``span_s``.

    sum z(t + tau) z*(t) / sum |z(t)|² = exp(s tau) for one damped component; a short lag gives
    the frequency without ambiguity, a longer lag then sharpens it.

    Returns
    -------
    ndarray
        Shape (n, 1), complex rates per second.
    """
    length = min(z.shape[1], max(4, int(span_s * rate_hz)))
    head = z[:, :length]
    rate = np.zeros(z.shape[0], dtype=np.complex128)
    time_s = np.arange(length) / rate_hz
    for lag in (1, max(1, length // 16), max(1, length // 4)):
        turned = head * np.exp(-rate.imag[:, None] * 1j * time_s) if rate.any() else head
        below = np.sum(np.abs(turned[:, :-lag]) ** 2, axis=1)
        ratio = np.sum(turned[:, lag:] * turned[:, :-lag].conj(), axis=1) / np.maximum(
            below, np.finfo(float).tiny
        )
        step = np.log(np.where(np.abs(ratio) > 1e-6, ratio, 1e-6)) * (rate_hz / lag)
        rate = np.minimum(np.maximum(step.real, -200.0), -0.02) + 1j * (rate.imag + step.imag)
    return rate[:, None]


def start_pair(z: ComplexArray, rate_hz: float) -> ComplexArray:
    """First guess of two rates per band.

    The band signal is thinned to about 45 values a second (two polarisations lie a few hertz
    apart at most; a mean of neighbours keeps the rates exactly). Candidates come from rotational
    invariance (ESPRIT, Roy & Kailath 1989) on some 60 to 120 values over the whole ring, which
    resolve slow beats, and from splitting the single rate by a fraction of a turn over the ring,
    for beats slower than the ring is long. The pair of least residual is returned.

    Returns
    -------
    ndarray
        Shape (n, 2), complex rates per second.
    """
    z, rate_hz = _thinned(z, rate_hz, max(1, round(rate_hz / 45.0)))
    coarse, coarse_hz = _thinned(z, rate_hz, max(1, z.shape[1] // 60))
    candidates = [_invariant_pair(coarse, coarse_hz, order=20)]
    one = start_single(z, rate_hz)
    turn = 2.0 * np.pi / (z.shape[1] / rate_hz)
    for share in (-0.6, -0.25, 0.25, 0.6):
        other = 0.6 * one.real + 1j * (one.imag + share * turn)
        candidates.append(np.concatenate([1.15 * one.real + 1j * one.imag, other], axis=1))
    pairs = np.stack(candidates, axis=1)
    time_s = np.arange(z.shape[1]) / rate_hz
    best = np.argmin(_pair_cost(z, time_s, pairs), axis=1)
    return np.asarray(pairs[np.arange(z.shape[0]), best])


def _thinned(z: ComplexArray, rate_hz: float, thin: int) -> tuple[ComplexArray, float]:
    """Means of ``thin`` neighbours and their rate."""
    return means(z, thin), rate_hz / thin


def _invariant_pair(z: ComplexArray, rate_hz: float, *, order: int) -> ComplexArray:
    """Two rates per band from the shift between the two strongest directions of its covariance."""
    order = min(order, z.shape[1] // 2)
    if order < 3:
        one = start_single(z, rate_hz)
        return np.concatenate([one, one * 1.3 + 1j], axis=1)
    snapshots = np.lib.stride_tricks.sliding_window_view(z, order, axis=1)
    covariance = snapshots.transpose(0, 2, 1) @ snapshots.conj()
    strongest = _two_strongest(covariance)
    upper, lower = strongest[:, :-1, :], strongest[:, 1:, :]
    gram = upper.conj().transpose(0, 2, 1) @ upper + 1e-12 * np.eye(2)
    shift = np.linalg.solve(gram, upper.conj().transpose(0, 2, 1) @ lower)
    # Eigenvalues of 2 x 2 matrices in closed form: a twentieth of the time of LAPACK's.
    mean = 0.5 * (shift[:, 0, 0] + shift[:, 1, 1])
    apart = np.sqrt(
        (0.5 * (shift[:, 0, 0] - shift[:, 1, 1])) ** 2 + shift[:, 0, 1] * shift[:, 1, 0]
    )
    poles = np.stack([mean + apart, mean - apart], axis=1)
    poles = np.where(np.abs(poles) > 1e-6, poles, 1e-6)
    rates = np.log(poles) * rate_hz
    return np.asarray(np.minimum(np.maximum(rates.real, -100.0), -0.05) + 1j * rates.imag)


def _two_strongest(covariance: ComplexArray) -> ComplexArray:
    """Directions of the two largest eigenvalues, shape (n, order, 2), by power iteration.

    The first direction is taken out of the matrix before the second is sought.
    """
    first = _strongest(covariance)
    value = first.conj().transpose(0, 2, 1) @ covariance @ first
    second = _strongest(covariance - value * (first @ first.conj().transpose(0, 2, 1)))
    return np.concatenate([first, second], axis=2)


def _strongest(matrix: ComplexArray) -> ComplexArray:
    """Direction of the largest eigenvalue of Hermitian matrices, shape (n, order, 1).

    A column of the matrix's 16th power: a direction of half the eigenvalue is 96 dB down in it.
    """
    trace = np.einsum("nii->n", matrix).real
    # Eigenvalues of 1/order at least, so that no power of them vanishes.
    power = matrix / np.maximum(trace, 1e-300)[:, None, None]
    for _ in range(3):
        power = power @ power
    # Of the 16th power only its diagonal and the column of its largest element are wanted.
    rows = power.view(np.float64)
    column = np.argmax(np.einsum("nij,nij->ni", rows, rows), axis=1)
    vector = power @ power[np.arange(column.size), :, column][:, :, None]
    return np.asarray(vector / np.maximum(np.linalg.norm(vector, axis=1, keepdims=True), 1e-300))


def _pair_cost(z: ComplexArray, time_s: FloatArray, pairs: ComplexArray) -> FloatArray:
    """Energy that the best amplitudes of given pairs of rates leave: (n, C, 2) gives (n, C).

    The times begin at 0.
    """
    n, count = pairs.shape[:2]
    right = projections(z, pairs.reshape(n, -1), time_s).reshape(n, count, 2)
    # A geometric sum over time of exp((s_p* + s_q) t).
    step_s = float(time_s[1] - time_s[0])
    sums = (pairs.conj()[:, :, :, None] + pairs[:, :, None, :]) * step_s
    gram = np.expm1(sums * time_s.size) / np.expm1(sums)
    index = np.arange(2)
    gram[:, :, index, index] *= 1.0 + 1e-9
    solved = np.linalg.solve(gram, right[..., None])[..., 0]
    taken = np.sum(right.conj() * solved, axis=2).real
    return np.asarray(np.sum(np.abs(z) ** 2, axis=1)[:, None] - taken)
