"""Notes that are missing, wrong, out of tune or unlike the others, in words."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.words.check_words.told import Told, at_times, seconds
from tonecompare.report.words.numbers import is_number, listed, number, unit_word
from tonecompare.session.model import HANDS_OFF, HANDS_ON

#: Quantity -> what an odd pluck is odd in, unit, decimals.
_ODD = {
    "level_dbfs": (tr_later("level"), "dB", 1),
    "centroid_hz": (tr_later("brightness"), "%", 0),
    "decay_s": (tr_later("decay time"), "%", 0),
    "cents": (tr_later("pitch"), "cents", 0),
}
#: What makes a natural logarithm of the distance of a ratio.
_TO_LOG = {"centroid_hz": math.log(2.0) / 1200.0, "decay_s": 0.01}


def _out_of_tune(fault: Fault) -> Told:
    means, plucks, allowed_cents = fault.data
    return Told(
        tr_n(
            "Out of tune: {how} ({n} pluck, at {time} s; {allowed} cents are allowed).",
            "Out of tune: {how} ({n} plucks, from {time} s on; {allowed} cents are allowed).",
            plucks,
            how=listed([_off_tune(note, cents) for note, cents in means]),
            time=seconds(fault.time_s),
            allowed=number(allowed_cents, 0),
        ),
        tr("Another tension changes partials, decay and the place of the pickup's comb."),
        tr(
            "Tune (or set a4_hz in session.toml if the whole instrument is tuned so) and record "
            "it again."
        ),
    )


def _off_tune(note: str, cents: float) -> str:
    if not is_number(cents):
        return note
    size = number(abs(cents), 0)
    if cents > 0.0:
        return tr("{note} {size} cents sharp", note=note, size=size)
    return tr("{note} {size} cents flat", note=note, size=size)


def _wrong_note(fault: Fault) -> Told:
    if fault.data[0] == "named":
        return Told(
            tr(
                "The file is named for a note other than the one that sounds ({note}).",
                note=fault.data[1],
            ),
            tr("It would be compared with other plucks of the note that sounds."),
            tr("Rename the file, or record the note it is named for."),
        )
    _, played, planned = fault.data
    named = listed(
        [tr("{note} at {time} s", note=note, time=number(at_s, 1)) for note, at_s in played]
    )
    return Told(
        tr("{notes}: not planned.", notes=named)
        if planned
        else tr("{notes}: not in the other voices.", notes=named),
        tr("A wrong fret or string, or a slip; it has no partner to be compared with."),
        tr(
            "Listen; name it right or leave it out in takes.csv, and pluck the note that was meant."
        ),
    )


def _note_unsure(fault: Fault) -> Told:
    (times_s,) = fault.data
    return Told(
        tr_n(
            "{n} pluck without a certain pitch ({times}).",
            "{n} plucks without a certain pitch ({times}).",
            len(times_s),
            times=at_times(times_s),
        ),
        tr(
            "A knock, a muted string, or a note an octave off; plucks without a name are not "
            "compared."
        ),
        tr("Listen; name the note or leave the pluck out in takes.csv."),
    )


def _no_plucks(_: Fault) -> Told:
    return Told(
        tr("No pluck with a certain note was found in it."),
        tr("Nothing of how this voice sounds can be compared."),
        tr(
            "Check that the voice was on and its knobs up, and record it again. A file that is "
            "to hold quiet alone ends in {hands_on} or {hands_off}.",
            hands_on=HANDS_ON,
            hands_off=HANDS_OFF,
        ),
    )


def _missing_notes(fault: Fault) -> Told:
    missing, planned = fault.data
    notes = listed(list(missing))
    return Told(
        tr_n(
            "{notes} is planned but not here.",
            "{notes} are planned but not here.",
            len(missing),
            notes=notes,
        )
        if planned
        else tr_n(
            "{notes} is in the other voices but not here.",
            "{notes} are in the other voices but not here.",
            len(missing),
            notes=notes,
        ),
        tr(
            "Differences are taken over the notes both stages have; a note missing now is "
            "missing for good."
        ),
        tr(
            "Record the missing notes into a further file of this voice ({further} beside {file}).",
            further=f"{fault.voice}.2.wav",
            file=f"{fault.voice}.wav",
        ),
    )


def _missing_repeats(fault: Fault) -> Told:
    how, found, *needed = fault.data
    if how == "played":
        counted = listed([_so_many_of(name, times, needed[0]) for name, times in found])
        return Told(
            tr("Played too seldom: {counted} times.", counted=counted),
            tr(
                "From fewer than that nobody knows how much one time differs from the next, so "
                "that a small change cannot be told from none."
            ),
            tr(
                "Play it again in a further file of this voice, with a pause of 1.5 s or more "
                "between."
            ),
        )
    if how == "planned":
        counted = listed([_so_many_of(note, plucks, wanted) for note, plucks, wanted in found])
        what = tr("Fewer repeats than planned: {counted}.", counted=counted)
    elif how == "all":
        what = tr("Every one of its {n} notes was plucked only once.", n=found)
    else:
        what = tr("Plucked only once: {notes}.", notes=listed(list(found)))
    return Told(
        what,
        tr(
            "Without repeats nobody knows how much the plucks differ by themselves, so that a "
            "small change cannot be told from none."
        ),
        tr("Add plucks of these notes in a further file of this voice."),
    )


def _so_many_of(name: str, found: int, wanted: int) -> str:
    return tr("{name} {found} of {wanted}", name=name, found=found, wanted=wanted)


def _outlier(fault: Fault) -> Told:
    note, distances, only_mix = fault.data
    texts = dict.fromkeys(_odd(quantity, off) for quantity, off in distances)
    what = tr(
        "Pluck {pluck} ({note}, {time} s) is unlike the others of its note: {how}.",
        pluck=fault.plucks[0],
        note=note,
        time=seconds(fault.time_s),
        how=listed(list(texts)),
    )
    mix = tr(
        "Each partial rings as long as in the others; only their mix is different, as when the "
        "pick sits elsewhere."
    )
    return Told(
        f"{what} {mix}" if only_mix else what,
        tr("One odd pluck widens every interval of its note."),
        tr("Listen. A slip of the pick may be left out in takes.csv; an honest pluck stays."),
    )


def _odd(quantity: str, off: float) -> str:
    noun, unit, decimals = _ODD[quantity]
    if quantity in _TO_LOG:
        off = 100.0 * math.expm1(_TO_LOG[quantity] * off)
    return f"{tr(noun)} {number(off, decimals, signed=True)} {unit_word(unit)}"


OF_NOTES: Mapping[str, Callable[[Fault], Told]] = {
    tr_later("out of tune"): _out_of_tune,
    tr_later("wrong note"): _wrong_note,
    tr_later("note unsure"): _note_unsure,
    tr_later("no plucks"): _no_plucks,
    tr_later("missing notes"): _missing_notes,
    tr_later("missing repeats"): _missing_repeats,
    tr_later("outlier"): _outlier,
}
