"""Whether the partials moved as a pick that moved would have them move."""

from __future__ import annotations

import numpy as np

from tonecompare.compare.causes.hand.hand_spread import plucks_of
from tonecompare.compare.causes.rows_to_explain import VoiceRows
from tonecompare.compare.comb_correction import comb_db, numbers
from tonecompare.compare.difference.statistics import moments
from tonecompare.measure.model import Measurements
from tonecompare.quantities.registry import PARTIAL_LEVELS

#: Fewer partials of a note than this tell nothing of a comb.
FEWEST_PARTIALS = 4


def comb_share(voice: VoiceRows, measurements: Measurements) -> float:
    """Return how much of the comb's shift is in the partials: 1 when the pick moved as measured.

    ``sum c d / sum c²`` over notes and partials, ``c`` the comb's shift and ``d`` the partials'
    after minus before, each with its mean and its slope over log2 n within a note taken off, which
    a pickup moves too. NaN, and so no reason for doubt, with too few partials.
    """
    of = plucks_of(voice, measurements)
    levels, places = numbers(of, list(PARTIAL_LEVELS)), numbers(of, ["pluck_point"])
    shifts = comb_db(places[:, 0])
    after = (of["stage"].astype(str) == voice.after).to_numpy()
    products = squares = 0.0
    for _, rows in of.reset_index(drop=True).groupby("note").groups.items():
        at = np.asarray(rows, dtype=np.intp)
        sides = [at[after[at]], at[~after[at]]]
        if min(side.size for side in sides) == 0:
            continue
        moved, comb = (
            np.subtract(*(moments(values[side])[0] for side in sides))
            for values in (levels, shifts)
        )
        there = np.isfinite(moved) & np.isfinite(comb)
        if there.sum() < FEWEST_PARTIALS:
            continue
        bend = np.vander(np.log2(np.flatnonzero(there) + 1.0), 2)
        both = np.stack([comb[there], moved[there]], axis=1)
        c, d = (both - bend @ np.linalg.lstsq(bend, both, rcond=None)[0]).T
        products += float(c @ d)
        squares += float(c @ c)
    return products / squares if squares > 0.0 else float("nan")
