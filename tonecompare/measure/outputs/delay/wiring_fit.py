"""Least squares of the wiring of two outputs (model: ``wiring_model``), and what a fit tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, least_squares

from tonecompare.arrays import FloatArray
from tonecompare.measure.outputs.delay.wiring_model import (
    DELAY_RANGE_S,
    FRETTED_POSITION,
    HIGHEST,
    LOWEST,
    N_FILTERS,
    NO_CORNER,
    OPEN_POSITION,
    PHASE_FLOOR,
    PHASE_FLOORS,
    POSITION_STEP,
    PRIOR_CENTRE,
    PRIOR_WIDTH,
    Partials,
    filters,
    residuals,
    shape_and_gain,
)

#: Step of the forward differences, relative to 1 or the parameter.
_STEP = 1.5e-8
#: A partial has a node under the pickup where the comb is below this.
_NODE = 0.1


@dataclass(frozen=True)
class Fit:
    """One refined candidate; ``cost`` is half the (robust) sum of squares.

    ``converged`` says whether it ended because nothing moved any more, not because the
    ``evaluations`` allowed were used up.
    """

    polarity: int
    cost: float
    parameters: FloatArray
    jacobian: FloatArray
    without: tuple[int, ...]
    #: Model error of the phase it was fitted with, radian.
    phase_floor: float
    converged: bool
    evaluations: int

    @property
    def delay_s(self) -> float:
        """Electronic delay."""
        return float(self.parameters[0]) * 1e-3

    @property
    def log_filters(self) -> FloatArray:
        """Logarithms of the filters' parameters."""
        return self.parameters[1 : 1 + N_FILTERS]

    @property
    def positions(self) -> FloatArray:
        """Pickup position d/L of each note."""
        return self.parameters[1 + N_FILTERS :]

    def scale(self, data: Partials) -> float:
        """Misfit per degree of freedom, in units of the assumed errors."""
        return 2.0 * self.cost / max(2 * data.number.size - self.parameters.size, 1)

    def phase_rms(self, data: Partials) -> float:
        """Phase misfit of the partials in radian, per degree of freedom, no partial above 1 rad.

        Partials whose noise exceeds :data:`PHASE_FLOOR` count less.
        """
        count = data.number.size
        residual = residuals(self.parameters, data, self.polarity, PHASE_FLOOR)
        off = np.minimum(np.abs(residual[:count]) * PHASE_FLOOR, 1.0)
        # Half of the parameters are spent on amplitudes.
        freedom = max(count - self.parameters.size / 2.0, 1.0)
        return float(np.sqrt(np.sum(off**2) / freedom))

    def information(self, data: Partials, scale: float) -> FloatArray:
        """Return the information of data (in units of the misfit) and priors on what is free."""
        count = 2 * data.number.size
        of_data, of_priors = self.jacobian[:count], self.jacobian[count:]
        return np.asarray(of_data.T @ of_data / scale + of_priors.T @ of_priors)

    def delay_error_s(self, data: Partials, scale: float) -> float:
        """Return the delay's standard error from the curvature of the misfit."""
        covariance = np.linalg.pinv(self.information(data, scale))
        return float(np.sqrt(covariance[0, 0])) * 1e-3

    def log_evidence(self, data: Partials, scale: float) -> float:
        """Return the logarithm of how likely the data are with these filters (Laplace).

        Best fit, times the share of the prior that fits: -chi²/2 - ln det(information)/2 -
        sum ln(prior width) over the filters that are there.
        """
        spread = np.linalg.slogdet(self.information(data, scale))[1]
        there = [i for i in range(N_FILTERS) if i not in self.without]
        return float(-self.cost / scale - 0.5 * spread - np.log(PRIOR_WIDTH[there]).sum())


def phase_floor(fit: Fit, data: Partials) -> float:
    """Return the model error of the phase that, beside noise and drift, explains the misfit.

    The root of sum t²/(v + floor² e²) = degrees of freedom over the partials' phase misfits t, no
    partial counting for more than three standard deviations, within bounds.
    """

    def excess(floor: float) -> float:
        residual = residuals(fit.parameters, data, fit.polarity, floor)[: data.number.size]
        # Half of the parameters are spent on amplitudes.
        freedom = max(data.number.size - fit.parameters.size / 2.0, 1.0)
        return float(np.sum(np.minimum(residual**2, 9.0))) - freedom

    low, high = PHASE_FLOORS
    if excess(low) <= 0.0:
        return low
    return high if excess(high) >= 0.0 else float(brentq(excess, low, high, rtol=0.01))


def gains(fit: Fit, data: Partials) -> FloatArray:
    """Magnetic over piezo sensitivity of each note, comb and filters taken out."""
    return np.asarray(shape_and_gain(fit.parameters, data, fit.polarity)[3] * data.unit)


