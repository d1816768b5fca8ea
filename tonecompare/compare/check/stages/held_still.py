"""Whether a stage held still: its first voice against its own repeat at the end.

Asked for where ``session.toml`` plans it (``again`` of a stage); judged wherever it is there, by
:mod:`tonecompare.compare.causes.repeat_drift`. A gain that moved between the two is told by
``gain_moved``; level and hum, which it moves, are then left to it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tonecompare.compare.causes.repeat_drift import HELD, Drift, by_stage, find_drifts
from tonecompare.compare.check.check_results import Checked, Fault, Held
from tonecompare.compare.check.stages.gain_moved import LEAST_GAIN_DB, TOGETHER_DB
from tonecompare.session.model import AGAIN

#: What a moved gain moves.
_OF_GAIN = ("level_dbfs", "hum_dbfs")


def held_faults(checked: Checked) -> Iterator[Fault]:
    """Yield stages whose planned repeat is missing, and repeats that differ from the first."""
    for stage in checked.stages():
        voice = checked.session.stages[stage].again
        if voice and voice + AGAIN not in checked.session.voices_of(stage):
            yield _missing(stage, voice)
    for stage, drifts in by_stage(find_drifts(checked.session, checked.measurements)).items():
        told = [one for one in drifts if one.quantity.column in HELD]
        if _gain_moved(drifts):
            told = [one for one in told if one.quantity.column not in _OF_GAIN]
        moved = [one for one in told if one.shown or one.beyond]
        if moved:
            yield _moved(stage, moved)


def held_of(checked: Checked, stage: str) -> tuple[Held, ...]:
    """Return how far the stage held still, for every voice that was repeated."""
    drifts = by_stage(find_drifts(checked.session, checked.measurements)).get(stage, ())
    voices: dict[str, list[Drift]] = {}
    for one in drifts:
        if one.quantity.column in HELD:
            voices.setdefault(one.voice, []).append(one)
    return tuple(Held(voice, tuple(of)) for voice, of in voices.items())


def _gain_moved(drifts: tuple[Drift, ...]) -> bool:
    by_name = {one.quantity.column: one.difference for one in drifts}
    hiss, level = by_name.get("hiss_dbfs", np.nan), by_name.get("level_dbfs", np.nan)
    return bool(abs(hiss) >= LEAST_GAIN_DB and abs(level - hiss) <= TOGETHER_DB)


def _missing(stage: str, voice: str) -> Fault:
    # Data: the voice that was to be recorded again.
    return Fault("drift unknown", "doubt", stage, voice + AGAIN, "", None, (voice,))


def _moved(stage: str, moved: list[Drift]) -> Fault:
    # Data: the drifts that showed or that are more than the hearing threshold.
    severity = "doubt" if any(one.beyond for one in moved) else "note"
    return Fault("drift", severity, stage, moved[0].voice + AGAIN, "", None, tuple(moved))
