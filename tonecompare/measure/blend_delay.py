"""Electronic delay and polarity between two outputs, told apart from the string's own travel time.

For the ideal string the velocity at distance d from the bridge and the force on the bridge obey
``v(d, t) = [F(t + tau) - F(t - tau)] / (2 Z)`` with ``tau = d/c`` (d'Albert's travelling waves),
so at partial n of a note::

    M_n / P_n = q g j sin(n pi d/L) S_n  H_m(f_n) / H_p(f_n)  exp(+j 2 pi f_n D)

with q the polarity, g the gain, D the electronic delay of the piezo output, S_n the aperture of
the pickup (no phase), H_m a resonant low-pass (coil, cable, load) and H_p a first-order
high-pass (piezo capacitance into its load). The sign of the sine turns the phase by 180° from
comb lobe to comb lobe and differs from string to string; D, q and the filters are common to all
notes. A grid over D finds the candidates for both polarities, least squares refines each, and the
polarity stands only where the other one fits clearly worse. The filters carry priors (the
ranges of real pickups and piezos); the uncertainty of D therefore contains what is not known
about them, and D is what is left *beyond* them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from tonecompare.measure.blend_model import ComplexArray, DelayFit, PartialRatios
from tonecompare.measure.model import FloatArray

#: Delays searched, seconds.
DELAY_RANGE_S = (-2.5e-3, 3.0e-3)
_DELAY_STEP_S = 10e-6
#: Pickup position d/L searched: open strings, and fretted notes, whose sounding length is shorter.
_OPEN_POSITION = (0.02, 0.45)
_FRETTED_POSITION = (0.02, 0.98)
#: Model error of phase (radian) and of amplitude (relative) beside the noise.
_PHASE_FLOOR = 0.02
_AMPLITUDE_FLOOR = 0.15
#: Priors: centre and width of the natural logarithm. Low-pass corner (Hz), its Q, high-pass
#: corner (Hz), aperture over d.
_PRIOR_CENTRE = np.log(np.array([4500.0, 1.2, 60.0, 0.2]))
_PRIOR_WIDTH = np.array([0.6, 0.6, 1.2, 0.8])
#: Spread of d between the open strings (slanted pickups, saddle compensation), relative.
_POSITION_SPREAD = 0.08
#: Least difference of the scaled sums of squares between the polarities.
LEAST_EVIDENCE = 16.0
#: Largest RMS phase misfit of a fit that may be believed, radian.
LARGEST_RESIDUAL = 0.5
#: Candidates nearer than this are the same.
_SAME_DELAY_S = 0.1e-3
#: What the delay read from one string alone may be off, its two polarisations drifting apart from
#: the first moment on; measured on model takes (regression only), seconds.
_BETWEEN_STRINGS_S = 3e-6
_LEAST_PARTIALS = 4
_STARTS_PER_POLARITY = 3


@dataclass(frozen=True)
class _Data:
    """All partials of all notes, flat; ``group`` (k,) is the index of the note."""

    number: FloatArray
    frequency: FloatArray
    ratio: ComplexArray
    sigma: FloatArray
    group: np.ndarray[tuple[int], np.dtype[np.intp]]
    open_string: np.ndarray[tuple[int], np.dtype[np.bool_]]
    f0: FloatArray

    @property
    def n_groups(self) -> int:
        return int(self.f0.size)

    def without(self, group: int) -> _Data:
        """Return the same without one note."""
        keep = self.group != group
        others = np.arange(self.n_groups) != group
        new = self.group[keep] - (self.group[keep] > group)
        return _Data(
            self.number[keep], self.frequency[keep], self.ratio[keep], self.sigma[keep], new,
            self.open_string[others], self.f0[others],
        )  # fmt: skip


def _gather(notes: Sequence[PartialRatios]) -> _Data:
    # Each note in units of its own median ratio: gains are free anyway.
    scale = [float(np.median(np.abs(note.ratio))) or 1.0 for note in notes]
    return _Data(
        np.concatenate([note.number for note in notes]),
        np.concatenate([note.frequency_hz for note in notes]),
        np.concatenate([note.ratio / s for note, s in zip(notes, scale, strict=True)]),
        np.concatenate([note.sigma / s for note, s in zip(notes, scale, strict=True)]),
        np.concatenate([np.full(note.number.size, i) for i, note in enumerate(notes)]),
        np.array([note.open_string for note in notes]),
        np.array([note.f0_hz for note in notes]),
    )


def _filters(frequency: FloatArray, log_filters: FloatArray) -> ComplexArray:
    """H_m / H_p of the fitted low-pass and high-pass."""
    corner, q, high_pass = np.exp(log_filters[:3])
    x = frequency / corner
    low = 1.0 / (1.0 - x**2 + 1j * x / q)
    high = 1j * frequency / (high_pass + 1j * frequency)
    result: ComplexArray = low / high
    return result


def _candidates(
    data: _Data, delay_range_s: tuple[float, float]
) -> dict[int, list[tuple[float, FloatArray]]]:
    """Best delays and positions per polarity from a grid, under the priors' central filters."""
    delays = np.arange(delay_range_s[0], delay_range_s[1], _DELAY_STEP_S)
    total = {1: np.zeros(delays.size), -1: np.zeros(delays.size)}
    best: dict[int, list[tuple[FloatArray, FloatArray]]] = {1: [], -1: []}
    central = _filters(data.frequency, _PRIOR_CENTRE)
    for group in range(data.n_groups):
        of = data.group == group
        edge = _OPEN_POSITION if data.open_string[group] else _FRETTED_POSITION
        positions = np.arange(edge[0], edge[1], 0.005)
        response = central[of]
        y = data.ratio[of] / (1j * response / np.abs(response))
        comb = np.sin(np.pi * np.outer(data.number[of], positions)) * np.abs(response)[:, None]
        typical = np.median(np.abs(data.ratio[of]))
        weight = 1.0 / (data.sigma[of] ** 2 + (0.3 * typical) ** 2)
        turned = y[None, :] * np.exp(-2j * np.pi * np.outer(delays, data.frequency[of]))
        match = (turned.real * weight) @ comb
        energy = np.sqrt(weight @ comb**2) * np.sqrt(np.sum(weight * np.abs(y) ** 2))
        score = match / energy[None, :]
        for polarity in (1, -1):
            signed = polarity * score
            chosen = np.argmax(signed, axis=1)
            top = signed[np.arange(delays.size), chosen]
            total[polarity] += np.clip(top, 0.0, None) ** 2 * of.sum()
            best[polarity].append((positions[chosen], top))
    result: dict[int, list[tuple[float, FloatArray]]] = {}
    for polarity in (1, -1):
        picked: list[tuple[float, FloatArray]] = []
        for index in np.argsort(total[polarity])[::-1]:
            if all(abs(delays[index] - other) > 1.2e-4 for other, _ in picked):
                place = np.array([positions[index] for positions, _ in best[polarity]])
                picked.append((float(delays[index]), place))
            if len(picked) == _STARTS_PER_POLARITY:
                break
        result[polarity] = picked
    return result


