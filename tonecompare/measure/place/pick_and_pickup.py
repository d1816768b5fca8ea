"""Where the string was picked and where the pickup sits, from the comb of the partials.

A string plucked at the share p of its sounding length, its velocity sensed at the share delta,
has partials of amplitude

    a_n = g |sin(n pi p)| |sin(n pi delta)| H / n

(ideal pluck; a saddle piezo senses force and lacks the delta comb). In decibels this is a sum: two
combs that depend on n, what coil, circuit and release make of it, and a gain and slope per pluck
(:mod:`tonecompare.measure.place.joint_fit`). p and delta enter alike; they are told apart because
the pickup stays where it is from pluck to pluck and the pick does not. Levels cannot tell a point
from its mirror image, |sin(n pi p)| = |sin(n pi (1 - p))|: points count from the nearer end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.language import tr_later
from tonecompare.measure.place.combs import comb_db
from tonecompare.measure.place.joint_fit import Joint, fit_joint, strengths_db
from tonecompare.measure.place.null_depths import SAME_PLACE, disputed, fits_at_depths, is_rough
from tonecompare.measure.place.pick_candidates import CROWD, Dips, find_dips
from tonecompare.measure.place.plucks_as_arrays import (
    BoolArray,
    Data,
    PluckAmplitudes,
    amplitudes_of,
)
from tonecompare.measure.place.search import WILD_DB, coils, searched_again, settled
from tonecompare.measure.place.voice_parameters import PICKUP

__all__ = [
    "PluckAmplitudes",
    "Positions",
    "amplitudes_of",
    "comb_db",
    "find_positions",
    "no_positions",
]

#: What the model leaves out (polarisations, stiffness), share of the length: 0.06 mm of 648.
MODEL_ERROR = 1.0e-4
#: What scatters the partials moves the pickup's place by this a dB (0.2 mm of 648).
SCATTER_ERROR = 3.0e-4
#: Unequal coils move the place a pair senses by this share of their spacing (8 % mismatch).
PAIR_SHARE = 0.02
#: A pick position less certain than this (share of the length) is not a measurement.
LEAST_CERTAIN = 0.03
#: Another place this probable leaves a picking point open.
MOST_RIVAL = 0.02
#: Picks that vary less than this (share of the scale, 0.8 mm of 648) leave open which comb is
#: which; hands vary by 3 mm.
LEAST_PICK_SPREAD = 0.00125
#: What scatters about a rough model has long tails: what it states counts so many times.
ROUGH = 2.0
#: How much worse (twice the log likelihood) the best other pickup position must fit.
LEAST_EVIDENCE = 9.0
#: How much better two coils must fit than one to be called two.
TWO_COILS = 60.0


@dataclass(frozen=True)
class Positions:
    """Result for one voice and output.

    ``pluck_point``, ``pluck_point_sd`` (n_plucks,) NaN where not determinable; ``likely`` the most
    likely place even where that is open, ``rival`` the next, ``rival_probability`` that of all
    other places together; ``beyond`` whether the mirror image of a place, beyond the middle of the
    string, lies nearer to where the other plucks were picked. ``pickup_point`` is the share of the
    *scale* length, None where not determinable, with the reason. ``gain_db`` is each pluck's level
    at 1 kHz with combs and response taken out: how hard it was picked, whatever the place.
    ``joint`` is the whole fit, ``other`` that with one coil more or less, ``two_coils`` whether
    two are needed (None = open).
    """

    pluck_point: FloatArray
    pluck_point_sd: FloatArray
    likely: FloatArray
    rival: FloatArray
    rival_probability: FloatArray
    beyond: BoolArray
    pickup_point: float | None
    pickup_point_sd: float | None
    reason: str
    gain_db: FloatArray
    data: Data
    joint: Joint | None = None
    other: Joint | None = None
    two_coils: bool | None = None


def find_positions(
    plucks: Sequence[PluckAmplitudes], *, comb: bool = True, pickup_point: float | None = None
) -> Positions:
    """Find the picking point of every pluck and the pickup's position.

    Parameters
    ----------
    plucks
        All plucks of one voice and output.
    comb
        Whether the output senses velocity at a point (magnetic). False for a piezo or a blend.
    pickup_point
        Distance of the pickup from the bridge over the scale length, if known.

    Returns
    -------
    Positions
    """
    data = Data.of(plucks)
    if data.n_plucks == 0:
        return _nothing(data, "too few partials stand above the noise")
    data, found, others = fits_at_depths(data, comb=comb, pickup_point=pickup_point)
    best = found[0]
    if not comb:
        return _placed(data, best, find_dips(data, best), None)
    best = searched_again(data, best)
    here = best.shape.pickup or 0.0
    rivals = [
        joint.cost - best.cost for joint in found if abs((joint.shape.pickup or 0.0) - here) > 0.02
    ]
    chosen, dips, other = coils(data, best)
    rival = None
    if chosen.scatter_db > WILD_DB:
        chosen, dips, rival = _rivalled(data, chosen, dips)
    placed = _placed(data, chosen, dips, other)
    if rival is not None and rival.cost - chosen.cost < LEAST_EVIDENCE * chosen.dependence:
        placed = _opened(placed, data, chosen, rival)
    apart = False
    if is_rough(data, chosen):
        apart, moved = disputed(replace(chosen, picks=dips.place[:, 0]), others)
        placed = _without(placed, moved)
    unsure = bool(rivals) and min(rivals) < LEAST_EVIDENCE * best.dependence
    still = _picks_stood_still(data, best)
    if pickup_point is None and (data.n_plucks < 4 or unsure or still or apart):
        # Without the pickup's place the pick's cannot be told from it either.
        blank = np.full(data.usable.size, np.nan)
        return replace(
            placed, pluck_point=blank, pluck_point_sd=blank, pickup_point=None,
            pickup_point_sd=None, gain_db=blank,
            reason=tr_later("the takes cannot tell the pickup's comb from the pick's"),
        )  # fmt: skip
    return placed


def _rivalled(data: Data, joint: Joint, dips: Dips) -> tuple[Joint, Dips, Joint]:
    """Return the best fit, its dips and the best other, begun from every pluck's rival.

    Where strings scatter widely about the model, what is common follows the picking points chosen,
    and these seem surer than they are.
    """
    rows = np.arange(data.n_plucks)
    rival = joint
    for _ in range(2):
        far = np.abs(dips.place - dips.place[:, :1]) > SAME_PLACE
        second = np.argmax(np.where(far, dips.probability, -1.0), axis=1)
        picks = np.where(far.any(axis=1), dips.place[rows, second], dips.place[:, 0])
        rival = fit_joint(data, joint.shape, picks, scatter_db=joint.scatter_db, rounds=4)
        rival = settled(data, rival)
        if rival.cost >= joint.cost:
            break
        joint, rival = rival, joint
        dips = find_dips(data, joint)
    return joint, dips, rival


def _opened(placed: Positions, data: Data, joint: Joint, other: Joint) -> Positions:
    """Leave open the picking points that another fit of all plucks, as good, has elsewhere."""
    moved = np.zeros(data.usable.size, dtype=bool)
    moved[data.usable] = np.abs(other.picks - placed.likely[data.usable]) > SAME_PLACE
    placed = _without(placed, moved[data.usable])
    rival, doubt = placed.rival.copy(), placed.rival_probability.copy()
    share = 1.0 / (1.0 + np.exp(0.5 * (other.cost - joint.cost) / joint.dependence))
    doubt[moved] = np.maximum(doubt[moved], share)
    rival[data.usable] = np.where(moved[data.usable], other.picks, rival[data.usable])
    return replace(placed, rival=rival, rival_probability=doubt)


def _without(placed: Positions, which: BoolArray) -> Positions:
    """Leave some of the usable plucks' (I,) picking points open."""
    out = np.zeros(placed.data.usable.size, dtype=bool)
    out[placed.data.usable] = which
    return replace(
        placed,
        pluck_point=np.where(out, np.nan, placed.pluck_point),
        pluck_point_sd=np.where(out, np.nan, placed.pluck_point_sd),
    )


