"""How much plucks of one note differ from each other: the spread that planning needs.

Deviations are taken within stage, voice, output and note, so that neither notes nor stages add to
them, and pooled over all (the pooled variance of a one-way layout):

    s² = sum_g sum_i (x_gi - mean_g)² / sum_g (n_g - 1).
"""

from __future__ import annotations

from math import log

import pandas as pd

from tonecompare.compare.difference.stage_pairs import scale_matrix
from tonecompare.quantities.compared import quantity_of

#: Fewer degrees of freedom than this tell too little to plan with.
LEAST_DF = 4
#: Factor from the analysis scale (dB, cents, natural logarithm) to the unit of the result.
_FACTORS = {
    "level_dbfs": 1.0,
    "centroid_hz": 1200.0 / log(2.0),
    "decay_s": 100.0,
    "cents": 1.0,
}


def pluck_spreads(plucks: pd.DataFrame) -> dict[str, float]:
    """Return the standard deviation from pluck to pluck, by quantity.

    Parameters
    ----------
    plucks
        The table of :class:`tonecompare.measure.model.Measurements`, a row per pluck and channel.

    Returns
    -------
    dict[str, float]
        ``level_dbfs`` in dB, ``centroid_hz`` in cents, ``decay_s`` in percent, ``cents`` in cents;
        without those that fewer than :data:`LEAST_DF` degrees of freedom show, and without those
        that do not differ at all.
    """
    named = plucks[plucks["note"].fillna("").astype(str) != ""]
    if named.empty:
        return {}
    values = pd.DataFrame(
        scale_matrix(named, [quantity_of(name) for name in _FACTORS]),
        columns=list(_FACTORS),
        index=named.index,
    )
    groups = values.groupby([named[key] for key in ("stage", "voice", "output", "note")])
    counts = groups.count()
    squares = (groups.var(ddof=1).fillna(0.0) * (counts - 1).clip(lower=0)).sum()
    df = (counts - 1).clip(lower=0).sum()
    return {
        name: float((squares[name] / df[name]) ** 0.5 * factor)
        for name, factor in _FACTORS.items()
        if df[name] >= LEAST_DF and squares[name] > 0.0
    }
