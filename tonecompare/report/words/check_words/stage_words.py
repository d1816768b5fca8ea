"""Faults that show between the voices of a stage or between stages, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.language import tr, tr_later
from tonecompare.report.words.cause_words.drift_words import moved_words
from tonecompare.report.words.check_words.told import Told, seconds
from tonecompare.report.words.exchanged_outputs import SWAPPED_REMEDY, SWAPPED_WHAT
from tonecompare.report.words.numbers import number
from tonecompare.session.model import AGAIN

#: Quantities that drifted -> what to look at.
_LOOK_AT = (
    ({"cents"}, tr_later("tune before every voice")),
    (
        {"level_dbfs", "centroid_hz"},
        tr_later("mark the picking place and rest the hand the same way each time"),
    ),
    ({"decay_s"}, tr_later("see that nothing touches the strings, and how old they are")),
    ({"hum_dbfs"}, tr_later("sit in the same place, facing the same way")),
)


def _gain_moved(fault: Fault) -> Told:
    *where, hiss_db, level_db = fault.data
    hiss, level = (number(moved_db, 1, signed=True) for moved_db in (hiss_db, level_db))
    if where[0] == "within":
        return Told(
            tr(
                "From about {time} s on hiss ({hiss} dB) and level ({level} dB) moved together.",
                time=seconds(fault.time_s),
                hiss=hiss,
                level=level,
            ),
            tr("The gain was turned during the recording: plucks before and after do not compare."),
            tr("Record it again without touching the gain."),
        )
    _, stage, voice = where
    other = voice if stage == fault.stage else tr("{voice} at {stage}", voice=voice, stage=stage)
    return Told(
        tr(
            "Against {other} the hiss moved by {hiss} dB and the level with it ({level} dB).",
            other=other,
            hiss=hiss,
            level=level,
        ),
        tr(
            "A gain or pad moves both; a pickup moves only the level. Levels and hum of the two do "
            "not compare."
        ),
        tr(
            "Set the gain back and record it again, or write both gains into session.toml "
            "(interface_gain_db)."
        ),
    )


def _hum(fault: Fault) -> Told:
    hum_dbfs, above_db, same_voice = fault.data
    what = (
        tr_later(
            "Hum at {hum} dBFS, {above} dB above the other takes of this voice (the middle of "
            "them)."
        )
        if same_voice
        else tr_later(
            "Hum at {hum} dBFS, {above} dB above the other voices of this stage (the middle of "
            "them)."
        )
    )
    return Told(
        tr(what, hum=number(hum_dbfs, 1), above=number(above_db, 0)),
        tr(
            "Hum depends on place, direction and grounding; this one would be taken for the work, "
            "and its lines cover partials."
        ),
        tr(
            "Look for a ground that came off, an open shield, a dimmer or a supply nearby, sit as "
            "for the other takes and record it again. If work on the wiring explains it, it is a "
            "finding."
        ),
    )


def _wrong_voice(fault: Fault) -> Told:
    if fault.data[0] == "crosswise":
        _, other, stage, cross_db, straight_db = fault.data
        what = tr(
            "It has the sound of {other} at {stage} (partials {cross} dB apart), not that of "
            "{voice} there ({straight} dB); with {other} it is the other way round.",
            other=other,
            stage=stage,
            cross=number(cross_db, 1),
            voice=fault.voice,
            straight=number(straight_db, 1),
        )
    else:
        _, near, near_mm, far, far_mm = fault.data
        own_mm = near_mm if fault.voice == near else far_mm
        what = tr(
            "The comb of its partials puts the pickup of {near} {near_mm} mm from the bridge and "
            "that of {far} {far_mm} mm: {voice} ({own_mm} mm) is not where its name says.",
            near=near,
            near_mm=number(near_mm, 0),
            far=far,
            far_mm=number(far_mm, 0),
            voice=fault.voice,
            own_mm=number(own_mm, 0),
        )
    return Told(
        what,
        tr("A comparison would set one pickup against another and call it the work."),
        tr("Listen to both; if the files were swapped, swap their names, else record them again."),
    )


def _voices_alike(fault: Fault) -> Told:
    other, apart_db, level_db = fault.data
    return Told(
        tr(
            "{voice} and {other} sound the same: partials {apart} dB apart, level {level} dB.",
            voice=fault.voice,
            other=other,
            apart=number(apart_db, 1),
            level=number(level_db, 1),
        ),
        tr("The selector may have stood where it was before, or a switch does nothing."),
        tr("Check the selector and record {voice} again.", voice=fault.voice),
    )


def _exchanged(_: Fault) -> Told:
    return Told(
        tr(SWAPPED_WHAT),
        tr(
            "Delay, polarity, pickup position and everything said of either output belong to the "
            "other."
        ),
        tr(SWAPPED_REMEDY),
    )


def _missing_voice(fault: Fault) -> Told:
    (earlier,) = fault.data
    what = (
        tr(
            "{voice} was recorded at {stage}, but no recording of it is here.",
            voice=fault.voice,
            stage=earlier,
        )
        if earlier
        else tr(
            "{voice} is planned in session.toml, but no recording of it is here.", voice=fault.voice
        )
    )
    return Told(
        what,
        tr("What is not recorded now cannot be compared later."),
        tr("Record it, unless this instrument does not have it (any more)."),
    )


def _nothing_recorded(_: Fault) -> Told:
    return Told(
        tr("No recording is in the folder of this stage."),
        tr("What is not recorded before the work is lost."),
        tr("Record every voice first."),
    )


def _drift_unknown(fault: Fault) -> Told:
    (voice,) = fault.data
    again = f"{voice}{AGAIN}"
    return Told(
        tr(
            "{voice} was to be recorded once more at the end, as {again}, and is not here.",
            voice=voice,
            again=again,
        ),
        tr(
            "It shows what hand, strings and hum changed while nothing was done; without it, drift "
            "during the session cannot be told from work."
        ),
        tr(
            "Record {voice} once more now, set as for its first recording, as {file}.",
            voice=voice,
            file=f"{again}.wav",
        ),
    )


def _drift(fault: Fault) -> Told:
    moved = fault.data
    heard = [one for one in moved if one.beyond]
    why = (
        tr(
            "Nothing was done in between: any two recordings of this stage can differ by as "
            "much, and it is more than the hearing threshold."
        )
        if heard
        else tr(
            "Nothing was done in between: any two recordings of this stage can differ by as "
            "much. It is below the hearing threshold."
        )
    )
    if len(heard) == len(moved) and not any(one.shown for one in moved):
        why = f"{why} {tr('The plucks scatter so much that it may be chance.')}"
    columns = {one.quantity.column for one in heard}
    sizes = moved_words([one.facts for one in moved])
    looks = "; ".join(tr(look) for of, look in _LOOK_AT if columns & of)
    return Told(
        tr(
            "{voice}, recorded again at the end, differs {sizes} from its first recording.",
            voice=moved[0].voice,
            sizes=sizes,
        ),
        why,
        tr(
            "{looks}. If time allows, record the stage anew; else the report allows for it with "
            "wider intervals.",
            looks=f"{looks[:1].upper()}{looks[1:]}",
        )
        if heard
        else tr("The report allows for it; nothing needs to be recorded again."),
    )


OF_STAGES: Mapping[str, Callable[[Fault], Told]] = {
    tr_later("gain moved"): _gain_moved,
    tr_later("hum"): _hum,
    tr_later("wrong voice"): _wrong_voice,
    tr_later("voices alike"): _voices_alike,
    tr_later("outputs exchanged"): _exchanged,
    tr_later("missing voice"): _missing_voice,
    tr_later("nothing recorded"): _nothing_recorded,
    tr_later("drift unknown"): _drift_unknown,
    tr_later("drift"): _drift,
}