def _residuals(parameters: FloatArray, data: _Data, polarity: int) -> FloatArray:
    """Phase and amplitude misfits of all partials, then the priors; gains are solved for."""
    delay, log_filters = parameters[0] * 1e-3, parameters[1:5]
    position = parameters[5:]
    place = position[data.group]
    aperture = np.sinc(0.5 * data.number * place * np.exp(log_filters[3]))
    response = _filters(data.frequency, log_filters)
    size = np.abs(response) * aperture
    direction = polarity * 1j * response / np.abs(response)
    direction = direction * np.exp(2j * np.pi * data.frequency * delay)
    comb = np.sin(np.pi * data.number * place)
    z = data.ratio / direction
    shape = comb * size
    # Gain of each note: least squares of the real parts, weights from noise and model error.
    rough = np.maximum(np.abs(data.ratio), 0.2)
    weight = 1.0 / (data.sigma**2 + (_AMPLITUDE_FLOOR * rough) ** 2)
    top = np.bincount(data.group, weight * z.real * shape, data.n_groups)
    bottom = np.bincount(data.group, weight * shape**2, data.n_groups)
    gain = np.maximum(top / np.maximum(bottom, 1e-30), 1e-3)
    envelope = np.maximum(gain[data.group] * np.abs(size) * np.maximum(np.abs(comb), 0.1), 1e-6)
    tangential = z.imag / np.hypot(data.sigma, _PHASE_FLOOR * np.maximum(envelope, np.abs(z)))
    radial = (z.real - gain[data.group] * shape) / np.hypot(
        data.sigma, _AMPLITUDE_FLOOR * np.maximum(envelope, np.abs(z))
    )
    priors = (log_filters - _PRIOR_CENTRE) / _PRIOR_WIDTH
    opened = position[data.open_string]
    spread = (opened / opened.mean() - 1.0) / _POSITION_SPREAD if opened.size > 1 else np.zeros(0)
    return np.concatenate([tangential, radial, priors, spread])


