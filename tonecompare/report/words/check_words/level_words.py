"""Levels of a file, and how its plucks begin and end, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.report.words.check_words.told import Told, at_times
from tonecompare.report.words.numbers import count, listed, number

#: What ended a pluck.
_ENDS = {
    "damped": "damped by hand",
    "next-pluck": "ended by the next pluck",
    "file-end": "ended with the file",
}


def _clipping(fault: Fault) -> Told:
    peak_dbfs, times_s = fault.data
    return Told(
        f"The wave is cut flat at {number(peak_dbfs, 1)} dBFS "
        f"({at_times(times_s)}; {count(len(fault.plucks), 'pluck')}).",
        "Level, attack and upper partials of these plucks are the converter's, not the guitar's.",
        "Lower the input gain by 6 dB and record this voice again; record every other "
        "voice at that gain too, in this stage and the next.",
    )


def _over(fault: Fault) -> Told:
    return Told(
        f"Between the samples the wave goes {number(fault.data[0], 2)} dB "
        f"over full scale at {fault.time_s:.2f} s.",
        "Players and codecs that resample clip it; the next harder pluck clips here.",
        "The numbers are good. Leave 6 dB of headroom in the next recording.",
    )


def _too_quiet(fault: Fault) -> Told:
    peak_dbfs, snr_db = fault.data
    return Told(
        f"The loudest sample is at {number(peak_dbfs, 1)} dBFS."
        if peak_dbfs is not None
        else f"Half of the plucks stand {number(snr_db, 0)} dB above the quiet or less.",
        "Upper partials and the end of the decay drown in noise.",
        "Check volume knob, cable and input; raise the gain until hard plucks peak near "
        "−9 dBFS, and record every voice at that gain.",
    )


def _offset(fault: Fault) -> Told:
    return Told(
        f"The wave sits {number(fault.data[0], 2, signed=True)} % of full scale off zero.",
        "It was taken out before measuring, but it costs headroom and clicks at cuts.",
        "Look for a plug-in or an interface that adds it before the next recording.",
    )


def _digital_silence(fault: Fault) -> Told:
    return Told(
        f"{fault.data[0]:.1f} s in one go hold one and the same sample value.",
        "A gate, noise removal or an edit replaced what was recorded: hum, hiss and the "
        "end of the decays are gone.",
        "Switch the gate off and record it again, or use the untouched file.",
    )


def _no_quiet(fault: Fault) -> Told:
    (files,) = fault.data
    where = f"None of its {files} files has a" if files > 1 else "It has no"
    return Told(
        f"{where} stretch of 0.2 s or more with the strings damped.",
        "Hum and hiss cannot be measured nor taken off the plucks.",
        "Record it again with five or more seconds of damped strings first"
        + (", in one file at least." if files > 1 else "."),
    )


def _attack(fault: Fault) -> Told:
    flag, times_s = fault.data
    if flag == "starts-inside":
        return Told(
            "The file starts while the note already sounds.",
            "The attack is missing, and the onset with it.",
            "Start the recorder two seconds earlier and record it again.",
        )
    if flag == "trimmed":
        return Told(
            "The file starts with the attack itself.",
            "The onset may lie a little before the first sample; attack time is unsure.",
            "Use the untrimmed file, or start the recorder earlier.",
        )
    return Told(
        f"{count(len(times_s), 'pluck')} ({at_times(times_s)}) "
        f"{'has' if len(times_s) == 1 else 'have'} two attacks within a tenth of a second.",
        "Pick noise or a slipped pluck: attack and level are not those of one pluck.",
        "Leave it out (takes.csv) if enough others remain, or pluck the note again.",
    )


def _fade(fault: Fault) -> Told:
    return Told(
        f"The noise dies away with the note (from about {fault.time_s:.1f} s on): the "
        "end was faded out or switched off.",
        "A fade shortens the decay; what lies in it was not measured.",
        "Use the file as recorded, without a fade.",
    )


def _cut_short(fault: Fault) -> Told:
    notes, plucks, ended_by, after_s = fault.data
    return Told(
        f"{listed(list(notes))}: {count(plucks, 'pluck')} {_ENDS[ended_by]} before the note "
        f"fell by 25 dB ({'the first ' if plucks > 1 else ''}after {after_s:.1f} s).",
        "No decay time can be had from them, and decay is what work on pickups and "
        "hardware is said to change.",
        "Let every note ring until it is gone, low strings ten seconds or more.",
    )


OF_LEVELS: Mapping[str, Callable[[Fault], Told]] = {
    "clipping": _clipping,
    "inter-sample over": _over,
    "too quiet": _too_quiet,
    "DC offset": _offset,
    "digital silence": _digital_silence,
    "no quiet": _no_quiet,
    "attack": _attack,
    "fade": _fade,
    "cut short": _cut_short,
}
