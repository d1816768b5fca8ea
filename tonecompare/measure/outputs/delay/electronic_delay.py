"""Electronic delay and polarity between two outputs, told apart from the string's own travel time.

For the ideal string the velocity at distance d from the bridge and the force on the bridge obey
``v(d, t) = [F(t + tau) - F(t - tau)] / (2 Z)`` with ``tau = d/c`` (travelling waves), so both are
in quadrature at every partial, and the sign of sin(n pi d/L) turns the phase by 180° from comb lobe
to comb lobe, differently on each string. Delay, polarity and filters are common to all notes (see
``wiring_model``). A grid over the delay finds the candidates for both polarities, least squares
refines each, and the polarity stands only where the other one fits clearly worse. Whether there
are low-passes at all is not known beforehand: the delay is the mean over both possibilities,
weighed by how likely each makes the takes, and their spread is part of its uncertainty. It is what
is left *beyond* the filters.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.measure.outputs.delay.wiring_fit import (
    Fit,
    best_positions,
    delays_by_note,
    gains,
    node_db,
    phase_floor,
    refine,
)
from tonecompare.measure.outputs.delay.wiring_model import (
    DELAY_RANGE_S,
    FILTER_SETS,
    FRETTED_POSITION,
    N_FILTERS,
    OPEN_POSITION,
    POSITION_STEP,
    PRIOR_CENTRE,
    Partials,
    filters,
    gather,
)
from tonecompare.measure.outputs.results import DelayFit, PartialRatios
from tonecompare.units import amplitude_to_db

_DELAY_STEP_S = 10e-6
#: Model error of the coarse search, relative.
_COARSE_ERROR = 0.3
#: Least difference of the scaled sums of squares between the polarities: six standard deviations,
#: since misfits of neighbouring partials are not independent of each other.
LEAST_EVIDENCE = 36.0
#: Largest RMS phase misfit of a fit that may be believed, radian.
LARGEST_RESIDUAL = 0.35
#: The same for the delay, which hangs on the phases more than polarity does.
LARGEST_DELAY_RESIDUAL = 0.2
#: Candidates nearer than this are the same.
_SAME_DELAY_S = 0.12e-3
#: How often the model error of the phase is estimated and the fit refined with it.
_FLOOR_ROUNDS = 2
_LEAST_PARTIALS = 4
#: Fewer partials than this per parameter of the wiring would fit anything.
_PARTIALS_PER_PARAMETER = 1.5
_STARTS_PER_POLARITY = 3
#: Evaluations spent on each candidate before the best of each polarity is refined to the end.
_FIRST_STEPS = 12
#: A polarity this many times the least evidence worse after those is left at that.
_OUT_OF_REACH = 20.0
#: Width of a coil's field and distance of two coils over L, to start from: one coil, and two at the
#: usual 18 mm, a little nearer and farther, on 648 mm.
_COIL_STARTS = ((0.012, 0.002), (0.018, 0.022), (0.018, 0.028), (0.018, 0.034))


def _coarse(data: Partials, delays: FloatArray) -> dict[int, tuple[FloatArray, list[FloatArray]]]:
    """Share of the power explained at each delay and the best positions, per polarity.

    Amplitude and sign of the comb are matched to the turned ratios at the best position of each
    note, the filters at their priors' centres.
    """
    total = {1: np.zeros(delays.size), -1: np.zeros(delays.size)}
    places: dict[int, list[FloatArray]] = {1: [], -1: []}
    central = filters(data.frequency, PRIOR_CENTRE)
    for group in range(data.n_groups):
        of = data.group == group
        edge = OPEN_POSITION if data.open_string[group] else FRETTED_POSITION
        positions = np.arange(edge[0], edge[1], POSITION_STEP)
        size = np.abs(central[of])
        y = data.ratio[of] / (1j * central[of] / size)
        comb = np.sin(np.pi * np.outer(data.number[of], positions)) * size[:, None]
        typical = float(np.median(np.abs(data.ratio[of])))
        weight = 1.0 / (data.sigma[of] ** 2 + (_COARSE_ERROR * typical) ** 2)
        turned = y[None, :] * np.exp(-2j * np.pi * np.outer(delays, data.frequency[of]))
        energy = np.sqrt(weight @ comb**2) * np.sqrt(np.sum(weight * np.abs(y) ** 2))
        score = ((turned.real * weight) @ comb) / energy[None, :]
        for polarity in (1, -1):
            chosen = np.argmax(polarity * score, axis=1)
            top = polarity * score[np.arange(delays.size), chosen]
            total[polarity] += np.clip(top, 0.0, None) ** 2 * of.sum()
            places[polarity].append(positions[chosen])
    return {polarity: (total[polarity], places[polarity]) for polarity in (1, -1)}


def _all_fits(data: Partials, delay_range_s: tuple[float, float]) -> list[Fit]:
    """Refine the best few delays of both polarities; the best fit first."""
    delays = np.arange(delay_range_s[0], delay_range_s[1], _DELAY_STEP_S)
    fits = []
    for polarity, (total, places) in _coarse(data, delays).items():
        picked: list[float] = []
        for index in np.argsort(total)[::-1]:
            if any(abs(delays[index] - other) < _SAME_DELAY_S for other in picked):
                continue
            picked.append(float(delays[index]))
            place = np.array([positions[index] for positions in places])
            fits.append(
                refine(data, polarity, delay_s=picked[-1], positions=place, steps=_FIRST_STEPS)
            )
            if len(picked) == _STARTS_PER_POLARITY:
                break
    fits.sort(key=lambda fit: fit.cost)
    best = _to_the_end(fits[0], data)
    rival = next(fit for fit in fits if fit.polarity != best.polarity)
    # A rival that is out of reach need not be refined to the end.
    reach = _OUT_OF_REACH * LEAST_EVIDENCE * max(1.0, best.scale(data))
    if 2.0 * (rival.cost - best.cost) < reach:
        rival = _to_the_end(rival, data)
    return sorted([*fits, best, rival], key=lambda fit: fit.cost)


def _to_the_end(fit: Fit, data: Partials) -> Fit:
    """Refine to the end, once more from the best positions on the grid: combs have local optima."""
    fit = refine(
        data, fit.polarity, delay_s=fit.delay_s, positions=fit.positions,
        log_filters=fit.log_filters,
    )  # fmt: skip
    places = best_positions(data, fit)
    if np.all(np.abs(places - fit.positions) < 2 * POSITION_STEP):
        return fit
    again = refine(
        data, fit.polarity, delay_s=fit.delay_s, positions=places, log_filters=fit.log_filters
    )
    return again if again.cost < fit.cost else fit


def _best_of_coils(fit: Fit, data: Partials) -> Fit:
    """Refine the best of the fit and of those started from one narrow coil and from two coils."""
    fits = [fit]
    # One string caught in a wrong lobe of the comb is freed by starting where the others are.
    positions = fit.positions.copy()
    if data.open_string.any():
        positions[data.open_string] = np.median(positions[data.open_string])
    for width, spacing in _COIL_STARTS:
        log_filters = PRIOR_CENTRE.copy()
        log_filters[4:] = np.log(np.array([width, spacing]) / np.median(positions))
        fits.append(
            refine(
                data, fit.polarity, delay_s=fit.delay_s, positions=positions,
                log_filters=log_filters,
            )
        )  # fmt: skip
    best = min(fits, key=lambda each: each.cost)
    for _ in range(_FLOOR_ROUNDS):
        best = refine(
            data, fit.polarity, delay_s=best.delay_s, positions=best.positions,
            log_filters=best.log_filters, phase_floor=phase_floor(best, data),
        )  # fmt: skip
    return best


def _least_scale(data: Partials) -> float:
    """Misfit below which a fit proves nothing more: the assumed errors are those of the model.

    Those of the partials of one string go together, those of different strings do not.
    """
    return 1.0 / data.n_groups


def _filter_sets(fit: Fit, data: Partials) -> tuple[list[Fit], FloatArray]:
    """Fits with and without each low-pass, started from one, and how likely each is."""
    others = [
        refine(
            data, fit.polarity, delay_s=fit.delay_s, positions=fit.positions,
            log_filters=fit.log_filters, phase_floor=fit.phase_floor, without=without,
        )
        for without in FILTER_SETS[1:]
    ]  # fmt: skip
    # One without a filter that fits better shows that the fit with it stopped short.
    better = min(others, key=lambda each: each.cost)
    if better.cost < fit.cost:
        log_filters = np.where(better.log_filters > 15.0, PRIOR_CENTRE, better.log_filters)
        again = refine(
            data, fit.polarity, delay_s=better.delay_s, positions=better.positions,
            log_filters=log_filters, phase_floor=fit.phase_floor,
        )  # fmt: skip
        fit = min(fit, again, key=lambda each: each.cost)
    fits = [fit, *others]
    scale = max(_least_scale(data), min(each.scale(data) for each in fits))
    evidence = np.array([each.log_evidence(data, scale) for each in fits])
    weight = np.exp(evidence - evidence.max())
    return fits, weight / weight.sum()


def _jackknife_s(fit: Fit, data: Partials) -> float:
    """Return the standard error of the delay from leaving out each note in turn."""
    values = []
    for group in range(data.n_groups):
        others = np.arange(data.n_groups) != group
        part = refine(
            data.without(group), fit.polarity, delay_s=fit.delay_s,
            positions=fit.positions[others], log_filters=fit.log_filters,
            phase_floor=fit.phase_floor, without=fit.without,
        )  # fmt: skip
        values.append(part.delay_s)
    n = len(values)
    return float(np.sqrt((n - 1) / n * np.sum((np.array(values) - np.mean(values)) ** 2)))


def _drift_error_s(data: Partials) -> float:
    """Error of the delay from the drift of the polarisations, whose errors a string's share."""
    late = data.turn / (2.0 * np.pi * data.frequency)
    of_string = [float(np.median(late[data.group == group])) for group in range(data.n_groups)]
    return float(np.sqrt(np.sum(np.square(of_string)))) / data.n_groups


