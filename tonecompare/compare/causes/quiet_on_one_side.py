"""Quiet in one stage only: hiss taken off the plucks of one stage and left in those of the other.

Brightness is the first to show it: on one and the same plucks 60 dB over the noise the centroid
comes out 5 % higher when nothing is known of the noise, and up to a third higher at 45 dB. Weak
upper partials and the late part of a decay follow. A level 20 dB over the noise moves by 0.04 dB.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from tonecompare.compare.cause_facts import QuietFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.hand.hand_spread import plucks_of
from tonecompare.compare.causes.rows_to_explain import VoiceRows, voices_of
from tonecompare.compare.comb_correction import numbers
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import BY_UNKNOWN_NOISE
from tonecompare.session.model import Session

KIND = "quiet"
#: The shares of plucks without known noise differ by more than this between the stages.
LEAST_APART = 0.5


def find_quiet(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Find the voices whose noise is known at one stage and not at the other."""
    found = []
    for voice in voices_of(differences):
        plucks = plucks_of(voice, measurements)
        without = [_share_without(plucks, stage) for stage in (voice.before, voice.after)]
        if abs(without[1] - without[0]) > LEAST_APART:
            found.append(
                _confound(voice, lacking=(voice.before, voice.after)[int(np.argmax(without))])
            )
    return ConfoundFindings(tuple(found))


def _share_without(plucks: pd.DataFrame, stage: str) -> float:
    """Share of a stage's plucks with a level but no signal to noise: no quiet was known."""
    values = numbers(plucks[plucks["stage"] == stage], ["level_dbfs", "snr_db"])
    values = values[np.isfinite(values[:, 0])]
    return float(np.isnan(values[:, 1]).mean()) if len(values) else np.nan


def _confound(voice: VoiceRows, *, lacking: str) -> Confound:
    return Confound(
        voice.comparison,
        voice.voice,
        KIND,
        True,
        None,
        "",
        None,
        None,
        None,
        BY_UNKNOWN_NOISE,
        QuietFacts(lacking),
        voice.output,
        voice.several,
    )
