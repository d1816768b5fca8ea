"""The coil's resonance as far as plucks can show it, and how far apart a pair of coils stands.

Both come from the joint fit of a voice (:mod:`tonecompare.measure.place.joint_fit`), in which the
loaded coil is a second-order low-pass (resonance f_r, quality Q):

    20 lg | 1 / (1 - (f/f_r)² + i f / (Q f_r)) |

and, where the partials scatter too much about that or no place is known, from the first moment of
every pluck, in which the resonance shows whatever the places are
(:mod:`tonecompare.measure.place.coil_response`).

The width of a coil and the spacing of two bend the partials over the wave number n/L, the release
of the pick over f²; the low-pass has a shape over the frequency that neither has. A resonance
above the partials that sound, or one that a smooth response explains as well, is "not
determinable".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.place.coil_response import CoilResponse, fit_coil_response
from tonecompare.measure.place.joint_fit import Joint, fit_joint
from tonecompare.measure.place.pick_and_pickup import Positions
from tonecompare.measure.place.plucks_as_arrays import Data, PluckAmplitudes
from tonecompare.measure.place.voice_parameters import RESONANCE, SPACING, Q, hat_size

#: The low-pass must lower twice the negative log likelihood by this against none at all.
LEAST_EVIDENCE = 16.0
#: A low-pass with less Q than this has no bump (closed form, 1/sqrt 2).
LEAST_LOG_Q = float(-0.5 * np.log(2.0))
#: A resonance, Q or spacing less certain than this (share of itself) is not a measurement.
LEAST_CERTAIN = 0.1
LEAST_CERTAIN_Q = 0.3
LEAST_POINTS = 40
#: Partials must reach this far beyond a resonance, whose far side tells it from a soft release;
#: from FAR_SIDE on it hangs no longer on what a release is assumed to do.
BOTH_SIDES, FAR_SIDE = 1.2, 1.6
#: What else the partials share may exceed its expected size so many times.
MOST_ELSE = 2.0
#: What the model leaves out of the bend (form of the release), share of the frequency and of Q.
MODEL_SHARE = 0.01
MODEL_SHARE_Q = 0.05
#: The same for a resonance as near to the end of the partials as BOTH_SIDES allows.
MODEL_SHARE_NEAR = 0.05
#: The same per dB of scatter: what scatters the partials may move some of them together. For Q a
#: bump wrong by twice the scatter; for the frequency what such a bump shifts.
SCATTER_SHARE, SCATTER_SHARE_Q, SCATTER_SHARE_SPACING = 0.02, 0.23, 0.03
#: A fit without a resonance that used up its steps still has some way to go, so what it lacks must
#: be this many times as plain.
OPEN_FIT_EVIDENCE = 3.0
#: The same evidence from the first moments alone, whose scatter is estimated with it.
LEAST_EVIDENCE_OF_ROWS = 9.0
#: Few notes: what fit and jackknife state counts so many times.
NOTES_ARE_FEW = 1.2
NO_BUMP = "no bump stands out of the partials' scatter"
TOO_WIDE = "the partials scatter too much about a bump to place it"
#: Steps that the fit without a resonance, which starts from the one with it, may take.
_FLAT_ROUNDS = 40
_METHOD = "partials of many notes"


@dataclass(frozen=True)
class Resonance:
    """Resonance frequency (Hz), quality and coil spacing (share of the scale length).

    Each measured or with the reason.
    """

    frequency_hz: Measured
    q: Measured
    spacing: Measured


def find_resonance(positions: Positions, plucks: Sequence[PluckAmplitudes] = ()) -> Resonance:
    """Read resonance, Q and coil spacing of a voice.

    Parameters
    ----------
    positions
        What :func:`tonecompare.measure.place.pick_and_pickup.find_positions` found.
    plucks
        The plucks it was found from: the first moment of each tells the resonance where the
        partials scatter too much about the model of the places, or no place is known.

    Returns
    -------
    Resonance
    """
    placed = _of_places(positions)
    rows = [
        (pluck.sounding, pluck.early)
        for pluck in plucks
        if pluck.sounding is not None and pluck.early is not None
    ]
    response = fit_coil_response(rows) if rows else None
    if response is None:
        return placed
    free = _of_rows(response, placed.spacing)
    if placed.frequency_hz.value is None:
        return free
    return placed if free.frequency_hz.value is None else _of_both(placed, free)


def _of_both(placed: Resonance, free: Resonance) -> Resonance:
    """Return the surer of two resonances, less sure by half of what they differ by beyond that."""
    values = [(found.frequency_hz.value or 1.0) for found in (placed, free)]
    sds = [(found.frequency_hz.uncertainty or 0.0) for found in (placed, free)]
    surer = placed if sds[0] / values[0] <= sds[1] / values[1] else free
    gap2 = (values[0] - values[1]) ** 2 - sds[0] ** 2 - sds[1] ** 2
    if gap2 <= 0.0:
        return surer
    sd = float(np.hypot(surer.frequency_hz.uncertainty or 0.0, 0.5 * np.sqrt(gap2)))
    if sd > LEAST_CERTAIN * (surer.frequency_hz.value or 1.0):
        return _none("the places and the first moments tell two", surer.spacing)
    return replace(surer, frequency_hz=replace(surer.frequency_hz, uncertainty=sd))


def _of_rows(response: CoilResponse, spacing: Measured) -> Resonance:
    """Read resonance and Q from the whole rows of partials at the first moment."""
    resonance_hz = float(np.exp(response.log_resonance))
    near = _nearness(response.top_hz / resonance_hz)
    sd = NOTES_ARE_FEW * np.hypot(response.sd, response.sd_by_notes)
    sd_r, sd_q = np.hypot(sd, np.hypot([MODEL_SHARE, MODEL_SHARE_Q], near * MODEL_SHARE_NEAR))
    if resonance_hz * BOTH_SIDES > response.top_hz:
        return _none(_outside(response.top_hz), spacing)
    if response.evidence < LEAST_EVIDENCE_OF_ROWS or response.log_q < LEAST_LOG_Q:
        return _none(NO_BUMP, spacing)
    if sd_r > LEAST_CERTAIN or not response.converged:
        return _none(TOO_WIDE, spacing)
    return _given(resonance_hz, float(sd_r), response.log_q, float(sd_q), spacing)


def _of_places(positions: Positions) -> Resonance:
    """Read resonance and Q from the joint fit of places and response."""
    joint, data = positions.joint, positions.data
    if joint is None:
        return _none(positions.reason, unmeasured("1", _no(positions.reason)))
    if joint.shape.log_resonance is None or data.known.sum() < LEAST_POINTS:
        return _none("too few partials of too few notes", unmeasured("1", _no("no fit")))
    spacing = _spacing(positions, joint)
    log_r, log_q = joint.shape.log_resonance, joint.shape.log_q
    top_hz = float(np.quantile(data.frequency_hz[data.known], 0.98))
    resonance_hz = float(np.exp(log_r))
    near = _nearness(top_hz / resonance_hz)
    sd_r, sd_q = _uncertainties(joint, positions.other)
    sd_r, sd_q = (float(np.hypot(sd, near * MODEL_SHARE_NEAR)) for sd in (sd_r, sd_q))
    if resonance_hz * BOTH_SIDES > top_hz:
        return _none(_outside(top_hz), spacing)
    if sd_r > LEAST_CERTAIN:
        return _none(TOO_WIDE, spacing)
    if np.max(np.abs(joint.hats)) > MOST_ELSE * hat_size(joint.scatter_db):
        return _none("what the partials share is not the shape of one coil's resonance", spacing)
    flat = _fit_without_low_pass(data, joint)
    gain = (flat.cost - joint.cost) / joint.dependence
    if not flat.converged and gain < OPEN_FIT_EVIDENCE * LEAST_EVIDENCE:
        return _none("the fit without a resonance did not come to rest", spacing)
    if gain < LEAST_EVIDENCE or log_q < LEAST_LOG_Q:
        return _none(NO_BUMP, spacing)
    return _given(resonance_hz, sd_r, log_q, sd_q, spacing)


def _given(
    resonance_hz: float, sd_r: float, log_q: float, sd_q: float, spacing: Measured
) -> Resonance:
    """Return a resonance that stands; its Q only where its height is certain."""
    frequency = Measured(resonance_hz, "Hz", resonance_hz * sd_r, method=_METHOD)
    if sd_q > LEAST_CERTAIN_Q:
        open_q = unmeasured("1", "the height of the bump is not determinable")
        return Resonance(frequency, open_q, spacing)
    q = float(np.exp(log_q))
    return Resonance(frequency, Measured(q, "1", q * sd_q, method=_METHOD), spacing)


def _nearness(reach: float) -> float:
    """How near to the end of the partials a resonance lies: 0 from FAR_SIDE on, 1 at BOTH_SIDES."""
    return float(np.clip((FAR_SIDE - reach) / (FAR_SIDE - BOTH_SIDES), 0.0, 1.0))


def _outside(top_hz: float) -> str:
    return f"it lies outside what the partials show (up to {top_hz / 1000.0:.1f} kHz)"


def _uncertainties(joint: Joint, other: Joint | None) -> tuple[float, float]:
    """Return standard uncertainties of log f_r and log Q."""
    shape, db = joint.shape, joint.scatter_db
    between_r = between_q = 0.0
    if other is not None and other.shape.log_resonance is not None:
        # One coil or two: where the takes leave that open, so do they leave what hangs on it.
        gap = min(0.5 * (other.cost - joint.cost) / joint.dependence, 100.0)
        share = 1.0 / (1.0 + np.exp(gap))
        weight = np.sqrt(share * (1.0 - share))
        between_r = weight * (other.shape.log_resonance - (shape.log_resonance or 0.0))
        between_q = weight * (other.shape.log_q - shape.log_q)
    sd_r, sd_q = np.sqrt(joint.covariance[RESONANCE, RESONANCE]), np.sqrt(joint.covariance[Q, Q])
    return (
        float(np.linalg.norm([sd_r, between_r, MODEL_SHARE, SCATTER_SHARE * db])),
        float(np.linalg.norm([sd_q, between_q, MODEL_SHARE_Q, SCATTER_SHARE_Q * db])),
    )


def _fit_without_low_pass(data: Data, joint: Joint) -> Joint:
    """Fit without a low-pass, all else free."""
    flat = joint.shape.flat()
    return fit_joint(data, flat, joint.picks, scatter_db=joint.scatter_db, rounds=_FLAT_ROUNDS)


def _spacing(positions: Positions, joint: Joint) -> Measured:
    if positions.two_coils is None or joint.shape.spacing is None:
        reason = "one coil explains the partials as well"
        if joint.shape.spacing is not None:
            reason = "the takes cannot tell two coils from one wide one"
        return unmeasured("1", _no(reason))
    sd = float(np.sqrt(joint.covariance[SPACING, SPACING]))
    left_out = np.hypot(MODEL_SHARE, SCATTER_SHARE_SPACING * joint.scatter_db)
    sd = float(np.hypot(sd, left_out * joint.shape.spacing))
    if sd > LEAST_CERTAIN * joint.shape.spacing:
        return unmeasured("1", _no("the takes cannot tell two coils from one wide one"))
    return Measured(joint.shape.spacing, "1", sd, method=_METHOD)


def _no(reason: str) -> str:
    return f"not determinable: {reason}"


def _none(reason: str, spacing: Measured) -> Resonance:
    return Resonance(unmeasured("Hz", _no(reason)), unmeasured("1", _no(reason)), spacing)
