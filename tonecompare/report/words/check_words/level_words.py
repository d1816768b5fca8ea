"""Levels of a file, and how its plucks begin and end, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.words.check_words.told import Told, at_times, seconds
from tonecompare.report.words.numbers import listed, number

#: What ended a pluck.
_ENDS = {
    "damped": tr_later("damped by hand"),
    "next-pluck": tr_later("ended by the next pluck"),
    "file-end": tr_later("ended with the file"),
}


def _clipping(fault: Fault) -> Told:
    peak_dbfs, times_s = fault.data
    return Told(
        tr(
            "The wave is cut flat at {peak} dBFS ({times}; {plucks}).",
            peak=number(peak_dbfs, 1),
            times=at_times(times_s),
            plucks=tr_n("{n} pluck", "{n} plucks", len(fault.plucks)),
        ),
        tr(
            "Level, attack and upper partials of these plucks are the converter's, not the "
            "guitar's."
        ),
        tr(
            "Lower the input gain by 6 dB and record this voice again; record every other "
            "voice at that gain too, in this stage and the next."
        ),
    )


def _over(fault: Fault) -> Told:
    return Told(
        tr(
            "Between the samples the wave goes {over} dB over full scale at {time} s.",
            over=number(fault.data[0], 2),
            time=seconds(fault.time_s, 2),
        ),
        tr("Players and codecs that resample clip it; the next harder pluck clips here."),
        tr("The numbers are good. Leave 6 dB of headroom in the next recording."),
    )


def _too_quiet(fault: Fault) -> Told:
    peak_dbfs, snr_db = fault.data
    return Told(
        tr("The loudest sample is at {peak} dBFS.", peak=number(peak_dbfs, 1))
        if peak_dbfs is not None
        else tr(
            "Half of the plucks stand {above} dB above the quiet or less.", above=number(snr_db, 0)
        ),
        tr("Upper partials and the end of the decay drown in noise."),
        tr(
            "Check volume knob, cable and input; raise the gain until hard plucks peak near "
            "−9 dBFS, and record every voice at that gain."
        ),
    )


def _offset(fault: Fault) -> Told:
    return Told(
        tr(
            "The wave sits {offset} % of full scale off zero.",
            offset=number(fault.data[0], 2, signed=True),
        ),
        tr("It was taken out before measuring, but it costs headroom and clicks at cuts."),
        tr("Look for a plug-in or an interface that adds it before the next recording."),
    )


def _digital_silence(fault: Fault) -> Told:
    return Told(
        tr(
            "{length} s in one go hold one and the same sample value.",
            length=number(fault.data[0], 1),
        ),
        tr(
            "A gate, noise removal or an edit replaced what was recorded: hum, hiss and the "
            "end of the decays are gone."
        ),
        tr("Switch the gate off and record it again, or use the untouched file."),
    )


def _no_quiet(fault: Fault) -> Told:
    (files,) = fault.data
    why = tr("Hum and hiss cannot be measured nor taken off the plucks.")
    if files > 1:
        return Told(
            tr(
                "None of its {n} files has a stretch of 0.2 s or more with the strings damped.",
                n=files,
            ),
            why,
            tr(
                "Record it again with five or more seconds of damped strings first, in one file "
                "at least."
            ),
        )
    return Told(
        tr("It has no stretch of 0.2 s or more with the strings damped."),
        why,
        tr("Record it again with five or more seconds of damped strings first."),
    )


def _attack(fault: Fault) -> Told:
    flag, times_s = fault.data
    if flag == "starts-inside":
        return Told(
            tr("The file starts while the note already sounds."),
            tr("The attack is missing, and the onset with it."),
            tr("Start the recorder two seconds earlier and record it again."),
        )
    if flag == "trimmed":
        return Told(
            tr("The file starts with the attack itself."),
            tr("The onset may lie a little before the first sample; attack time is unsure."),
            tr("Use the untrimmed file, or start the recorder earlier."),
        )
    return Told(
        tr_n(
            "{n} pluck ({times}) has two attacks within a tenth of a second.",
            "{n} plucks ({times}) have two attacks within a tenth of a second.",
            len(times_s),
            times=at_times(times_s),
        ),
        tr("Pick noise or a slipped pluck: attack and level are not those of one pluck."),
        tr("Leave it out (takes.csv) if enough others remain, or pluck the note again."),
    )


def _fade(fault: Fault) -> Told:
    return Told(
        tr(
            "The noise dies away with the note (from about {time} s on): the end was faded out or "
            "switched off.",
            time=seconds(fault.time_s),
        ),
        tr("A fade shortens the decay; what lies in it was not measured."),
        tr("Use the file as recorded, without a fade."),
    )


def _cut_short(fault: Fault) -> Told:
    notes, plucks, ended_by, after_s = fault.data
    return Told(
        tr_n(
            "{notes}: {n} pluck {ended} before the note fell by 25 dB (after {time} s).",
            "{notes}: {n} plucks {ended} before the note fell by 25 dB (the first after {time} s).",
            plucks,
            notes=listed(list(notes)),
            ended=tr(_ENDS[ended_by]),
            time=number(after_s, 1),
        ),
        tr(
            "No decay time can be had from them, and decay is what work on pickups and "
            "hardware is said to change."
        ),
        tr("Let every note ring until it is gone, low strings ten seconds or more."),
    )


OF_LEVELS: Mapping[str, Callable[[Fault], Told]] = {
    tr_later("clipping"): _clipping,
    tr_later("inter-sample over"): _over,
    tr_later("too quiet"): _too_quiet,
    tr_later("DC offset"): _offset,
    tr_later("digital silence"): _digital_silence,
    tr_later("no quiet"): _no_quiet,
    tr_later("attack"): _attack,
    tr_later("fade"): _fade,
    tr_later("cut short"): _cut_short,
}
