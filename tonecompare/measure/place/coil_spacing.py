"""How far apart a pair of coils stands, from the joint fit of a voice.

The width of a coil and the spacing of two bend the partials over the wave number n/L, each in its
own way once notes are fretted (:mod:`tonecompare.measure.place.joint_fit`).
"""

from __future__ import annotations

import numpy as np

from tonecompare.language import tr_later
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.place.pick_and_pickup import Positions
from tonecompare.measure.place.voice_parameters import SPACING

#: A spacing less certain than this (share of itself) is not a measurement.
LEAST_CERTAIN = 0.1
#: What the model leaves out of it, share; the same per dB of scatter.
MODEL_SHARE, SCATTER_SHARE = 0.01, 0.03
_OPEN = tr_later("not determinable: the takes cannot tell two coils from one wide one")


def find_spacing(positions: Positions) -> Measured:
    """Return the spacing of two coils as a share of the scale length, or why there is none.

    Parameters
    ----------
    positions
        What :func:`tonecompare.measure.place.pick_and_pickup.find_positions` found.
    """
    joint = positions.joint
    if joint is None:
        return unmeasured("1", tr_later("not determinable: {why}", why=positions.reason))
    if joint.shape.spacing is None:
        return unmeasured("1", tr_later("not determinable: one coil explains the partials as well"))
    sd = float(np.sqrt(joint.covariance[SPACING, SPACING]))
    left_out = np.hypot(MODEL_SHARE, SCATTER_SHARE * joint.scatter_db)
    sd = float(np.hypot(sd, left_out * joint.shape.spacing))
    if positions.two_coils is None or sd > LEAST_CERTAIN * joint.shape.spacing:
        return unmeasured("1", _OPEN)
    return Measured(joint.shape.spacing, "1", sd, method="partials of many notes")