def _picks_stood_still(data: Data, joint: Joint) -> bool:
    """Whether picks vary so little (share of the scale) that they might be the pickup's comb.

    Where the model is rough its faults move all repeats of a note together, so that there the
    repeats must differ.
    """
    places = joint.picks * data.sounding
    counts = np.bincount(data.note)
    if is_rough(data, joint) and np.sum(counts[counts > 1]) > 0.5 * data.n_plucks:
        middle = np.array([np.median(places[data.note == note]) for note in range(counts.size)])
        places = (places - middle[data.note])[counts[data.note] > 1]
        # Deviations from the middle of k are short by (k - 1) / k in variance.
        places = places * np.sqrt(counts.max() / max(counts.max() - 1.0, 1.0))
    low, high = np.percentile(places, [25.0, 75.0])
    return bool((high - low) / 1.349 < LEAST_PICK_SPREAD)


def no_positions(plucks: Sequence[PluckAmplitudes], reason: str) -> Positions:
    """Return what is known where the model does not hold: nothing, for this reason."""
    return _nothing(Data.of(plucks), reason)


def _nothing(data: Data, reason: str) -> Positions:
    blank = np.full(data.usable.size, np.nan)
    beyond = np.zeros(data.usable.size, dtype=bool)
    return Positions(blank, blank, blank, blank, blank, beyond, None, None, reason, blank, data)


