"""Least-squares fit of damped sinusoids to band signals, many bands at once.

Model of one band: ``z(t) = sum_p exp(a_p + s_p t) + sum_k h_k exp(i omega_k t) + noise`` with
complex log amplitude a_p, complex rate s_p = -sigma_p + i omega_p, and mains lines h_k of known
frequency and known mean square, which enter as a Gaussian prior. The model is analytic in a, s and
h, so one complex Levenberg–Marquardt step solves for all of them; in white noise its minimum is the
maximum-likelihood estimate and reaches the Cramér–Rao bound at useful signal-to-noise ratios
(Rife & Boorstyn 1974 for the undamped case).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.measure.model import FloatArray
from tonecompare.measure.signal import ComplexArray

_ITERATIONS = 12
_CONVERGED = 1e-9
#: Growth or decay beyond this (per second) is not a string; keeps a wild step finite.
_WILDEST_RATE = 400.0


@dataclass(frozen=True)
class DampedFit:
    """Result per band (n) and component (P), strongest component first.

    ``amplitude`` (n, P) complex at t = 0 of the time axis handed in; ``rate`` (n, P) complex,
    -sigma + i omega relative to the band's centre; ``rate_sd`` (n, P) standard uncertainty of its
    real and of its imaginary part, 1/s; ``log_amplitude_sd`` (n, P) the same of log amplitude;
    ``lines`` (n, K) mains lines; ``residual`` (n, T) what is left; ``excess`` (n,) residual power
    over the power the noise alone would leave (1 for a perfect model, inf without noise);
    ``misfit`` (n,) residual energy over signal energy.
    """

    amplitude: ComplexArray
    rate: ComplexArray
    rate_sd: FloatArray
    log_amplitude_sd: FloatArray
    lines: ComplexArray
    residual: ComplexArray
    excess: FloatArray
    misfit: FloatArray


def start_single(z: ComplexArray, rate_hz: float, *, span_s: float = 0.4) -> ComplexArray:
    """First guess of one rate per band from the pulse-pair ratio of the first ``span_s``.

    sum z(t + tau) z*(t) / sum |z(t)|² = exp(s tau) for one damped component; a short lag gives
    the frequency without ambiguity, a longer lag then sharpens it.

    Returns
    -------
    ndarray
        Shape (n, 1), complex rates per second.
    """
    length = max(4, min(z.shape[1], int(span_s * rate_hz)))
    head = z[:, :length]
    rate = np.zeros(z.shape[0], dtype=np.complex128)
    time_s = np.arange(length) / rate_hz
    for lag in (1, max(1, length // 16), max(1, length // 4)):
        turned = head * np.exp(-rate.imag[:, None] * 1j * time_s)
        below = np.sum(np.abs(turned[:, :-lag]) ** 2, axis=1)
        ratio = np.sum(turned[:, lag:] * turned[:, :-lag].conj(), axis=1) / np.maximum(
            below, np.finfo(float).tiny
        )
        step = np.log(np.where(np.abs(ratio) > 1e-6, ratio, 1e-6)) * (rate_hz / lag)
        rate = np.clip(step.real, -200.0, -0.02) + 1j * (rate.imag + step.imag)
    return rate[:, None]


def start_pair(z: ComplexArray, rate_hz: float) -> ComplexArray:
    """First guess of two rates per band.

    The band signal is thinned to about 40 values a second (two polarisations lie a few hertz
    apart at most; a mean of neighbours keeps the rates exactly). Candidates come from rotational
    invariance (ESPRIT, Roy & Kailath 1989) on that signal and on one of about 60 values over the
    whole ring, which resolves slow beats, and from splitting the single rate by a fraction of a
    turn over the ring, for beats slower than the ring is long. The pair of least residual is
    refined on the thinned signal.

    Returns
    -------
    ndarray
        Shape (n, 2), complex rates per second.
    """
    thinned, thin_hz = _thinned(z, rate_hz, max(1, round(rate_hz / 40.0)))
    candidates = [_invariant_pair(thinned, thin_hz, order=12)]
    coarse, coarse_hz = _thinned(thinned, thin_hz, max(1, thinned.shape[1] // 60))
    if coarse_hz < thin_hz:
        candidates.append(_invariant_pair(coarse, coarse_hz, order=20))
    one = start_single(z, rate_hz)
    turn = 2.0 * np.pi / (thinned.shape[1] / thin_hz)
    for share in (-0.6, -0.25, 0.25, 0.6):
        other = 0.6 * one.real + 1j * (one.imag + share * turn)
        candidates.append(np.concatenate([1.15 * one.real + 1j * one.imag, other], axis=1))
    time_s = np.arange(thinned.shape[1]) / thin_hz
    costs = np.stack([_pair_cost(thinned, time_s, pair) for pair in candidates])
    best = np.stack(candidates)[np.argmin(costs, axis=0), np.arange(z.shape[0])]
    nothing = np.zeros(z.shape[0])
    refined = fit_damped(
        thinned, time_s, best, noise_density=nothing, noise_power=nothing, iterations=25
    )
    return refined.rate


def _thinned(z: ComplexArray, rate_hz: float, thin: int) -> tuple[ComplexArray, float]:
    """Means of ``thin`` neighbours and their rate."""
    usable = (z.shape[1] // thin) * thin
    return z[:, :usable].reshape(z.shape[0], -1, thin).mean(axis=2), rate_hz / thin


def _invariant_pair(z: ComplexArray, rate_hz: float, *, order: int) -> ComplexArray:
    """Two rates per band from the shift between the two strongest directions of its covariance."""
    order = min(order, z.shape[1] // 2)
    if order < 3:
        one = start_single(z, rate_hz)
        return np.concatenate([one, one * 1.3 + 1j], axis=1)
    snapshots = np.lib.stride_tricks.sliding_window_view(z, order, axis=1)
    covariance = snapshots.transpose(0, 2, 1) @ snapshots.conj()
    _, vectors = np.linalg.eigh(covariance)
    strongest = vectors[:, :, -2:]
    upper, lower = strongest[:, :-1, :], strongest[:, 1:, :]
    gram = upper.conj().transpose(0, 2, 1) @ upper + 1e-12 * np.eye(2)
    shift = np.linalg.solve(gram, upper.conj().transpose(0, 2, 1) @ lower)
    poles = np.linalg.eigvals(shift)
    poles = np.where(np.abs(poles) > 1e-6, poles, 1e-6)
    rates = np.log(poles) * rate_hz
    return np.asarray(np.clip(rates.real, -100.0, -0.05) + 1j * rates.imag)


def _pair_cost(z: ComplexArray, time_s: FloatArray, rate: ComplexArray) -> FloatArray:
    """Energy that the best amplitudes of two given rates leave."""
    basis = np.exp(rate[:, :, None] * time_s)
    gram = basis.conj() @ basis.transpose(0, 2, 1)
    index = np.arange(2)
    gram[:, index, index] *= 1.0 + 1e-9
    right = basis.conj() @ z[:, :, None]
    taken = np.sum(right.conj() * np.linalg.solve(gram, right), axis=(1, 2)).real
    return np.asarray(np.sum(np.abs(z) ** 2, axis=1) - taken)


def fit_damped(
    z: ComplexArray,
    time_s: FloatArray,
    start: ComplexArray,
    *,
    noise_density: FloatArray,
    noise_power: FloatArray,
    line_rate: ComplexArray | None = None,
    line_power: FloatArray | None = None,
    iterations: int = _ITERATIONS,
) -> DampedFit:
    """Fit damped sinusoids and mains lines to band signals.

    Parameters
    ----------
    z
        Band signals, shape (n, T), peak amplitude.
    time_s
        Times, shape (T,).
    start
        First guess of the rates, shape (n, P).
    noise_density
        White-equivalent variance of a sample near the line, shape (n,): 2 S f_b for a one-sided
        density S of the recording and a band rate f_b. Zero when unknown.
    noise_power
        Expected mean |z|² of noise alone, shape (n,). Zero when unknown.
    line_rate, line_power
        i omega_k relative to the centre and mean |h|² expected, shape (n, K); zero power switches
        a line off.

    Returns
    -------
    DampedFit
    """
    n = start.shape[0]
    if line_rate is None or line_power is None:
        line_rate = np.zeros((n, 0), dtype=np.complex128)
        line_power = np.zeros((n, 0))
    lines_basis = np.exp(line_rate[:, :, None] * time_s[None, None, :])
    lines_basis = lines_basis * (line_power > 0.0)[:, :, None]
    scale = np.maximum(noise_density, 1e-30 + 1e-12 * np.mean(np.abs(z) ** 2, axis=1))
    penalty = scale[:, None] / np.maximum(line_power, 1e-300)
    penalty = np.where(line_power > 0.0, penalty, 1.0)

    state = _State.begin(z, time_s, start, lines_basis, penalty)
    damping = np.full(n, 1e-3)
    for _ in range(iterations):
        step = state.step(damping)
        trial = state.moved(step)
        better = trial.cost <= state.cost
        gain = (state.cost - trial.cost) / np.maximum(state.cost, 1e-300)
        state = state.merged(trial, better)
        damping = np.where(better, damping * 0.1, damping * 10.0)
        if np.all(~better | (gain < _CONVERGED)) and np.all(damping < 1e3):
            break
    return _finish(state, noise_density, noise_power)


@dataclass(frozen=True)
class _State:
    """Parameters of all bands with the residual and cost they give."""

    z: ComplexArray
    time_s: FloatArray
    log_amplitude: ComplexArray
    rate: ComplexArray
    lines: ComplexArray
    lines_basis: ComplexArray
    penalty: FloatArray
    components: ComplexArray
    residual: ComplexArray
    cost: FloatArray

    @classmethod
    def begin(
        cls,
        z: ComplexArray,
        time_s: FloatArray,
        rate: ComplexArray,
        lines_basis: ComplexArray,
        penalty: FloatArray,
    ) -> _State:
        """Solve the linear part (amplitudes, lines) for the first rates."""
        basis = np.exp(rate[:, :, None] * time_s)
        columns = np.concatenate([basis, lines_basis], axis=1)
        normal = np.einsum("npt,nqt->npq", columns.conj(), columns)
        ridge = np.concatenate([1e-9 * np.abs(np.einsum("npp->np", normal))[:, : rate.shape[1]],
                                penalty], axis=1)  # fmt: skip
        normal += np.einsum("np,pq->npq", ridge + 1e-300, np.eye(normal.shape[1]))
        right = np.einsum("npt,nt->np", columns.conj(), z)
        solved = np.linalg.solve(normal, right[..., None])[..., 0]
        amplitude = solved[:, : rate.shape[1]]
        log_amplitude = np.log(np.where(np.abs(amplitude) > 1e-300, amplitude, 1e-300))
        lines = solved[:, rate.shape[1] :]
        return cls._of(z, time_s, log_amplitude, rate, lines, lines_basis, penalty)

    @classmethod
    def _of(
        cls,
        z: ComplexArray,
        time_s: FloatArray,
        log_amplitude: ComplexArray,
        rate: ComplexArray,
        lines: ComplexArray,
        lines_basis: ComplexArray,
        penalty: FloatArray,
    ) -> _State:
        rate = np.clip(rate.real, -_WILDEST_RATE, 5.0) + 1j * rate.imag
        exponent = log_amplitude[:, :, None] + rate[:, :, None] * time_s
        components = np.exp(np.minimum(exponent.real, 50.0) + 1j * exponent.imag)
        residual = z - components.sum(axis=1)
        if lines.shape[1]:
            residual = residual - np.einsum("nk,nkt->nt", lines, lines_basis)
        cost = np.sum(residual.real**2 + residual.imag**2, axis=1)
        cost = cost + np.sum(penalty * np.abs(lines) ** 2, axis=1)
        return cls(z, time_s, log_amplitude, rate, lines, lines_basis, penalty, components,
                   residual, cost)  # fmt: skip

    def normal_matrix(self) -> tuple[ComplexArray, ComplexArray]:
        """Return the normal matrix (n, 2P + K, 2P + K) and the columns it is made from."""
        columns: ComplexArray = np.concatenate(
            [self.components, self.components * self.time_s, self.lines_basis], axis=1
        )
        normal: ComplexArray = np.asarray(
            columns.conj() @ columns.transpose(0, 2, 1), dtype=np.complex128
        )
        k = self.lines.shape[1]
        if k:
            index = np.arange(normal.shape[1] - k, normal.shape[1])
            normal[:, index, index] += self.penalty
        return normal, columns

    def step(self, damping: FloatArray) -> ComplexArray:
        """One Levenberg–Marquardt step."""
        normal, columns = self.normal_matrix()
        right = (columns.conj() @ self.residual[:, :, None])[..., 0]
        k = self.lines.shape[1]
        if k:
            right[:, right.shape[1] - k :] -= self.penalty * self.lines
        size = normal.shape[1]
        index = np.arange(size)
        diagonal = np.abs(normal[:, index, index])
        damped = normal.copy()
        damped[:, index, index] += (
            damping[:, None] * diagonal + 1e-14 * diagonal.max(axis=1, keepdims=True) + 1e-300
        )
        return np.asarray(np.linalg.solve(damped, right[..., None])[..., 0], dtype=np.complex128)

    def moved(self, step: ComplexArray) -> _State:
        """Return the state after a step."""
        p = self.rate.shape[1]
        limit = np.maximum(1.0, np.abs(step[:, :p]))
        return self._of(
            self.z,
            self.time_s,
            self.log_amplitude + step[:, :p] / limit,
            self.rate + step[:, p : 2 * p] / limit,
            self.lines + step[:, 2 * p :],
            self.lines_basis,
            self.penalty,
        )

    def merged(self, other: _State, take: np.ndarray) -> _State:
        """Row by row the other state where ``take``."""
        row, cube = take[:, None], take[:, None, None]
        return _State(
            self.z,
            self.time_s,
            np.where(row, other.log_amplitude, self.log_amplitude),
            np.where(row, other.rate, self.rate),
            np.where(row, other.lines, self.lines),
            self.lines_basis,
            self.penalty,
            np.where(cube, other.components, self.components),
            np.where(row, other.residual, self.residual),
            np.where(take, other.cost, self.cost),
        )


def _finish(state: _State, noise_density: FloatArray, noise_power: FloatArray) -> DampedFit:
    """Order the components, and give each its uncertainty from noise or from what is left."""
    n_times = state.z.shape[1]
    energy = np.sum(np.abs(state.z) ** 2, axis=1)
    left = np.sum(np.abs(state.residual) ** 2, axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        excess = np.where(noise_power > 0.0, left / (n_times * noise_power), np.inf)
    normal, _ = state.normal_matrix()
    index = np.arange(normal.shape[1])
    normal[:, index, index] *= 1.0 + 1e-12
    inverse = np.linalg.pinv(normal, hermitian=True)
    variance = np.maximum(noise_density, _density_left(state))
    p = state.rate.shape[1]
    sd = np.sqrt(np.maximum(np.einsum("nii->ni", inverse).real, 0.0) * variance[:, None] / 2.0)
    order = np.argsort(-np.abs(np.exp(state.log_amplitude.real)), axis=1)

    def pick(values: np.ndarray) -> np.ndarray:
        return np.take_along_axis(values, order, axis=1)

    return DampedFit(
        amplitude=pick(np.exp(state.log_amplitude)),
        rate=pick(state.rate),
        rate_sd=pick(sd[:, p : 2 * p]),
        log_amplitude_sd=pick(sd[:, :p]),
        lines=state.lines,
        residual=state.residual,
        excess=excess,
        misfit=left / np.maximum(energy, np.finfo(float).tiny),
    )


def _density_left(state: _State) -> FloatArray:
    """White-equivalent variance of what is left near the strongest component.

    The residual is turned down to the component's frequency and its spectrum averaged over the
    nearest bins (about ±4 Hz), so that slow misfit (beating, glide) widens the interval.
    """
    n_times = state.z.shape[1]
    strongest = np.argmax(state.log_amplitude.real, axis=1)
    omega = np.take_along_axis(state.rate.imag, strongest[:, None], axis=1)
    turned = state.residual * np.exp(-1j * omega * state.time_s)
    span_s = max(float(state.time_s[-1] - state.time_s[0]), 1e-3)
    bins = int(np.clip(np.ceil(4.0 * span_s), 3, n_times // 2))
    spectrum = np.abs(np.fft.fft(turned, axis=1)) ** 2 / n_times
    near = np.concatenate([spectrum[:, : bins + 1], spectrum[:, -bins:]], axis=1)
    lost = 2.0 * state.rate.shape[1]
    return np.asarray(near.sum(axis=1) / max(near.shape[1] - lost, 1.0))
