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
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import ComplexArray

_ITERATIONS = 14
#: A step that lowers the cost by a smaller share moves nothing by a tenth of its uncertainty.
_CONVERGED = 1e-5
#: Growth or decay beyond this (per second) is not a string; keeps a wild step finite.
_WILDEST_RATE = 400.0


@dataclass(frozen=True)
class DampedFit:
    """Result per band (n) and component (P), strongest component first.

    ``amplitude`` (n, P) complex at t = 0 of the time axis handed in; ``rate`` (n, P) complex,
    -sigma + i omega relative to the band's centre; ``rate_sd`` (n, P) standard uncertainty of its
    real and of its imaginary part, 1/s; ``log_amplitude_sd`` (n, P) the same of log amplitude;
    ``lines`` (n, K) mains lines; ``excess`` (n,) residual power
    over the power the noise alone would leave, in the whole band or within ±4 Hz of the strongest
    component, whichever is larger (1 for a perfect model, inf without noise);
    ``misfit`` (n,) residual energy over signal energy; ``cost`` (n,) the residual energy and what
    the lines' prior adds: over the noise density it is -log likelihood; ``converged`` (n,) whether
    the last steps moved nothing that counts, ``iterations`` (n,) how many steps were tried.
    """

    amplitude: ComplexArray
    rate: ComplexArray
    rate_sd: FloatArray
    log_amplitude_sd: FloatArray
    lines: ComplexArray
    excess: FloatArray
    misfit: FloatArray
    cost: FloatArray
    converged: NDArray[np.bool_]
    iterations: NDArray[np.intp]


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
    lines_basis *= (line_power > 0.0)[:, :, None]
    scale = np.maximum(noise_density, 1e-30 + 1e-12 * np.mean(np.abs(z) ** 2, axis=1))
    penalty = scale[:, None] / np.maximum(line_power, 1e-300)
    penalty = np.where(line_power > 0.0, penalty, 1.0)
    state = _State.begin(z, time_s, start, lines_basis, penalty)
    converged, tried = _minimise(state, iterations)
    return _finish(state, noise_density, noise_power, converged, tried)


def exponentials(rate: ComplexArray, time_s: FloatArray) -> ComplexArray:
    """exp(s t) on a uniform grid of times, shape (n, P, T), from the product of two short rows."""
    n_times = time_s.size
    row = max(1, int(np.sqrt(n_times)))
    step_s = (float(time_s[-1]) - float(time_s[0])) / max(n_times - 1, 1)
    fine = _floored_exp(rate[:, :, None] * (np.arange(row) * step_s))
    coarse_s = float(time_s[0]) + np.arange(0, n_times, row) * step_s
    coarse = _floored_exp(rate[:, :, None] * coarse_s)
    product: ComplexArray = coarse[:, :, :, None] * fine[:, :, None, :]
    return product.reshape(*rate.shape, -1)[:, :, :n_times]


def _floored_exp(exponent: ComplexArray) -> ComplexArray:
    """Exp, held above 1e-26: squares of less are denormal numbers, ten times as slow."""
    np.maximum(exponent.real, -60.0, out=exponent.real)
    return np.asarray(np.exp(exponent))


def _minimise(state: _State, iterations: int) -> tuple[NDArray[np.bool_], NDArray[np.intp]]:
    """Levenberg–Marquardt in place; bands that have settled take no further part.

    Returns which bands settled and after how many steps.
    """
    n = state.z.shape[0]
    damping = np.full(n, 1e-3)
    active = np.arange(n)
    tried = np.zeros(n, dtype=np.intp)
    for _ in range(iterations):
        tried[active] += 1
        part = state.rows(active) if active.size < n else state
        trial = part.moved(part.step(damping[active]))
        better = trial.cost <= part.cost
        gain = (part.cost - trial.cost) / np.maximum(part.cost, 1e-300)
        state.take(trial, active, better)
        damping[active] = np.where(better, damping[active] * 0.1, damping[active] * 10.0)
        settled = (better & (gain < _CONVERGED)) | (~better & (damping[active] >= 1.0))
        active = active[~settled]
        if active.size == 0:
            break
    converged = np.ones(n, dtype=np.bool_)
    converged[active] = False
    return converged, tried


