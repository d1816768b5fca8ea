"""What a string allows: how far a pick that moved can change what comes of the partials.

A comb correction multiplies measured partials; where a place is wrong or a partial stands near a
null, it takes out what no string does. An ideal string (partials ``|sin(n pi p)| / n``) under a
magnetic pickup anywhere (``|sin(n pi d)|``, d :data:`PICKUPS_AT`) says how far is possible.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_correction import at_one_place, comb_db, numbers
from tonecompare.quantities.compared import Quantity
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS

#: Where magnetic pickups can sit, share of the sounding length.
PICKUPS_AT = np.linspace(0.04, 0.5, 12)


def string_allows(
    before: FloatArray, after: FloatArray, quantities: tuple[Quantity, ...], *, f0_hz: float
) -> dict[str, float]:
    """Return the largest change of each column between two places, positive, on its own scale.

    Parameters
    ----------
    before, after
        Picking places that are possible, share of the sounding length, shape (k,) each.
    quantities
        What is asked for; 0 for what no partials make.
    f0_hz
        Pitch, for the octave bands; NaN leaves them out.
    """
    pairs = np.array([(p, q, d) for p in before for q in after for d in PICKUPS_AT])
    order = np.arange(1, N_PARTIALS + 1)
    h = comb_db(pairs[:, 0]) + comb_db(pairs[:, 2]) - 20.0 * np.log10(order)
    partials = dict(zip(PARTIAL_LEVELS, h.T, strict=True))
    columns = {q.column: np.full(len(pairs), 1.0 if q.ratio else 0.0) for q in quantities}
    frame = pd.DataFrame(columns | partials).assign(pluck_point=pairs[:, 0], f0_hz=f0_hz)
    moved = at_one_place(frame.assign(note=""), place=pairs[:, 1])
    allowed: dict[str, float] = {}
    for quantity in quantities:
        name = quantity.column
        start, end = (quantity.to_scale(numbers(of, [name])[:, 0]) for of in (frame, moved))
        change = np.abs(end - start)
        if np.isfinite(change).any():
            allowed[name] = float(np.nanmax(change))
    return allowed
