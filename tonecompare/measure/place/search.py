"""From the grid to the best fit of a voice: first fits, jumps between dips, a second search."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tonecompare.measure.place.combs import comb_parts
from tonecompare.measure.place.joint_fit import Joint, fit_joint
from tonecompare.measure.place.pick_candidates import Dips, find_dips
from tonecompare.measure.place.plucks_as_arrays import SCATTER_DB, Data
from tonecompare.measure.place.start_grid import Start, starts
from tonecompare.measure.place.voice_parameters import Shape

#: How much worse (twice the log likelihood) a first fit may be to be looked at again.
_HOPELESS = 60.0
#: How surely a pickup distance read from a ruler is known, share of the scale (1.5 mm of 648).
RULER_SD = 0.0023
_N_STARTS = 4
#: Distance of the places looked at beside the best, share of the scale: 2 mm of 648.
_BESIDE = 0.003
#: Scatter that a right fit of clean partials does not leave and a wrong one does, dB (real strings
#: scatter by more in the right one).
_SUSPICIOUS_DB, WILD_DB = 0.3, 2.5
#: Steps of the last fit, which ends when it stands still.
_TO_THE_END = 12


def fits(data: Data, *, comb: bool, pickup_point: float | None) -> list[Joint]:
    """Return fits of one coil from the best starts of the grid, best first."""
    count = _N_STARTS if comb and pickup_point is None else 1
    first = [
        _fit(data, start, pickup_point)
        for start in starts(data, count=count, pickup=pickup_point, comb=comb)
    ]
    lowest = min(joint.cost for joint in first)
    found = [settled(data, joint) for joint in first if joint.cost < lowest + _HOPELESS]
    return sorted(found, key=lambda joint: joint.cost)


def _fit(data: Data, start: Start, known: float | None) -> Joint:
    """First fit from a start of the grid."""
    shape = Shape(start.pickup)
    if start.pickup is None:
        shape = Shape(None, None)
    elif known is not None:
        shape = Shape(start.pickup, pickup_mean=known, pickup_sd=RULER_SD)
    return fit_joint(data, shape, start.picks, rounds=3)


def settled(data: Data, joint: Joint) -> Joint:
    """Fit on while picking points jump to deeper dips."""
    for rounds in (5, 4, 4):
        dips = find_dips(data, joint)
        jumped = bool(np.any(np.abs(dips.place[:, 0] - joint.picks) > 0.002))
        joint = fit_joint(
            data, joint.shape, dips.place[:, 0], scatter_db=joint.scatter_db, rounds=rounds
        )
        if not jumped:
            break
    return joint


def searched_again(data: Data, joint: Joint) -> Joint:
    """Search the grid again with the response known, where partials scatter as in a wrong dip."""
    if _SUSPICIOUS_DB < joint.scatter_db < WILD_DB and joint.shape.pickup is not None:
        comb, _, _ = comb_parts(data.wave, joint.shape.pickup, data.fill)
        bare = replace(data, y=data.y - joint.common + comb)
        here = joint.shape.pickup
        beside = [Start(here + step, joint.picks, 0.0) for step in (-_BESIDE, _BESIDE)]
        for start in [*starts(bare, count=2), *beside]:
            shape = replace(joint.shape, pickup=start.pickup)
            again = fit_joint(data, shape, start.picks, scatter_db=SCATTER_DB, rounds=4)
            if again.cost < joint.cost + _HOPELESS:
                joint = min(joint, settled(data, again), key=lambda each: each.cost)
    return joint


def coils(data: Data, one: Joint) -> tuple[Joint, Dips, Joint]:
    """Return the better of one and two coils, fitted to the end, its dips, and the other."""
    two = fit_joint(data, one.shape.two_coils(), one.picks, scatter_db=one.scatter_db, rounds=6)
    better, other = (two, one) if two.cost < one.cost else (one, two)
    better = fit_joint(
        data, better.shape, better.picks, scatter_db=better.scatter_db, rounds=_TO_THE_END
    )
    return better, find_dips(data, better), other