def _delay(fit: Fit, data: Partials) -> tuple[float, float, Fit]:
    """Delay over the filter sets, its standard uncertainty, and the best of the fits."""
    fits, weight = _filter_sets(_best_of_coils(fit, data), data)
    delays = np.array([each.delay_s for each in fits])
    mean = float(weight @ delays)
    best = fits[int(np.argmax(weight))]
    own = np.array(
        [each.delay_error_s(data, max(_least_scale(data), each.scale(data))) for each in fits]
    )
    variance = float(weight @ (own**2 + (delays - mean) ** 2))
    variance += _drift_error_s(data) ** 2
    if data.n_groups >= 3:
        variance += _jackknife_s(best, data) ** 2
    return mean, float(np.sqrt(variance)), best


def fit_delay(
    notes: Sequence[PartialRatios], *, delay_range_s: tuple[float, float] = DELAY_RANGE_S
) -> DelayFit:
    """Return the electronic delay and the polarity common to all notes.

    Parameters
    ----------
    notes
        Ratios of each note from ``partial_ratios``.
    delay_range_s
        Delays to search. One note alone cannot tell delays a period apart; the lag of the first
        motions (:func:`tonecompare.measure.outputs.delay.first_motion.delay_range_s`) can.

    Returns
    -------
    DelayFit
        ``delay_s`` and ``polarity`` are None, with the reason, where the takes cannot tell.
    """
    usable = [note for note in notes if note.number.size >= _LEAST_PARTIALS]
    n_partials = sum(note.number.size for note in usable)
    if not usable:
        nothing = tr_later("no note has four partials above the noise on both outputs")
        return _unknown(nothing, 0)
    data = gather(usable)
    least = _PARTIALS_PER_PARAMETER * (1 + N_FILTERS + data.n_groups)
    if n_partials < least:
        reason = tr_later("only {n} partials stand above the noise on both outputs", n=n_partials)
        return _unknown(reason, data.n_groups)
    fits = _all_fits(data, delay_range_s)
    fit = fits[0]
    scale = max(1.0, fit.scale(data))
    same = [f for f in fits[1:] if f.polarity == fit.polarity]
    same = [f for f in same if abs(f.delay_s - fit.delay_s) > _SAME_DELAY_S]
    other = [f for f in fits[1:] if f.polarity != fit.polarity]
    evidence = min((2.0 * (f.cost - fit.cost) / scale for f in other), default=np.inf)
    clear = all(2.0 * (f.cost - fit.cost) / scale >= LEAST_EVIDENCE for f in same)
    reason = ""
    if fit.phase_rms(data) > LARGEST_RESIDUAL:
        reason = tr_later(
            "the phases between the outputs are not those of one string on a pickup and saddle"
        )
    elif evidence < LEAST_EVIDENCE:
        reason = tr_later("both polarities fit these takes about equally well; record more strings")
    if reason:
        return _unknown(reason, data.n_groups)
    names = [note.name for note in usable]
    return _known(fit, data, names, clear=clear)


def _known(fit: Fit, data: Partials, names: Sequence[str], *, clear: bool) -> DelayFit:
    """Return a fit whose polarity stands, without a delay where several fit (not ``clear``)."""
    delay_s, error_s, best = _delay(fit, data)
    why = ""
    if not clear:
        why = tr_later("several delays fit these takes equally well; record more strings")
    elif best.phase_rms(data) > LARGEST_DELAY_RESIDUAL:
        why = tr_later("the filters of the outputs could not be fitted; record more strings")
    elif not best.converged:
        why = tr_later("the fit of delay and filters did not come to rest; record more strings")
    clear = not why
    return DelayFit(
        delay_s=delay_s if clear else None,
        delay_se_s=error_s if clear else None,
        polarity=fit.polarity,
        n_notes=data.n_groups,
        gain_db={
            name: -float(amplitude_to_db(gain))
            for name, gain in zip(names, gains(best, data), strict=True)
        },
        node_db=node_db(best, data),
        by_note_s=dict(zip(names, delays_by_note(best, data), strict=True)) if clear else {},
        reason=why,
    )


def _unknown(reason: str, n_notes: int) -> DelayFit:
    return DelayFit(None, None, None, n_notes, reason=reason)
