"""Notes that are missing, wrong, out of tune or unlike the others, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.report.words.check_words.told import Told, at_times
from tonecompare.report.words.numbers import count, is_number, listed, number
from tonecompare.session.model import HANDS_OFF, HANDS_ON

#: Quantity -> what an odd pluck is odd in, unit, decimals.
_ODD = {
    "level_dbfs": ("level", "dB", 1),
    "centroid_hz": ("brightness", "cents", 0),
    "decay_s": ("decay time", "%", 0),
    "cents": ("pitch", "cents", 0),
}


def _out_of_tune(fault: Fault) -> Told:
    means, plucks, allowed_cents = fault.data
    how = listed([f"{note}{_off_tune(cents)}" for note, cents in means])
    many = plucks > 1
    return Told(
        f"Out of tune: {how} ({count(plucks, 'pluck')}, {'from' if many else 'at'} "
        f"{fault.time_s:.1f} s{' on' if many else ''}; {allowed_cents:.0f} cents are allowed).",
        "Another tension changes partials, decay and the place of the pickup's comb.",
        "Tune (or set a4_hz in session.toml if the whole instrument is tuned so) and record "
        "it again.",
    )


def _off_tune(cents: float) -> str:
    if not is_number(cents):
        return ""
    return f" {number(abs(cents), 0)} cents {'sharp' if cents > 0.0 else 'flat'}"


def _wrong_note(fault: Fault) -> Told:
    if fault.data[0] == "named":
        return Told(
            f"The file is named for another note than sounds ({fault.data[1]}).",
            "It would be compared with other plucks of the note that sounds.",
            "Rename the file, or record the note it is named for.",
        )
    _, played, planned = fault.data
    named = listed([f"{note} at {onset_s:.1f} s" for note, onset_s in played])
    return Told(
        f"{named}: not {_source(planned)}.",
        "A wrong fret or string, or a slip; it has no partner to be compared with.",
        "Listen; name it right or leave it out in takes.csv, and pluck the note that was meant.",
    )


def _source(planned: bool) -> str:
    return "planned" if planned else "in the other voices"


def _note_unsure(fault: Fault) -> Told:
    (times_s,) = fault.data
    return Told(
        f"{count(len(times_s), 'pluck')} without a certain pitch ({at_times(times_s)}).",
        "A knock, a muted string, or a note an octave off; plucks without a name are not compared.",
        "Listen; name the note or leave the pluck out in takes.csv.",
    )


def _no_plucks(_: Fault) -> Told:
    return Told(
        "No pluck with a certain note was found in it.",
        "Nothing of how this voice sounds can be compared.",
        "Check that the voice was on and its knobs up, and record it again. A file that is "
        f"to hold quiet alone ends in {HANDS_ON} or {HANDS_OFF}.",
    )


def _missing_notes(fault: Fault) -> Told:
    missing, planned = fault.data
    return Told(
        f"{listed(list(missing))} {'is' if len(missing) == 1 else 'are'} {_source(planned)} "
        "but not here.",
        "Differences are taken over the notes both stages have; a note missing now is "
        "missing for good.",
        "Record the missing notes into a further file of this voice "
        f"({fault.voice}.2.wav beside {fault.voice}.wav).",
    )


def _missing_repeats(fault: Fault) -> Told:
    how, found, *needed = fault.data
    if how == "played":
        counted = listed([f"{name} {times} of {needed[0]}" for name, times in found])
        return Told(
            f"Played too seldom: {counted} times.",
            "From fewer than that nobody knows how much one time differs from the next, so that a "
            "small change cannot be told from none.",
            "Play it again in a further file of this voice, with a pause of 1.5 s or more between.",
        )
    if how == "planned":
        counted = listed([f"{note} {plucks} of {wanted}" for note, plucks, wanted in found])
        what = f"Fewer repeats than planned: {counted}."
    elif how == "all":
        what = f"Every one of its {found} notes was plucked only once."
    else:
        what = f"Plucked only once: {listed(list(found))}."
    return Told(
        what,
        "Without repeats nobody knows how much the plucks differ by themselves, so that a "
        "small change cannot be told from none.",
        "Add plucks of these notes in a further file of this voice.",
    )


def _outlier(fault: Fault) -> Told:
    note, distances, only_mix = fault.data
    texts = dict.fromkeys(
        f"{_ODD[quantity][0]} {number(off, _ODD[quantity][2], signed=True)} {_ODD[quantity][1]}"
        for quantity, off in distances
    )
    mix = (
        " Each partial rings as long as in the others; only their mix is another, as when the pick "
        "sits elsewhere."
    )
    return Told(
        f"Pluck {fault.plucks[0]} ({note}, {fault.time_s:.1f} s) is unlike the others "
        f"of its note: {listed(list(texts))}.{mix if only_mix else ''}",
        "One odd pluck widens every interval of its note.",
        "Listen. A slip of the pick may be left out in takes.csv; an honest pluck stays.",
    )


OF_NOTES: Mapping[str, Callable[[Fault], Told]] = {
    "out of tune": _out_of_tune,
    "wrong note": _wrong_note,
    "note unsure": _note_unsure,
    "no plucks": _no_plucks,
    "missing notes": _missing_notes,
    "missing repeats": _missing_repeats,
    "outlier": _outlier,
}