@dataclass
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
        columns = np.concatenate([exponentials(rate, time_s), lines_basis], axis=1)
        turned = columns.conj()
        normal = turned @ columns.transpose(0, 2, 1)
        index = np.arange(normal.shape[1])
        p = rate.shape[1]
        normal[:, index[:p], index[:p]] *= 1.0 + 1e-9
        normal[:, index[p:], index[p:]] += penalty
        normal[:, index, index] += 1e-300
        right = (turned @ z[:, :, None])[..., 0]
        solved = np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], dtype=np.complex128)
        amplitude = solved[:, : rate.shape[1]]
        log_amplitude: ComplexArray = np.log(
            np.where(np.abs(amplitude) > 1e-300, amplitude, 1e-300)
        )
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
        components = np.exp(log_amplitude)[:, :, None] * exponentials(rate, time_s)
        residual = z - components.sum(axis=1)
        if lines.shape[1]:
            residual = residual - (lines[:, None, :] @ lines_basis)[:, 0]
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

    def rows(self, index: NDArray[np.intp]) -> _State:
        """Return some of the bands."""
        return _State(
            self.z[index], self.time_s, self.log_amplitude[index], self.rate[index],
            self.lines[index], self.lines_basis[index], self.penalty[index],
            self.components[index], self.residual[index], self.cost[index],
        )  # fmt: skip

    def take(self, other: _State, index: NDArray[np.intp], better: NDArray[np.bool_]) -> None:
        """Overwrite the bands ``index[better]`` with those of another state."""
        to, source = index[better], np.flatnonzero(better)
        for name in ("log_amplitude", "rate", "lines", "components", "residual", "cost"):
            getattr(self, name)[to] = getattr(other, name)[source]


def _finish(
    state: _State,
    noise_density: FloatArray,
    noise_power: FloatArray,
    converged: NDArray[np.bool_],
    iterations: NDArray[np.intp],
) -> DampedFit:
    """Order the components, and give each its uncertainty from noise or from what is left."""
    n_times = state.z.shape[1]
    energy = np.sum(np.abs(state.z) ** 2, axis=1)
    left = np.sum(np.abs(state.residual) ** 2, axis=1)
    density_left = _density_left(state)
    with np.errstate(divide="ignore", invalid="ignore"):
        # A second component hides in a few hertz, where the noise of the whole band is not.
        excess = np.maximum(left / (n_times * noise_power), density_left / noise_density)
        excess = np.where(noise_power > 0.0, excess, np.inf)
    normal, _ = state.normal_matrix()
    index = np.arange(normal.shape[1])
    # Scaled to ones on the diagonal; the small ridge keeps components that coincide solvable.
    size = np.sqrt(np.maximum(normal[:, index, index].real, 1e-300))
    normal /= size[:, :, None] * size[:, None, :]
    normal[:, index, index] += 1e-11
    inverse = np.linalg.inv(normal)[:, index, index].real / size**2
    variance = np.maximum(noise_density, density_left)
    p = state.rate.shape[1]
    sd = np.sqrt(np.maximum(inverse, 0.0) * variance[:, None] / 2.0)
    order = np.argsort(-np.abs(np.exp(state.log_amplitude.real)), axis=1)

    def pick(values: np.ndarray) -> np.ndarray:
        return np.take_along_axis(values, order, axis=1)

    return DampedFit(
        amplitude=pick(np.exp(state.log_amplitude)),
        rate=pick(state.rate),
        rate_sd=pick(sd[:, p : 2 * p]),
        log_amplitude_sd=pick(sd[:, :p]),
        lines=state.lines,
        excess=excess,
        misfit=left / np.maximum(energy, np.finfo(float).tiny),
        cost=state.cost,
        converged=converged,
        iterations=iterations,
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
