"""What the hand set anew between the stages, judged by the scatter from pluck to pluck.

Over the notes a difference of the *work* is judged by how far it scatters from note to note. What
the hand does to each note (place, strength) scatters there as well, but that scatter is itself
what a confound is made of; so here only the scatter among plucks of one note counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.compare.causes.rows_to_explain import VoiceRows
from tonecompare.compare.comb_correction import numbers
from tonecompare.compare.difference.statistics import Estimate, combine
from tonecompare.measure.model import Measurements


def plucks_of(voice: VoiceRows, measurements: Measurements) -> pd.DataFrame:
    """Return the plucks of one voice and output in both stages."""
    plucks = measurements.plucks
    return plucks[
        plucks["stage"].isin([voice.before, voice.after])
        & (plucks["voice"].astype(str) == voice.voice)
        & (plucks["output"].astype(str) == voice.output)
    ]


@dataclass(frozen=True)
class HandDifference:
    """After minus before over the notes, judged by the scatter from pluck to pluck.

    ``middle`` is the median over the notes, ``estimate`` the mean with its standard error.
    """

    middle: float
    estimate: Estimate

    @property
    def p_value(self) -> float:
        """Two-sided p of no difference."""
        return float(self.estimate.p_value)


def hand_difference(plucks: pd.DataFrame, voice: VoiceRows, column: str) -> HandDifference | None:
    """Return how a quantity moved; None without two plucks of a note on both sides."""
    values = numbers(plucks, [column])[:, 0]
    stage = plucks["stage"].astype(str).to_numpy()
    note = plucks["note"].astype(str).to_numpy()
    changes, variances, freedoms = [], [], []
    for name in dict.fromkeys(note[note != ""]):
        sides = [values[(stage == s) & (note == name)] for s in (voice.before, voice.after)]
        sides = [side[np.isfinite(side)] for side in sides]
        if min(side.size for side in sides) < 2:
            continue
        changes.append(float(sides[1].mean() - sides[0].mean()))
        for side in sides:
            variances.append(float(side.var(ddof=1)) / side.size)
            freedoms.append(side.size - 1.0)
    if not changes:
        return None
    total = combine(np.mean(changes), np.array(variances) / len(changes) ** 2, np.array(freedoms))
    return HandDifference(float(np.median(changes)), total)