def _beyond(data: Data, picks: FloatArray) -> BoolArray:
    """Whether the mirror image of a place is clearly nearer to the other plucks' places, (I,)."""
    here, mirror = picks * data.sounding, (1.0 - picks) * data.sounding
    middle = float(np.median(here))
    for _ in range(2):
        nearer = np.where(np.abs(mirror - middle) < np.abs(here - middle), mirror, here)
        middle = float(np.median(nearer))
    return np.asarray(np.abs(mirror - middle) + CROWD / 2.0 < np.abs(here - middle))


def _placed(data: Data, joint: Joint, dips: Dips, other: Joint | None) -> Positions:
    """Put a fit into the shape of all plucks."""

    def full(values: FloatArray) -> FloatArray:
        out = np.full(data.usable.size, np.nan)
        out[data.usable] = values
        return out

    rough = ROUGH if is_rough(data, joint) else 1.0
    sd = np.hypot(rough * np.maximum(joint.pick_sd, dips.sd[:, 0]), MODEL_ERROR)
    far = np.abs(dips.place - dips.place[:, :1]) > np.maximum(SAME_PLACE, 3.0 * sd[:, None])
    rival_share = np.where(far, dips.probability, 0.0)
    which = np.argmax(rival_share, axis=1)[:, None]
    rival = np.take_along_axis(dips.place, which, axis=1)[:, 0]
    doubt = rival_share.sum(axis=1)
    sure = (sd < LEAST_CERTAIN) & (doubt < MOST_RIVAL)
    two_coils = None
    pickup_sd = None
    if joint.shape.pickup is not None and other is not None:
        if abs(joint.cost - other.cost) > TWO_COILS * joint.dependence:
            two_coils = joint.shape.spacing is not None
        pair = 0.0 if two_coils is False else (joint.shape.spacing or 0.028) * PAIR_SHARE
        variance = rough**2 * joint.covariance[PICKUP, PICKUP]
        scatter = SCATTER_ERROR * joint.scatter_db
        pickup_sd = float(np.sqrt(variance + MODEL_ERROR**2 + pair**2 + scatter**2))
    beyond = np.zeros(data.usable.size, dtype=bool)
    beyond[data.usable] = _beyond(data, dips.place[:, 0])
    return Positions(
        pluck_point=full(np.where(sure, dips.place[:, 0], np.nan)),
        pluck_point_sd=full(np.where(sure, sd, np.nan)),
        likely=full(dips.place[:, 0]),
        rival=full(np.where(doubt > 0.0, rival, np.nan)),
        rival_probability=full(doubt),
        beyond=beyond,
        pickup_point=joint.shape.pickup,
        pickup_point_sd=pickup_sd,
        reason="",
        gain_db=full(strengths_db(data, joint, dips.place[:, 0])),
        data=data,
        joint=joint,
        other=other,
        two_coils=two_coils,
    )
