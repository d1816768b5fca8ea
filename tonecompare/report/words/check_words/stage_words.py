"""Faults that show between the voices of a stage or between stages, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.report.words.cause_words.drift_words import moved_words
from tonecompare.report.words.check_words.told import Told
from tonecompare.report.words.exchanged_outputs import SWAPPED_REMEDY, SWAPPED_WHAT
from tonecompare.report.words.numbers import number
from tonecompare.session.model import AGAIN

#: Quantities that drifted -> what to look at.
_LOOK_AT = (
    ({"cents"}, "tune before every voice"),
    (
        {"level_dbfs", "centroid_hz"},
        "mark the picking place and rest the hand the same way each time",
    ),
    ({"decay_s"}, "see that nothing touches the strings, and how old they are"),
    ({"hum_dbfs"}, "sit in the same place, facing the same way"),
)


def _gain_moved(fault: Fault) -> Told:
    *where, hiss_db, level_db = fault.data
    hiss, level = (number(moved_db, 1, signed=True) for moved_db in (hiss_db, level_db))
    if where[0] == "within":
        return Told(
            f"From about {fault.time_s:.1f} s on hiss ({hiss} dB) and level "
            f"({level} dB) moved together.",
            "The gain was turned during the recording: plucks before and after do not compare.",
            "Record it again without touching the gain.",
        )
    _, stage, voice = where
    other = voice if stage == fault.stage else f"{voice} at {stage}"
    return Told(
        f"Against {other} the hiss moved by {hiss} dB and the level with it ({level} dB).",
        "A gain or pad moves both; a pickup moves only the level. Levels and hum of the two do not "
        "compare.",
        "Set the gain back and record it again, or write both gains into session.toml "
        "(interface_gain_db).",
    )


def _hum(fault: Fault) -> Told:
    hum_dbfs, above_db, same_voice = fault.data
    others = "other takes of this voice" if same_voice else "other voices of this stage"
    return Told(
        f"Hum at {number(hum_dbfs, 1)} dBFS, {number(above_db, 0)} dB above the {others} "
        "(the middle of them).",
        "Hum depends on place, direction and grounding; this one would be taken for the work, and "
        "its lines cover partials.",
        "Look for a ground that came off, an open shield, a dimmer or a supply nearby, sit as for "
        "the other takes and record it again. If work on the wiring explains it, it is a finding.",
    )


def _wrong_voice(fault: Fault) -> Told:
    if fault.data[0] == "crosswise":
        _, other, stage, cross_db, straight_db = fault.data
        what = (
            f"It has the sound of {other} at {stage} (partials {number(cross_db, 1)} dB "
            f"apart), not that of {fault.voice} there ({number(straight_db, 1)} dB); with "
            f"{other} it is the other way round."
        )
    else:
        _, near, near_mm, far, far_mm = fault.data
        own_mm = near_mm if fault.voice == near else far_mm
        what = (
            f"The comb of its partials puts the pickup of {near} {number(near_mm, 0)} "
            f"mm from the bridge and that of {far} {number(far_mm, 0)} mm: {fault.voice} "
            f"({number(own_mm, 0)} mm) is not where its name says."
        )
    return Told(
        what,
        "A comparison would set one pickup against another and call it the work.",
        "Listen to both; if the files were swapped, swap their names, else record them again.",
    )


def _voices_alike(fault: Fault) -> Told:
    other, apart_db, level_db = fault.data
    return Told(
        f"{fault.voice} and {other} sound the same: partials {number(apart_db, 1)} dB apart, level "
        f"{number(level_db, 1)} dB.",
        "The selector may have stood where it was before, or a switch does nothing.",
        f"Check the selector and record {fault.voice} again.",
    )


def _exchanged(_: Fault) -> Told:
    return Told(
        SWAPPED_WHAT,
        "Delay, polarity, pickup position and everything said of either output belong "
        "to the other.",
        SWAPPED_REMEDY,
    )


def _missing_voice(fault: Fault) -> Told:
    (earlier,) = fault.data
    known = f"was recorded at {earlier}" if earlier else "is planned in session.toml"
    return Told(
        f"{fault.voice} {known}, but no recording of it is here.",
        "What is not recorded now cannot be compared later.",
        "Record it, unless this instrument does not have it (any more).",
    )


def _nothing_recorded(_: Fault) -> Told:
    return Told(
        "No recording is in the folder of this stage.",
        "What is not recorded before the work is lost.",
        "Record every voice first.",
    )


def _drift_unknown(fault: Fault) -> Told:
    (voice,) = fault.data
    return Told(
        f"{voice} was to be recorded once more at the end, as {voice}{AGAIN}, and is not here.",
        "It shows what hand, strings and hum changed while nothing was done; without it, drift "
        "during the session cannot be told from work.",
        f"Record {voice} once more now, set as for its first recording, as {voice}{AGAIN}.wav.",
    )


def _drift(fault: Fault) -> Told:
    moved = fault.data
    heard = [one for one in moved if one.beyond]
    why = "Nothing was done in between: as much can stand between any two recordings of this stage"
    why += (
        ", and it is more than the hearing threshold."
        if heard
        else ". It is below the hearing threshold."
    )
    if len(heard) == len(moved) and not any(one.shown for one in moved):
        why += " The plucks scatter so much that it may be chance."
    columns = {one.quantity.column for one in heard}
    sizes = moved_words([one.facts for one in moved])
    looks = "; ".join(look for of, look in _LOOK_AT if columns & of)
    return Told(
        f"{moved[0].voice}, recorded again at the end, differs {sizes} from its first recording.",
        why,
        f"{looks[:1].upper()}{looks[1:]}. If time allows, record the stage anew; else the report "
        "allows for it with wider intervals."
        if heard
        else "The report allows for it; nothing needs to be recorded again.",
    )


OF_STAGES: Mapping[str, Callable[[Fault], Told]] = {
    "gain moved": _gain_moved,
    "hum": _hum,
    "wrong voice": _wrong_voice,
    "voices alike": _voices_alike,
    "outputs exchanged": _exchanged,
    "missing voice": _missing_voice,
    "nothing recorded": _nothing_recorded,
    "drift unknown": _drift_unknown,
    "drift": _drift,
}