@dataclass(frozen=True)
class _Fit:
    """One refined candidate; ``cost`` is half the (robust) sum of squares."""

    polarity: int
    cost: float
    parameters: FloatArray
    jacobian: FloatArray
    residual: FloatArray

    @property
    def delay_s(self) -> float:
        return float(self.parameters[0]) * 1e-3


def _refine(data: _Data, polarity: int, delay_s: float, positions: FloatArray) -> _Fit:
    edges = [_OPEN_POSITION if is_open else _FRETTED_POSITION for is_open in data.open_string]
    low = np.concatenate([[1e3 * DELAY_RANGE_S[0]], np.log([800, 0.1, 1, 0.01])])
    high = np.concatenate([[1e3 * DELAY_RANGE_S[1]], np.log([20000, 8, 1000, 2.0])])
    low = np.concatenate([low, [0.5 * edge[0] for edge in edges]])
    high = np.concatenate([high, [edge[1] + 0.02 for edge in edges]])
    start = np.concatenate([[1e3 * delay_s], _PRIOR_CENTRE, positions])
    found = least_squares(
        _residuals, start, bounds=(low, high), args=(data, polarity), loss="soft_l1", max_nfev=60
    )
    return _Fit(polarity, float(found.cost), found.x, np.asarray(found.jac), found.fun)


def _all_fits(data: _Data, delay_range_s: tuple[float, float]) -> list[_Fit]:
    """Every candidate of both polarities refined, the best first."""
    fits = [
        _refine(data, polarity, delay, place)
        for polarity, starts in _candidates(data, delay_range_s).items()
        for delay, place in starts
    ]
    return sorted(fits, key=lambda fit: fit.cost)


def _phase_rms(fit: _Fit, data: _Data) -> float:
    """RMS phase misfit in radian from the tangential residuals."""
    tangential = fit.residual[: data.number.size]
    return float(np.sqrt(np.median(tangential**2)) / 0.6745 * _PHASE_FLOOR)


def _net_lag_s(parameters: FloatArray) -> float:
    """Delay plus the filters' phase lag at 1 kHz, piezo later = positive."""
    at = np.array([1000.0])
    phase = float(np.angle(_filters(at, parameters[1:5]))[0])
    return float(parameters[0] * 1e-3 + phase / (2 * np.pi * at[0]))


