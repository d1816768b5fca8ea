"""Whether a stage held still: its first voice against its own repeat at the end.

Asked for where ``session.toml`` plans it (``again`` of a stage); judged wherever it is there, by
:mod:`tonecompare.compare.causes.repeat_drift`. A gain that moved between the two is told by
``gain_moved``; level and hum, which it moves, are then left to it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tonecompare.compare.causes.repeat_drift import HELD, Drift, by_stage, find_drifts
from tonecompare.compare.check.check_results import Checked, Fault
from tonecompare.compare.check.stages.gain_moved import LEAST_GAIN_DB, TOGETHER_DB
from tonecompare.compare.drift_words import held_words, moved_words
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


def held_sentences(checked: Checked, stage: str) -> tuple[str, ...]:
    """Return how far the stage held still, a sentence per voice that was repeated."""
    drifts = by_stage(find_drifts(checked.session, checked.measurements)).get(stage, ())
    voices: dict[str, list[Drift]] = {}
    for one in drifts:
        if one.quantity.column in HELD:
            voices.setdefault(one.voice, []).append(one)
    return tuple(_sentence(voice, of) for voice, of in voices.items())


def _sentence(voice: str, of: list[Drift]) -> str:
    still = [one for one in of if not (one.shown or one.beyond)]
    moved = [one for one in of if one.shown or one.beyond]
    parts = []
    if moved:
        parts.append(f"{voice}, recorded first and again at the end, differs {moved_words(moved)}")
    if still:
        who = "the rest" if moved else f"{voice}, recorded first and again at the end,"
        parts.append(f"{who} moved by at most {held_words(still)}")
    return "; ".join(parts) + "."


def _gain_moved(drifts: tuple[Drift, ...]) -> bool:
    by_name = {one.quantity.column: one.difference for one in drifts}
    hiss, level = by_name.get("hiss_dbfs", np.nan), by_name.get("level_dbfs", np.nan)
    return bool(abs(hiss) >= LEAST_GAIN_DB and abs(level - hiss) <= TOGETHER_DB)


def _missing(stage: str, voice: str) -> Fault:
    return Fault(
        "drift unknown",
        "doubt",
        stage,
        voice + AGAIN,
        "",
        None,
        f"{voice} was to be recorded once more at the end, as {voice}{AGAIN}, and is not here.",
        "It shows what hand, strings and hum changed while nothing was done; without it, drift "
        "during the session cannot be told from work.",
        f"Record {voice} once more now, set as for its first recording, as {voice}{AGAIN}.wav.",
    )


def _moved(stage: str, moved: list[Drift]) -> Fault:
    voice = moved[0].voice
    heard = [one for one in moved if one.beyond]
    unsure = [one for one in heard if not one.shown]
    why = "Nothing was done in between: as much can stand between any two recordings of this stage"
    why += (
        ", and it is more than the hearing threshold."
        if heard
        else ". It is below the hearing threshold."
    )
    if unsure and len(unsure) == len(moved):
        why += " The plucks scatter so much that it may be chance."
    return Fault(
        "drift",
        "doubt" if heard else "note",
        stage,
        voice + AGAIN,
        "",
        None,
        f"{voice}, recorded again at the end, differs {moved_words(moved)} from its first "
        "recording.",
        why,
        _remedy(moved)
        if heard
        else "The report allows for it; nothing needs to be recorded again.",
    )


def _remedy(moved: list[Drift]) -> str:
    columns = {one.quantity.column for one in moved if one.beyond}
    looks = []
    if "cents" in columns:
        looks.append("tune before every voice")
    if columns & {"level_dbfs", "centroid_hz"}:
        looks.append("mark the picking place and rest the hand the same way each time")
    if "decay_s" in columns:
        looks.append("see that nothing touches the strings, and how old they are")
    if "hum_dbfs" in columns:
        looks.append("sit in the same place, facing the same way")
    text = "; ".join(looks)
    return (
        f"{text[:1].upper()}{text[1:]}. If time allows, record the stage anew; else the report "
        "allows for it with wider intervals."
    )
