"""How deep are a voice's nulls? Fits at several depths, and what all of them agree about.

A pickup near the strings bends: the sums of partials that it adds fill the nulls of both combs 10
to 15 dB down instead of 26, and a model of deep nulls then exchanges pick and pickup or puts them
anywhere, with a scatter of 4 dB. Real strings scatter as much for other reasons. So wherever
partials scatter, all depths are tried: one that explains most of the scatter is taken, and a place
stands only where the other depths put it too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tonecompare.measure.place.combs import BENT_FILLS, NULL_FILL
from tonecompare.measure.place.joint_fit import Joint
from tonecompare.measure.place.plucks_as_arrays import BoolArray, Data
from tonecompare.measure.place.search import WILD_DB, fits

#: Partials that scatter less than this about the model leave no doubt how deep nulls are, dB.
CLEAN_DB = 1.5
#: A bent pickup's fill leaves at most this share of the scatter.
EXPLAINS = 0.65
#: A depth that fits worse by this (twice the log likelihood) has no say, unless all scatter.
HOPELESS = 60.0
#: Picking points (share of the length) and pickups (of the scale) closer than this agree.
SAME_PLACE, SAME_PICKUP = 0.01, 0.008


def fits_at_depths(
    data: Data, *, comb: bool, pickup_point: float | None
) -> tuple[Data, list[Joint], list[Joint]]:
    """Fit with nulls as deep as the plucks show them.

    Parameters
    ----------
    data
        Usable plucks.
    comb, pickup_point
        As in :func:`tonecompare.measure.place.search.fits`.

    Returns
    -------
    tuple
        The plucks with their depth, its fits (best first), and the best fits at the other depths,
        which are to agree (none where partials hardly scatter).
    """
    found = fits(data, comb=comb, pickup_point=pickup_point)
    if not comb or found[0].scatter_db < CLEAN_DB:
        return data, found, []
    bent = [
        (there, fits(there, comb=comb, pickup_point=pickup_point))
        for there in (replace(data, fill=fill) for fill in BENT_FILLS)
    ]
    explaining = [each for each in bent if each[1][0].scatter_db < EXPLAINS * found[0].scatter_db]
    chosen = min(explaining, key=lambda each: each[1][0].cost) if explaining else (data, found)
    best = chosen[1][0]
    likely = best.cost + (HOPELESS if best.scatter_db < WILD_DB else np.inf)
    others = [each[1][0] for each in bent if each is not chosen and each[1][0].cost < likely]
    return *chosen, others


def is_rough(data: Data, joint: Joint) -> bool:
    """Whether partials scatter widely about the model, or only filled nulls fit them."""
    return joint.scatter_db > CLEAN_DB or data.fill > NULL_FILL


def disputed(joint: Joint, others: Sequence[Joint]) -> tuple[bool, BoolArray]:
    """Whether other depths put the pickup elsewhere, and which of the usable plucks' picks (I,)."""
    here = joint.shape.pickup or 0.0
    pickup = any(abs((other.shape.pickup or 0.0) - here) > SAME_PICKUP for other in others)
    picks = np.zeros(joint.picks.size, dtype=bool)
    for other in others:
        picks |= np.abs(other.picks - joint.picks) > SAME_PLACE
    return pickup, picks
