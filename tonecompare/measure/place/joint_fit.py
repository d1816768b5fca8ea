"""One model of all plucks of a voice, fitted at once.

The level of partial n of pluck i, 1/n taken out, is

    g_i + s_i lg2(f) + c_i f² + comb(n, p_i)                      each pluck's own
        + comb(u, d) + aperture(u, w) + two coils(u, s)           common, over the wave number u
        + low-pass(f; f_r, Q) + hats(f)                           common, over the frequency f

with g the strength, s_i a slope (pick, string), c the softness of the release (what any smooth
release of finite length does to leading order; a common value and each pluck's own), p the picking
point, d the pickup, w pick and coil width together, s the coil spacing and hats what a real coil
does otherwise, as large as the partials scatter. Gauss-Newton with Huber weights; the plucks' own
parameters are eliminated, so that an iteration costs a few hundred microseconds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.place.combs import ORDER, comb_parts
from tonecompare.measure.place.plucks_as_arrays import SCATTER_DB, Data
from tonecompare.measure.place.voice_parameters import N_LINEAR, Parts, Shape, common_parts, prior

#: Beyond so many standard deviations a partial counts linearly.
HUBER = 2.5
#: Mean of min(z², 2.5²) of a normal z (Huber's proposal 2 for the scatter).
_CAPPED = 0.9776
#: The scatter lies in this range, dB: fits of synthetic partials leave 0.05.
LEAST_SCATTER_DB, MOST_SCATTER_DB = 0.08, 10.0
#: Spread of slopes (dB/octave) and release bends (dB/kHz²) from pluck to pluck.
SLOPE_SD, BEND_SD = 1.5, 0.15
#: Longest step of d, log f_r, log Q, w², s; and of a picking point.
_STEPS: FloatArray = np.array([0.004, 0.15, 0.25, 4e-4, 0.006])
_PICK_STEP = 0.004


@dataclass(frozen=True)
class Joint:
    """A fitted voice.

    ``own`` (I, 3) gain (dB at 1 kHz, of partial 1), slope and bend of each pluck, common values
    included; ``linear`` (16,) common slope, bend, its next order, hats; ``common`` (I, 24) all
    that is common but slope and bend; ``covariance`` (5, 5) of the shape; ``pick_sd`` (I,).
    ``cost`` is minus twice the log posterior, up to a constant, as if partials were independent.
    They are not where a string does not follow the model: repeats of a note then leave the same,
    and so do neighbours. By ``repeat`` and ``neighbour`` (1 = independent) costs are to be divided
    and variances to be multiplied; ``covariance`` and ``pick_sd`` have had it. ``misfit`` (I,) is
    how much worse than the voice a single pluck fits, in variance, at least 1. ``converged`` says
    whether the last step moved nothing that counts, ``iterations`` how many were made.
    """

    shape: Shape
    picks: FloatArray
    pick_sd: FloatArray
    own: FloatArray
    linear: FloatArray
    common: FloatArray
    common_variance: FloatArray
    residual: FloatArray
    covariance: FloatArray
    scatter_db: float
    cost: float
    repeat: float
    neighbour: float
    misfit: FloatArray
    converged: bool
    iterations: int

    @property
    def dependence(self) -> float:
        """By how much the evidence of all partials together is to be divided."""
        return self.repeat * self.neighbour

    @property
    def hats(self) -> FloatArray:
        """What the response has besides the low-pass, dB at the 13 frequencies."""
        return self.linear[3:]


def strengths_db(data: Data, joint: Joint, picks: FloatArray) -> FloatArray:
    """Level of every pluck at 1 kHz with its combs and all that bends taken out, shape (I,).

    A straight line over octaves through what is left; of coil, circuit and release only what
    bends is taken out, since a line of theirs cannot be told from the plucks' own.
    """
    comb, _, doubt = comb_parts(ORDER, picks[:, None], data.fill)
    place = np.zeros_like(data.y)
    if joint.shape.pickup is not None:
        place = comb_parts(data.wave, joint.shape.pickup, data.fill)[0]
    bends = joint.common - place + joint.linear[1] * data.khz2
    weight = data.known / (joint.scatter_db**2 + data.variance + joint.common_variance + doubt**2)
    line = own_columns(data)[:, :, :2]
    weighted = line * weight[:, :, None]
    flat, flat_weighted = line.reshape(-1, 2), weighted.reshape(-1, 2)
    trend = np.linalg.solve(flat_weighted.T @ flat, flat_weighted.T @ bends.ravel())
    left = data.y - comb - place - (bends - line @ trend)
    gram = line.transpose(0, 2, 1) @ weighted + np.diag([1e-9, SLOPE_SD**-2.0 * 1e-2])
    right = weighted.transpose(0, 2, 1) @ left[:, :, None]
    return np.asarray(np.linalg.solve(gram, right)[:, 0, 0])


def own_columns(data: Data) -> FloatArray:
    """Gain, slope and bend of a pluck as columns, shape (I, 24, 3)."""
    return np.stack([np.ones_like(data.octave), data.octave, data.khz2], axis=2)


def fit_joint(
    data: Data,
    shape: Shape,
    picks: FloatArray,
    *,
    scatter_db: float = SCATTER_DB,
    rounds: int = 7,
) -> Joint:
    """Fit the model from a start near the truth.

    Parameters
    ----------
    data
        Usable plucks.
    shape, picks
        Start: common parameters, and picking points (I,) as shares of the sounding length.
    scatter_db
        Scatter of the partials about the model at the start; estimated on the way.
    rounds
        Gauss-Newton steps at most.

    Returns
    -------
    Joint
    """
    problem = _Problem.of(data)
    n_known = int(data.known.sum())
    n_free = 4 * data.n_plucks + int(shape.free.sum()) + 5
    spare = np.sqrt(n_known / max(n_known - n_free, 0.3 * n_known))
    weight: FloatArray | None = None
    converged = False
    for round_ in range(rounds + 1):
        parts = common_parts(data, shape)
        comb, by_pick, doubt = comb_parts(ORDER, picks[:, None], data.fill)
        target = data.y - parts.level - comb
        known_variance = data.variance + parts.variance + doubt**2
        if weight is None:
            weight = data.known / (scatter_db**2 + known_variance)
        step = _solve(problem, by_pick, parts, shape, target, weight, scatter_db)
        if round_ == rounds:
            break
        picks = np.clip(picks + np.clip(step.pick, -_PICK_STEP, _PICK_STEP), 0.004, 0.4999)
        old_shape, before = shape, scatter_db
        shape = shape.moved(np.clip(step.shape, -_STEPS, _STEPS))
        z = np.abs(step.residual) / np.sqrt(scatter_db**2 + known_variance)
        capped = np.minimum(z[data.known], HUBER) ** 2
        scatter_db *= float(np.sqrt(np.mean(capped) / _CAPPED) * spare)
        scatter_db = float(np.clip(scatter_db, LEAST_SCATTER_DB, MOST_SCATTER_DB))
        variance = scatter_db**2 + known_variance
        z = np.abs(step.residual) / np.sqrt(variance)
        weight = data.known * np.minimum(1.0, HUBER / np.maximum(z, 1e-9)) / variance
        # A parameter held at its bound has come to rest, whatever step would lead beyond.
        inside = shape.values() != old_shape.values()
        converged = _still(replace(step, shape=step.shape * inside), scatter_db / before)
        if _still(step, scatter_db / before):
            break
    return _finished(
        data, shape, picks, step, parts, scatter_db**2 + known_variance, scatter_db,
        converged=converged, iterations=min(round_ + 1, rounds),
    )  # fmt: skip


@dataclass(frozen=True)
class _Problem:
    """What stays the same from step to step."""

    y: FloatArray
    own: FloatArray
    linear: FloatArray

    @classmethod
    def of(cls, data: Data) -> _Problem:
        own = own_columns(data)
        linear = np.concatenate([own[:, :, 1:], data.khz2[:, :, None] ** 2, data.hats], axis=2)
        return cls(data.y, own, linear)


@dataclass(frozen=True)
class _Step:
    own: FloatArray
    pick: FloatArray
    linear: FloatArray
    shape: FloatArray
    residual: FloatArray
    covariance: FloatArray
    pick_sd: FloatArray
    prior_cost: float


def _solve(
    problem: _Problem,
    by_pick: FloatArray,
    parts: Parts,
    shape: Shape,
    target: FloatArray,
    weight: FloatArray,
    scatter_db: float,
) -> _Step:
    """One weighted linear least-squares problem, the plucks' own parameters eliminated."""
    own = np.concatenate([problem.own, by_pick[:, :, None]], axis=2)
    common = np.concatenate([problem.linear, parts.jacobian], axis=2)
    precision, mean = prior(shape, scatter_db)
    own_prior = np.diag([1e-8, SLOPE_SD**-2, BEND_SD**-2, 1e-2])
    across = (own * weight[:, :, None]).transpose(0, 2, 1)
    inverse = np.linalg.inv(across @ own + own_prior)
    mixed = across @ common
    right = (across @ target[:, :, None])[:, :, 0]
    reduced = inverse @ mixed
    n_common = common.shape[2]
    flat = common.reshape(-1, n_common)
    flat_weighted = flat * weight.reshape(-1, 1)
    flat_mixed, flat_reduced = mixed.reshape(-1, n_common), reduced.reshape(-1, n_common)
    normal = flat_weighted.T @ flat + precision - flat_mixed.T @ flat_reduced
    rhs = flat_weighted.T @ target.ravel() + precision @ mean - flat_reduced.T @ right.ravel()
    covariance = np.linalg.inv(normal)
    answer = covariance @ rhs
    own_answer = (inverse @ right[:, :, None])[:, :, 0] - reduced @ answer
    residual = target - (own @ own_answer[:, :, None])[:, :, 0] - common @ answer
    row = reduced[:, 3, :]
    pick_var = inverse[:, 3, 3] + np.sum((row @ covariance) * row, axis=1)
    off = answer - mean
    cost = float(off @ precision @ off)
    cost += float(np.sum((own_answer[:, 1] / SLOPE_SD) ** 2 + (own_answer[:, 2] / BEND_SD) ** 2))
    return _Step(
        own=own_answer[:, :3], pick=own_answer[:, 3], linear=answer[:N_LINEAR],
        shape=answer[N_LINEAR:], residual=residual, covariance=covariance[N_LINEAR:, N_LINEAR:],
        pick_sd=np.sqrt(np.maximum(pick_var, 0.0)), prior_cost=cost,
    )  # fmt: skip