def _standard_error_s(fit: _Fit, data: _Data) -> float:
    """From the curvature, scaled to the misfit, and from leaving out each note."""
    freedom = max(2 * data.number.size - fit.parameters.size, 1)
    scale = max(1.0, 2.0 * fit.cost / freedom)
    covariance = np.linalg.pinv(fit.jacobian.T @ fit.jacobian)
    curvature = float(np.sqrt(covariance[0, 0] * scale)) * 1e-3
    few = _BETWEEN_STRINGS_S / np.sqrt(data.n_groups)
    if data.n_groups < 3:
        return float(np.hypot(curvature, few))
    values = []
    for group in range(data.n_groups):
        others = np.arange(data.n_groups) != group
        start = fit.parameters[5:][others]
        part = _refine(data.without(group), fit.polarity, fit.delay_s, start)
        values.append(part.delay_s)
    n = len(values)
    jackknife = float(np.sqrt((n - 1) / n * np.sum((np.array(values) - np.mean(values)) ** 2)))
    return float(np.hypot(curvature, jackknife))


def fit_delay(
    notes: Sequence[PartialRatios], *, delay_range_s: tuple[float, float] = DELAY_RANGE_S
) -> DelayFit:
    """Return the electronic delay and the polarity common to all notes.

    Parameters
    ----------
    notes
        Ratios of each note from :func:`tonecompare.measure.blend_partials.partial_ratios`.
    delay_range_s
        Delays to search. One note alone cannot tell delays a period apart; the lag of the first
        motions (:func:`tonecompare.measure.blend_onset.delay_range_s`) can.

    Returns
    -------
    DelayFit
        ``delay_s`` and ``polarity`` are None, with the reason, where the takes cannot tell.
    """
    usable = [note for note in notes if note.number.size >= _LEAST_PARTIALS]
    n_partials = sum(note.number.size for note in usable)
    if not usable:
        return _unknown("no note has four partials above the noise on both outputs", 0, n_partials)
    data = _gather(usable)
    fits = _all_fits(data, delay_range_s)
    fit = fits[0]
    freedom = max(2 * data.number.size - fit.parameters.size, 1)
    scale = max(1.0, 2.0 * fit.cost / freedom)
    same = [f for f in fits[1:] if f.polarity == fit.polarity]
    same = [f for f in same if abs(f.delay_s - fit.delay_s) > _SAME_DELAY_S]
    other = [f for f in fits[1:] if f.polarity != fit.polarity]
    evidence = min((2.0 * (f.cost - fit.cost) / scale for f in other), default=np.inf)
    clear = all(2.0 * (f.cost - fit.cost) / scale >= LEAST_EVIDENCE for f in same)
    residual = _phase_rms(fit, data)
    reason = ""
    if residual > LARGEST_RESIDUAL:
        reason = "the phases between the outputs are not those of one string on a pickup and saddle"
    elif evidence < LEAST_EVIDENCE:
        reason = "both polarities fit these takes about equally well; record more strings"
    if reason:
        return _unknown(reason, data.n_groups, n_partials, residual, evidence)
    return _known(fit, data, residual, float(evidence), n_partials, clear=clear)


def _known(
    fit: _Fit, data: _Data, residual: float, evidence: float, n_partials: int, *, clear: bool
) -> DelayFit:
    """Return a fit whose polarity stands, without a delay where several fit (not ``clear``)."""
    opened = fit.parameters[5:][data.open_string]
    corner, q, high_pass = (float(value) for value in np.exp(fit.parameters[1:4]))
    return DelayFit(
        delay_s=fit.delay_s if clear else None,
        delay_se_s=_standard_error_s(fit, data) if clear else None,
        polarity=fit.polarity,
        net_lag_s=_net_lag_s(fit.parameters) if clear else None,
        pickup_position=float(np.median(opened)) if opened.size else None,
        low_pass_hz=corner,
        low_pass_q=q,
        high_pass_hz=high_pass,
        residual_rad=residual,
        evidence=evidence,
        n_notes=data.n_groups,
        n_partials=n_partials,
        reason="" if clear else "several delays fit these takes equally well; record more strings",
    )


def _unknown(
    reason: str, n_notes: int, n_partials: int, residual: float | None = None, evidence: float = 0.0
) -> DelayFit:
    return DelayFit(
        None, None, None, None, None, None, None, None, residual, evidence, n_notes, n_partials,
        reason,
    )  # fmt: skip