def refine(
    data: Partials,
    polarity: int,
    *,
    delay_s: float,
    positions: FloatArray,
    log_filters: FloatArray = PRIOR_CENTRE,
    without: tuple[int, ...] = (),
    steps: int = 80,
    phase_floor: float = PHASE_FLOOR,
) -> Fit:
    """Fit delay, filters and positions by robust least squares from one starting point.

    ``without`` names the low-passes (see :data:`FILTER_SETS`) that are taken not to exist,
    ``steps`` bounds the evaluations, ``phase_floor`` is the model error of the phase.
    """
    edges = [OPEN_POSITION if is_open else FRETTED_POSITION for is_open in data.open_string]
    low = np.concatenate([[1e3 * DELAY_RANGE_S[0]], LOWEST, [0.5 * edge[0] for edge in edges]])
    high = np.concatenate([[1e3 * DELAY_RANGE_S[1]], HIGHEST, [edge[1] for edge in edges]])
    start = np.concatenate([[1e3 * delay_s], log_filters, positions])
    start = np.clip(start, low + 1e-6, high - 1e-6)
    fixed = np.zeros(start.size, dtype=bool)
    fixed[[1 + index for index in without]] = True

    def whole(free: FloatArray) -> FloatArray:
        parameters = np.full((*free.shape[:-1], start.size), NO_CORNER)
        parameters[..., ~fixed] = free
        return parameters

    def misfit(free: FloatArray) -> FloatArray:
        residual = residuals(whole(free), data, polarity, phase_floor)
        # A filter that is not there has no prior.
        first = 2 * data.number.size
        residual[..., [first + index for index in without]] = 0.0
        return np.asarray(residual)

    def slopes(free: FloatArray) -> FloatArray:
        # Forward differences, all parameters at once.
        step = _STEP * np.maximum(1.0, np.abs(free))
        step = np.where(free + step > high[~fixed], -step, step)
        around = misfit(np.vstack([free, free + np.diag(step)]))
        return np.asarray(((around[1:] - around[0]) / step[:, None]).T)

    found = least_squares(
        misfit, start[~fixed], jac=slopes, bounds=(low[~fixed], high[~fixed]), loss="soft_l1",
        max_nfev=steps, ftol=1e-6, xtol=1e-7,
    )  # fmt: skip
    return Fit(
        polarity, float(found.cost), whole(found.x), np.asarray(found.jac), without, phase_floor,
        converged=bool(found.success), evaluations=int(found.nfev),
    )  # fmt: skip


def node_db(fit: Fit, data: Partials) -> float | None:
    """Return how far the magnetic output falls at partials with a node under the pickup, dB.

    Median of |ratio| over what it would be without the comb, where the comb is below 0.1; None
    from fewer than three such partials above the noise.
    """
    z, shape, _, gain = shape_and_gain(fit.parameters, data, fit.polarity)
    comb = np.sin(np.pi * data.number * fit.positions[data.group])
    at_node = np.abs(comb) < _NODE
    whole = np.abs(gain[data.group] * shape / np.where(at_node, comb, 1.0))
    at_node &= whole > 3.0 * data.sigma / _NODE
    if at_node.sum() < 3:
        return None
    return float(20.0 * np.log10(np.median(np.abs(z[at_node]) / whole[at_node])))


def delays_by_note(fit: Fit, data: Partials) -> list[tuple[float, float]]:
    """Return delay and standard error of each note alone, all else as fitted, seconds.

    Weighted regression of the note's phase misfits on 2 pi f.
    """
    z, shape, envelope, gain = shape_and_gain(fit.parameters, data, fit.polarity)
    found = []
    for group in range(data.n_groups):
        of = data.group == group
        size = gain[group] * shape[of]
        error = np.hypot(data.sigma[of], fit.phase_floor * gain[group] * envelope[of])
        drift = float(np.median(data.turn[of] / (2.0 * np.pi * data.frequency[of])))
        slope = 2.0 * np.pi * data.frequency[of] * size
        information = float(np.sum((slope / error) ** 2))
        late = float(np.sum(slope * z[of].imag / error**2)) / information
        left = (z[of].imag - late * slope) / error
        scale = float(np.mean(left**2)) * of.sum() / max(of.sum() - 1, 1)
        found.append((fit.delay_s + late, float(np.hypot(np.sqrt(scale / information), drift))))
    return found


def best_positions(data: Partials, fit: Fit) -> FloatArray:
    """Return the best position of each note on a grid, delay and filters held as fitted."""
    result = fit.positions.copy()
    response = filters(data.frequency, fit.log_filters)
    turn = fit.polarity * 1j * response / np.abs(response)
    z = data.ratio / (turn * np.exp(2j * np.pi * data.frequency * fit.delay_s))
    for group in range(data.n_groups):
        of = data.group == group
        edge = OPEN_POSITION if data.open_string[group] else FRETTED_POSITION
        grid = np.arange(edge[0], edge[1], POSITION_STEP)
        comb = np.sin(np.pi * np.outer(data.number[of], grid)) * np.abs(response[of])[:, None]
        score = (z[of].real @ comb) / np.sqrt(np.sum(comb**2, axis=0))
        result[group] = grid[int(np.argmax(score))]
    return result
