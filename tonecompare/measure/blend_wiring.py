"""The string, pickup and saddle between two outputs as a model fitted to the partial ratios.

At partial n of a note::

    M_n / P_n = q g j sin(n pi d/L) S_n  H_m(f_n) / H_p(f_n)  exp(+j 2 pi f_n D)

with q the polarity, g the gain of the note, D the electronic delay of the piezo output, S_n the
aperture of the pickup (width of a coil's field, distance of two coils; no phase), H_m a resonant
low-pass (coil, cable, load) and H_p a first-order high-pass (piezo capacitance into its load) with
the second-order low-pass of its preamp. The filters carry priors, the ranges of real pickups and
piezos, so that what is not known of them is in the uncertainty of D.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares

from tonecompare.measure.blend_model import ComplexArray, PartialRatios
from tonecompare.measure.model import FloatArray

#: Delays allowed, seconds.
DELAY_RANGE_S = (-2.5e-3, 3.0e-3)
#: Pickup position d/L allowed: open strings, and fretted notes, whose sounding length is shorter.
OPEN_POSITION = (0.02, 0.45)
FRETTED_POSITION = (0.02, 0.98)
#: Step of the grids over the position.
POSITION_STEP = 0.005
#: Model error of phase (radian) and of amplitude (relative) beside the noise: of the phase while
#: candidates are told apart; then it is estimated from the misfit, within these bounds.
PHASE_FLOOR = 0.02
_PHASE_FLOORS = (0.002, 0.3)
_AMPLITUDE_FLOOR = 0.15
#: Priors: centre and width of the natural logarithm. The magnetic's low-pass corner (Hz) and its
#: Q, the piezo's high-pass and low-pass corners (Hz), then over d: the width of a coil's field and
#: the distance of two coils.
PRIOR_CENTRE = np.log(np.array([4500.0, 1.2, 60.0, 20000.0, 0.15, 0.1]))
_PRIOR_WIDTH = np.array([0.6, 0.6, 1.2, 1.0, 0.8, 1.0])
_LOWEST = np.log(np.array([800.0, 0.1, 1.0, 6000.0, 0.01, 0.001]))
_HIGHEST = np.log(np.array([20000.0, 8.0, 1000.0, 200000.0, 2.0, 1.0]))
N_FILTERS = 6
_MAGNETIC_CORNER, _PIEZO_CORNER = 0, 3
#: Which low-passes there are: those of both outputs, or none. A piezo's preamp always has one, if
#: far up: without it all of its lag would pass for delay as soon as noise hides its bend.
FILTER_SETS: tuple[tuple[int, ...], ...] = ((), (_MAGNETIC_CORNER, _PIEZO_CORNER))
#: A partial has a node under the pickup where the comb is below this.
_NODE = 0.1
_NO_CORNER = float(np.log(1e7))
#: Spread of d between the open strings (slanted pickups, saddle compensation), relative.
_POSITION_SPREAD = 0.08


@dataclass(frozen=True)
class Partials:
    """All partials of all notes, flat; ``group`` (k,) is the index of the note."""

    number: FloatArray
    frequency: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    #: Error of the phase by the drift of the polarisations, radian.
    turn: FloatArray
    group: NDArray[np.intp]
    open_string: NDArray[np.bool_]
    f0: FloatArray
    #: What each note's ratios were divided by.
    unit: FloatArray

    @property
    def n_groups(self) -> int:
        """Number of notes."""
        return int(self.f0.size)

    def without(self, group: int) -> Partials:
        """Return the same without one note."""
        keep = self.group != group
        others = np.arange(self.n_groups) != group
        new = self.group[keep] - (self.group[keep] > group)
        return Partials(
            self.number[keep], self.frequency[keep], self.ratio[keep], self.sigma[keep],
            self.turn[keep], new,
            self.open_string[others], self.f0[others], self.unit[others],
        )  # fmt: skip


def gather(notes: Sequence[PartialRatios]) -> Partials:
    """Put the notes together, each in units of its own median ratio (gains are free anyway)."""
    scale = [float(np.median(np.abs(note.ratio))) or 1.0 for note in notes]
    return Partials(
        np.concatenate([note.number for note in notes]),
        np.concatenate([note.frequency_hz for note in notes]),
        np.concatenate([note.ratio / s for note, s in zip(notes, scale, strict=True)]),
        np.concatenate([note.sigma / s for note, s in zip(notes, scale, strict=True)]),
        np.concatenate([note.turn_rad for note in notes]),
        np.concatenate([np.full(note.number.size, i) for i, note in enumerate(notes)]),
        np.array([note.open_string for note in notes]),
        np.array([note.f0_hz for note in notes]),
        np.array(scale),
    )


def filters(frequency: FloatArray, log_filters: FloatArray) -> ComplexArray:
    """H_m / H_p: resonant low-pass over first-order high-pass and Butterworth low-pass."""
    corner, q, high_pass, bandwidth = np.exp(log_filters[:4])
    x, y = frequency / corner, frequency / bandwidth
    magnetic = 1.0 / (1.0 - x**2 + 1j * x / q)
    piezo = 1j * frequency / (high_pass + 1j * frequency) / (1.0 - y**2 + 1j * np.sqrt(2.0) * y)
    return np.asarray(magnetic / piezo)


@dataclass(frozen=True)
class Fit:
    """One refined candidate; ``cost`` is half the (robust) sum of squares."""

    polarity: int
    cost: float
    parameters: FloatArray
    jacobian: FloatArray
    without: tuple[int, ...]
    #: Model error of the phase it was fitted with, radian.
    phase_floor: float

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
        residual = _residuals(self.parameters, data, self.polarity, PHASE_FLOOR)
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
        return float(-self.cost / scale - 0.5 * spread - np.log(_PRIOR_WIDTH[there]).sum())


def _shape_and_gain(
    parameters: FloatArray, data: Partials, polarity: int
) -> tuple[ComplexArray, FloatArray, FloatArray, FloatArray]:
    """Ratios turned onto the real axis, their shape without gain, its envelope, gain per note.

    The gain is that of least squares of the real parts, weighed by noise and model error.
    """
    delay, log_filters = parameters[0] * 1e-3, parameters[1 : 1 + N_FILTERS]
    place = parameters[1 + N_FILTERS :][data.group]
    width, spacing = np.exp(log_filters[4:])
    aperture = np.sinc(0.5 * data.number * place * width)
    aperture = aperture * np.cos(0.5 * np.pi * data.number * place * spacing)
    response = filters(data.frequency, log_filters)
    size = np.abs(response) * aperture
    direction = polarity * 1j * response / np.abs(response)
    direction = direction * np.exp(2j * np.pi * data.frequency * delay)
    comb = np.sin(np.pi * data.number * place)
    z = data.ratio / direction
    shape = comb * size
    rough = np.maximum(np.abs(data.ratio), 0.2)
    weight = 1.0 / (data.sigma**2 + (_AMPLITUDE_FLOOR * rough) ** 2)
    top = np.bincount(data.group, weight * z.real * shape, data.n_groups)
    bottom = np.bincount(data.group, weight * shape**2, data.n_groups)
    gain = np.maximum(top / np.maximum(bottom, 1e-30), 1e-3)
    return z, shape, np.abs(size) * np.maximum(np.abs(comb), 0.1), gain


def phase_floor(fit: Fit, data: Partials) -> float:
    """Return the model error of the phase that, beside noise and drift, explains the misfit.

    The root of sum t²/(v + floor² e²) = degrees of freedom over the partials' phase misfits t, no
    partial counting for more than three standard deviations, within bounds.
    """

    def excess(floor: float) -> float:
        residual = _residuals(fit.parameters, data, fit.polarity, floor)[: data.number.size]
        # Half of the parameters are spent on amplitudes.
        freedom = max(data.number.size - fit.parameters.size / 2.0, 1.0)
        return float(np.sum(np.minimum(residual**2, 9.0))) - freedom

    low, high = _PHASE_FLOORS
    if excess(low) <= 0.0:
        return low
    return high if excess(high) >= 0.0 else float(brentq(excess, low, high, rtol=0.01))


def gains(fit: Fit, data: Partials) -> FloatArray:
    """Magnetic over piezo sensitivity of each note, comb and filters taken out."""
    return np.asarray(_shape_and_gain(fit.parameters, data, fit.polarity)[3] * data.unit)


def _residuals(
    parameters: FloatArray, data: Partials, polarity: int, phase_floor: float
) -> FloatArray:
    """Phase and amplitude misfits of all partials, then the priors."""
    log_filters = parameters[1 : 1 + N_FILTERS]
    position = parameters[1 + N_FILTERS :]
    z, shape, envelope, of_note = _shape_and_gain(parameters, data, polarity)
    gain = of_note[data.group]
    # Near a node the ratio is small and its error is not; 1 is the note's median ratio, and the
    # bound keeps a comb of nothing but nodes with a huge gain from fitting everything.
    envelope = np.maximum(np.minimum(gain * envelope, 1.0), np.abs(z))
    turn = np.hypot(phase_floor * envelope, data.turn * np.abs(z))
    tangential = z.imag / np.hypot(data.sigma, turn)
    radial = (z.real - gain * shape) / np.hypot(data.sigma, _AMPLITUDE_FLOOR * envelope)
    priors = (log_filters - PRIOR_CENTRE) / _PRIOR_WIDTH
    opened = position[data.open_string]
    spread = (opened / opened.mean() - 1.0) / _POSITION_SPREAD if opened.size > 1 else np.zeros(0)
    return np.concatenate([tangential, radial, priors, spread])


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
    low = np.concatenate([[1e3 * DELAY_RANGE_S[0]], _LOWEST, [0.5 * edge[0] for edge in edges]])
    high = np.concatenate([[1e3 * DELAY_RANGE_S[1]], _HIGHEST, [edge[1] for edge in edges]])
    start = np.concatenate([[1e3 * delay_s], log_filters, positions])
    start = np.clip(start, low + 1e-6, high - 1e-6)
    fixed = np.zeros(start.size, dtype=bool)
    fixed[[1 + index for index in without]] = True

    def whole(free: NDArray[np.float64]) -> FloatArray:
        parameters = start.copy()
        parameters[~fixed] = free
        parameters[fixed] = _NO_CORNER
        return np.asarray(parameters)

    def misfit(free: FloatArray) -> FloatArray:
        residual = _residuals(whole(free), data, polarity, phase_floor)
        # A filter that is not there has no prior.
        first = 2 * data.number.size
        residual[[first + index for index in without]] = 0.0
        return np.asarray(residual)

    found = least_squares(
        misfit, start[~fixed], bounds=(low[~fixed], high[~fixed]), loss="soft_l1", max_nfev=steps,
        ftol=1e-6, xtol=1e-7,
    )  # fmt: skip
    return Fit(
        polarity, float(found.cost), whole(found.x), np.asarray(found.jac), without, phase_floor
    )  # fmt: skip


def node_db(fit: Fit, data: Partials) -> float | None:
    """Return how far the magnetic output falls at partials with a node under the pickup, dB.

    Median of |ratio| over what it would be without the comb, where the comb is below 0.1; None
    from fewer than three such partials above the noise.
    """
    z, shape, _, gain = _shape_and_gain(fit.parameters, data, fit.polarity)
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
    z, shape, envelope, gain = _shape_and_gain(fit.parameters, data, fit.polarity)
    found = []
    for group in range(data.n_groups):
        of = data.group == group
        size = gain[group] * shape[of]
        error = np.hypot(data.sigma[of], fit.phase_floor * gain[group] * envelope[of])
        slope = 2.0 * np.pi * data.frequency[of] * size
        information = float(np.sum((slope / error) ** 2))
        late = float(np.sum(slope * z[of].imag / error**2)) / information
        left = (z[of].imag - late * slope) / error
        scale = float(np.mean(left**2)) * of.sum() / max(of.sum() - 1, 1)
        found.append((fit.delay_s + late, float(np.sqrt(scale / information))))
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


def net_lag_s(fit: Fit) -> float:
    """Delay plus the filters' phase lag at 1 kHz, piezo later = positive."""
    at = np.array([1000.0])
    phase = float(np.angle(filters(at, fit.log_filters))[0])
    return float(fit.delay_s + phase / (2 * np.pi * at[0]))
