"""Least-squares fit of damped sinusoids to band signals, many bands at once.

Model of one band: ``z(t) = sum_p exp(a_p + s_p t) + sum_k h_k exp(i omega_k t) + noise`` with
complex log amplitude a_p, complex rate s_p = -sigma_p + i omega_p, and mains lines h_k of known
frequency and known mean square, which enter as a Gaussian prior. The model is analytic in a, s and
h, so one complex Levenberg–Marquardt step solves for all of them; in white noise its minimum is the
maximum-likelihood estimate and reaches the Cramér–Rao bound at useful signal-to-noise ratios
(Rife & Boorstyn 1974 for the undamped case).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.exponential_rows import TimeGrids, exponentials, padded_length
from tonecompare.measure.partials.fit_state import BandLines, State, energy_of
from tonecompare.measure.signal import ComplexArray

_ITERATIONS = 14
#: Times that plucks fitted at once have in all: as many as stay near the processor.
_MOST_TIMES = 900
#: A step that lowers the cost by a smaller share moves nothing by a tenth of its uncertainty.
_CONVERGED = 1e-5


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

    def of_pluck(self, rows: slice, n_lines: int) -> DampedFit:
        """Return some of the bands, with their own number of lines."""
        own = {field.name: getattr(self, field.name)[rows] for field in fields(self)}
        own["lines"] = own["lines"][:, :n_lines]
        return DampedFit(**own)


@dataclass(frozen=True)
class BandsToFit:
    """Band signals on one grid of times, and where their fit starts.

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
    """

    z: ComplexArray
    time_s: FloatArray
    start: ComplexArray
    noise_density: FloatArray
    noise_power: FloatArray
    line_rate: ComplexArray
    line_power: FloatArray


def fit_damped(plucks: Sequence[BandsToFit], *, iterations: int = _ITERATIONS) -> list[DampedFit]:
    """Fit damped sinusoids and mains lines to the bands of several plucks.

    Plucks whose grids are padded to the same length are fitted together, which is faster; what is
    found of a band depends on what is fitted beside it by rounding alone.
    """
    found: dict[int, DampedFit] = {}
    lots: dict[tuple[int, int], list[int]] = {}
    for at, each in enumerate(plucks):
        lots.setdefault((padded_length(each.time_s.size), each.start.shape[1]), []).append(at)
    for (length, _), lot in lots.items():
        count = max(1, _MOST_TIMES // length)
        for first in range(0, len(lot), count):
            part = lot[first : first + count]
            fits = _fit_together([plucks[at] for at in part], length, iterations)
            found.update(zip(part, fits, strict=True))
    return [found[at] for at in range(len(plucks))]


def _fit_together(plucks: list[BandsToFit], length: int, iterations: int) -> list[DampedFit]:
    """Fit plucks whose grids are padded to one length."""
    counts = [each.z.shape[0] for each in plucks]
    n_times = np.repeat([each.time_s.size for each in plucks], counts)
    z = _stacked([each.z for each in plucks], length)
    n_lines = max(each.line_rate.shape[1] for each in plucks)
    line_power = _stacked([each.line_power for each in plucks], n_lines)
    line_rate = _stacked([each.line_rate for each in plucks], n_lines)
    density = np.concatenate([each.noise_density for each in plucks])
    scale = np.maximum(density, 1e-30 + 1e-12 * energy_of(z) / n_times)
    penalty = scale[:, None] / np.maximum(line_power, 1e-300)
    penalty = np.where(line_power > 0.0, penalty, 1.0)
    grids = TimeGrids.of([each.time_s for each in plucks], counts)
    lines = BandLines.of(line_rate, line_power, grids)
    start = np.concatenate([each.start for each in plucks])
    state = State.begin(z, grids, start, lines, penalty)
    state, converged, tried = _minimise(state, iterations)
    ends = np.cumsum(counts)
    rows = [slice(end - count, end) for end, count in zip(ends, counts, strict=True)]
    left = [
        _density_left(state, part, each.time_s) for part, each in zip(rows, plucks, strict=True)
    ]
    noise_power = np.concatenate([each.noise_power for each in plucks])
    fit = _finish(state, n_times, density, noise_power, np.concatenate(left), converged, tried)
    return [
        fit.of_pluck(part, each.line_rate.shape[1]) for part, each in zip(rows, plucks, strict=True)
    ]


def _stacked(parts: Sequence[np.ndarray], width: int) -> np.ndarray:
    """Rows of arrays (n, w) under one another, padded with zeros to a width."""
    out = np.zeros((sum(len(part) for part in parts), width), dtype=parts[0].dtype)
    first = 0
    for part in parts:
        out[first : first + len(part), : part.shape[1]] = part
        first += len(part)
    return out


def _minimise(state: State, iterations: int) -> tuple[State, NDArray[np.bool_], NDArray[np.intp]]:
    """Levenberg–Marquardt; bands that have settled take no further part.

    Returns the state, which bands settled and after how many steps.
    """
    n = state.z.shape[0]
    damping = np.full(n, 1e-3)
    active = np.arange(n)
    tried = np.zeros(n, dtype=np.intp)
    for _ in range(iterations):
        tried[active] += 1
        whole = active.size == n
        part = state if whole else state.rows(active)
        trial = part.moved(part.step(damping[active]))
        better = trial.cost <= part.cost
        gain = (part.cost - trial.cost) / np.maximum(part.cost, 1e-300)
        if whole and better.all():
            state = trial
        else:
            state.take(trial, active, better)
        damping[active] = np.where(better, damping[active] * 0.1, damping[active] * 10.0)
        settled = (better & (gain < _CONVERGED)) | (~better & (damping[active] >= 1.0))
        active = active[~settled]
        if active.size == 0:
            break
    converged = np.ones(n, dtype=np.bool_)
    converged[active] = False
    return state, converged, tried


def _finish(
    state: State,
    n_times: NDArray[np.intp],
    noise_density: FloatArray,
    noise_power: FloatArray,
    density_left: FloatArray,
    converged: NDArray[np.bool_],
    iterations: NDArray[np.intp],
) -> DampedFit:
    """Order the components, and give each its uncertainty from noise or from what is left."""
    energy, left = energy_of(state.z), energy_of(state.residual)
    with np.errstate(divide="ignore", invalid="ignore"):
        # A second component hides in a few hertz, where the noise of the whole band is not.
        excess = np.maximum(left / (n_times * noise_power), density_left / noise_density)
        excess = np.where(noise_power > 0.0, excess, np.inf)
    normal, _ = state.normal_matrix()
    index = np.arange(normal.shape[1])
    # Scaled to ones on the diagonal; the small ridge keeps components that coincide solvable.
    size = np.sqrt(np.maximum(normal[:, index, index].real, 1e-300))
    normal = normal / (size[:, :, None] * size[:, None, :])
    normal[:, index, index] += 1e-11
    inverse = np.linalg.inv(normal)[:, index, index].real / size**2
    variance = np.maximum(noise_density, density_left)
    p = state.rate.shape[1]
    sd = np.sqrt(np.maximum(inverse, 0.0) * variance[:, None] / 2.0)
    order = np.argsort(-state.log_amplitude.real, axis=1)

    def pick(values: np.ndarray) -> np.ndarray:
        return values if p == 1 else np.take_along_axis(values, order, axis=1)

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


def _density_left(state: State, rows: slice, time_s: FloatArray) -> FloatArray:
    """White-equivalent variance of what is left near the strongest component of a pluck's bands.

    The residual is turned down to the component's frequency and its spectrum averaged over the
    nearest bins (about ±4 Hz), so that slow misfit (beating, glide) widens the interval.
    """
    n_times = time_s.size
    strongest = np.argmax(state.log_amplitude[rows].real, axis=1)
    omega = state.rate[rows].imag[np.arange(strongest.size), strongest]
    down = exponentials(-1j * omega[:, None], time_s)[:, 0]
    spectrum = scipy.fft.fft(state.residual[rows, :n_times] * down, axis=1)
    span_s = max(float(time_s[-1] - time_s[0]), 1e-3)
    bins = min(max(math.ceil(4.0 * span_s), 3), n_times // 2)
    near = np.concatenate([spectrum[:, : bins + 1], spectrum[:, -bins:]], axis=1)
    lost = 2.0 * state.rate.shape[1]
    return energy_of(near) / float(n_times * max(near.shape[1] - lost, 1.0))
