"""Where a file came from and whether it can be used, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.check.check_results import Fault
from tonecompare.language import tr, tr_later
from tonecompare.report.words.check_words.told import Told, seconds
from tonecompare.report.words.numbers import listed, number, plain

_CODEC = tr_later("High partials, attack and hiss are the codec's as much as the guitar's.")
_UNTOUCHED = tr_later("Use the file as it left the converter, or record again without processing.")


def _lossy_codec(fault: Fault) -> Told:
    sign, found = fault.data
    if sign == "coded":
        return Told(
            tr("The file is coded with loss ({found}).", found=found),
            tr(_CODEC),
            tr("Record to WAV or FLAC; a lossy file made into WAV stays lossy."),
        )
    why = tr(
        "A lossy codec, noise removal or a lower sample rate leaves one; strings and hiss do not."
    )
    edge_khz = number(found / 1000.0, 1)
    return Told(
        tr("The spectrum ends in a sharp edge at {edge} kHz.", edge=edge_khz),
        f"{why} {tr(_CODEC)}",
        tr(_UNTOUCHED),
    )


def _noise_removal(fault: Fault) -> Told:
    return Told(
        tr(
            "A hole was cut into the spectrum from {edge} kHz on.",
            edge=number(fault.data[0] / 1000.0, 1),
        ),
        tr(
            "Strings and hiss leave none; noise removal or a steep filter does, and partials "
            "in there are gone."
        ),
        tr(_UNTOUCHED),
    )


def _low_sample_rate(fault: Fault) -> Told:
    (rate_hz,) = fault.data
    return Told(
        tr("Recorded at {rate} Hz.", rate=plain(rate_hz)),
        tr("Nothing above {limit} kHz can be measured.", limit=plain(rate_hz / 2000.0)),
        tr("Record at 44.1 or 48 kHz."),
    )


def _broken_copy(fault: Fault) -> Told:
    return Told(
        tr(
            "The file ends at {time} s, earlier than its header says.",
            time=seconds(fault.time_s, 2),
        ),
        tr("Plucks are missing."),
        tr("Copy it again from the recorder; if that one is broken too, record again."),
    )


def _silent_channel(_: Fault) -> Told:
    return Told(
        tr("One of the two channels is silent."),
        tr("If two outputs were meant, one of them is not there."),
        tr("Check the cable and the second input; for a single output record mono."),
    )


def _doubled_channel(_: Fault) -> Told:
    return Told(
        tr("Both channels are identical; one was used."),
        tr("Two outputs would differ."),
        tr("If magnetic and piezo were meant, check the cabling; else record mono."),
    )


def _rate_differs(fault: Fault) -> Told:
    rate_hz, usual_hz = fault.data
    return Told(
        tr(
            "Recorded at {rate} Hz; most files have {usual} Hz.",
            rate=plain(rate_hz),
            usual=plain(usual_hz),
        ),
        tr("The converter's filter and the range of partials and hiss differ with it."),
        tr("Set the recorder to one rate and record this one again."),
    )


def _duplicate(fault: Fault) -> Told:
    same, names, *gain_db = fault.data
    if same == "performance":
        at = f" ({number(gain_db[0], 1, signed=True)} dB)" if abs(gain_db[0]) >= 0.1 else ""
        what = tr(
            "{one} and {other} hold the same performance{at}.", one=names[0], other=names[1], at=at
        )
    elif same == "bytes":
        what = tr(
            "The same recording stands under two names, byte for byte: {names}.",
            names=listed(list(names)),
        )
    else:
        what = tr(
            "The same recording stands under two names, sample for sample: {names}.",
            names=listed(list(names)),
        )
    return Told(
        what,
        tr(
            "One of the two is not the sound its name says, and a comparison of a take with itself "
            "finds no change."
        ),
        tr("Find out which name is right and record the other one."),
    )


def _processing(fault: Fault) -> Told:
    lower_db, early_over_later = fault.data
    signs = []
    if lower_db is not None:
        signs.append(
            tr(
                "The hiss is {lower} dB lower while strings ring than in the quiet: something "
                "turns the gain down with the level (compressor, limiter).",
                lower=number(lower_db, 1),
            )
        )
    if early_over_later is not None:
        signs.append(
            tr(
                "Plucks die more slowly at first than later (early decay time {times} times the "
                "decay time): strings do the opposite, a compressor or a distorting stage does "
                "this.",
                times=number(early_over_later, 1),
            )
        )
    return Told(
        " ".join(signs),
        tr(
            "Compression and amplifier models level out strength, decay and partials: "
            "what is compared is then the processing."
        ),
        tr(
            "Take the signal straight from the instrument input, with all plug-ins "
            "and the interface's own effects off, and record it again."
        ),
    )


def _unusable(fault: Fault) -> Told:
    reason, of_file = fault.data
    said = tr(reason)
    if of_file:
        said = tr("It {is_so}", is_so=f"{said[:1].lower()}{said[1:]}")
    return Told(
        said,
        tr("Nothing of it can be compared."),
        tr("Record it again, or take it out of the folder if it does not belong there."),
    )


def _correction(fault: Fault) -> Told:
    name, number_of_pluck = fault.data
    return Told(
        tr(
            "takes.csv names pluck {pluck} of {name}, which does not have it.",
            pluck=number_of_pluck,
            name=name,
        ),
        tr(
            "The row does nothing; perhaps the file was recorded anew and the pluck it "
            "meant has another number now."
        ),
        tr("Correct the number or take the row out."),
    )


OF_FILES: Mapping[str, Callable[[Fault], Told]] = {
    tr_later("lossy codec"): _lossy_codec,
    tr_later("noise removal"): _noise_removal,
    tr_later("low sample rate"): _low_sample_rate,
    tr_later("broken copy"): _broken_copy,
    tr_later("silent channel"): _silent_channel,
    tr_later("doubled channel"): _doubled_channel,
    tr_later("sample rate differs"): _rate_differs,
    tr_later("duplicate"): _duplicate,
    tr_later("processing"): _processing,
    tr_later("unusable"): _unusable,
    "takes.csv": _correction,
}
