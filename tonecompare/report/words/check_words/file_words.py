"""Where a file came from and whether it can be used, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.report.words.check_words.told import Told
from tonecompare.report.words.numbers import listed, number

_CODEC = "High partials, attack and hiss are the codec's as much as the guitar's."
_UNTOUCHED = "Use the file as it left the converter, or record again without processing."


def _lossy_codec(fault: Fault) -> Told:
    sign, found = fault.data
    if sign == "coded":
        return Told(
            f"The file is coded with loss ({found}).",
            _CODEC,
            "Record to WAV or FLAC; a lossy file made into WAV stays lossy.",
        )
    return Told(
        f"The spectrum ends in a sharp edge at {found / 1000.0:.1f} kHz.",
        "A lossy codec, noise removal or a lower sample rate leaves one; strings and hiss "
        f"do not. {_CODEC}",
        _UNTOUCHED,
    )


def _noise_removal(fault: Fault) -> Told:
    return Told(
        f"A hole was cut into the spectrum from {fault.data[0] / 1000.0:.1f} kHz on.",
        "Strings and hiss leave none; noise removal or a steep filter does, and partials "
        "in there are gone.",
        _UNTOUCHED,
    )


def _low_sample_rate(fault: Fault) -> Told:
    (rate_hz,) = fault.data
    return Told(
        f"Recorded at {rate_hz:g} Hz.",
        f"Nothing above {rate_hz / 2000.0:g} kHz can be measured.",
        "Record at 44.1 or 48 kHz.",
    )


def _broken_copy(fault: Fault) -> Told:
    return Told(
        f"The file ends at {fault.time_s:.2f} s, earlier than its header says.",
        "Plucks are missing.",
        "Copy it again from the recorder; if that one is broken too, record again.",
    )


def _silent_channel(_: Fault) -> Told:
    return Told(
        "One of the two channels is silent.",
        "If two outputs were meant, one of them is not there.",
        "Check the cable and the second input; for a single output record mono.",
    )


def _doubled_channel(_: Fault) -> Told:
    return Told(
        "Both channels are identical; one was used.",
        "Two outputs would differ.",
        "If magnetic and piezo were meant, check the cabling; else record mono.",
    )


def _rate_differs(fault: Fault) -> Told:
    rate_hz, usual_hz = fault.data
    return Told(
        f"Recorded at {rate_hz:g} Hz; most files have {usual_hz:g} Hz.",
        "The converter's filter and the range of partials and hiss differ with it.",
        "Set the recorder to one rate and record this one again.",
    )


def _duplicate(fault: Fault) -> Told:
    same, names, *gain_db = fault.data
    if same == "performance":
        at = f" ({number(gain_db[0], 1, signed=True)} dB)" if abs(gain_db[0]) >= 0.1 else ""
        what = f"{names[0]} and {names[1]} hold the same performance{at}."
    else:
        how = {"bytes": "byte for byte", "samples": "sample for sample"}[same]
        what = f"The same recording stands under two names, {how}: {listed(list(names))}."
    return Told(
        what,
        "One of the two is not the sound its name says, and a comparison of a take with itself "
        "finds no change.",
        "Find out which name is right and record the other one.",
    )


def _processing(fault: Fault) -> Told:
    lower_db, early_over_later = fault.data
    signs = []
    if lower_db is not None:
        signs.append(
            f"The hiss is {number(lower_db, 1)} dB lower while strings ring than in "
            "the quiet: something turns the gain down with the level (compressor, limiter)."
        )
    if early_over_later is not None:
        signs.append(
            "Plucks die more slowly at first than later (early decay time "
            f"{number(early_over_later, 1)} times the decay time): strings do the "
            "opposite, a compressor or a distorting stage does this."
        )
    return Told(
        " ".join(signs),
        "Compression and amplifier models level out strength, decay and partials: "
        "what is compared is then the processing.",
        "Take the signal straight from the instrument input, with all plug-ins "
        "and the interface's own effects off, and record it again.",
    )


def _unusable(fault: Fault) -> Told:
    reason, of_file = fault.data
    return Told(
        f"It {reason[:1].lower()}{reason[1:]}" if of_file else reason,
        "Nothing of it can be compared.",
        "Record it again, or take it out of the folder if it does not belong there.",
    )


def _correction(fault: Fault) -> Told:
    name, number_of_pluck = fault.data
    return Told(
        f"takes.csv names pluck {number_of_pluck} of {name}, which does not have it.",
        "The row does nothing; perhaps the file was recorded anew and the pluck it "
        "meant has another number now.",
        "Correct the number or take the row out.",
    )


OF_FILES: Mapping[str, Callable[[Fault], Told]] = {
    "lossy codec": _lossy_codec,
    "noise removal": _noise_removal,
    "low sample rate": _low_sample_rate,
    "broken copy": _broken_copy,
    "silent channel": _silent_channel,
    "doubled channel": _doubled_channel,
    "sample rate differs": _rate_differs,
    "duplicate": _duplicate,
    "processing": _processing,
    "unusable": _unusable,
    "takes.csv": _correction,
}