def _still(step: _Step, ratio: float) -> bool:
    """Whether no step was longer than a twentieth of its uncertainty and the scatter kept still."""
    sd = np.sqrt(np.diag(step.covariance))
    return bool(
        np.all(np.abs(step.shape) < 0.05 * sd)
        and np.all(np.abs(step.pick) < 0.05 * step.pick_sd + 2e-6)
        and abs(ratio - 1.0) < 0.02
    )


def _finished(
    data: Data,
    shape: Shape,
    picks: FloatArray,
    step: _Step,
    parts: Parts,
    variance: FloatArray,
    scatter_db: float,
    *,
    converged: bool,
    iterations: int,
) -> Joint:
    """Cost, dependence and uncertainties of the last step."""
    z = step.residual / np.sqrt(variance)
    capped = np.where(data.known, np.clip(z, -HUBER, HUBER), 0.0)
    huber = np.abs(capped) * (2.0 * np.abs(z) - np.abs(capped))
    cost = float(np.sum(np.where(data.known, huber + np.log(variance), 0.0))) + step.prior_cost
    repeat, neighbour = _dependence(capped, data)
    spare = np.maximum(data.known.sum(axis=1) - 4.0, 1.0)
    misfit = np.maximum(1.0, np.sum(capped**2, axis=1) / _CAPPED / spare)
    own = step.own.copy()
    own[:, 1:] += step.linear[:2]
    common = parts.level + data.hats @ step.linear[3:] + step.linear[2] * data.khz2**2
    return Joint(
        shape=shape, picks=picks, pick_sd=step.pick_sd * np.sqrt(neighbour * misfit), own=own,
        linear=step.linear, common=common, common_variance=parts.variance,
        residual=step.residual, covariance=step.covariance * repeat * neighbour,
        scatter_db=scatter_db, cost=cost, repeat=repeat, neighbour=neighbour, misfit=misfit,
        converged=converged, iterations=iterations,
    )  # fmt: skip


def _dependence(z: FloatArray, data: Data) -> tuple[float, float]:
    """Variance inflation by what repeats of a note and neighbouring partials share.

    Repeats: 1 + rho (m - 1), rho the intraclass correlation, m the repeats a note has (Kish's
    design effect). Neighbours: 1 + 2 r, r the correlation of partials n and n + 1.
    """
    member = (data.note[:, None] == np.arange(int(data.note.max()) + 1)).astype(np.float64)
    sums, counts = member.T @ z, member.T @ data.known.astype(np.float64)
    n_known = max(float(counts.sum()), 1.0)
    square = float(np.sum(z**2))
    power = max(square / n_known, 1e-12)
    pairs = max(float(np.sum(counts * (counts - 1.0))), 1.0)
    rho = (float(np.sum(sums**2)) - square) / pairs / power
    repeats = float(np.sum(counts**2)) / n_known
    both = max(float(np.sum(data.known[:, 1:] & data.known[:, :-1])), 1.0)
    near = float(np.sum(z[:, 1:] * z[:, :-1])) / both / power
    return (
        1.0 + float(np.clip(rho, 0.0, 1.0)) * max(repeats - 1.0, 0.0),
        float(np.clip(1.0 + 2.0 * near, 1.0, 3.0)),
    )
