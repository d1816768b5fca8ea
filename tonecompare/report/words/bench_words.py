"""What the takes of one stage show at the bench, in a sentence each, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.model import BenchSign
from tonecompare.language import tr
from tonecompare.measure.outputs.results import PiezoFinding
from tonecompare.report.words.exchanged_outputs import SWAPPED_REMEDY, SWAPPED_WHAT
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import number, plain

#: Hum that hands on the strings change by less is called the same, dB.
_HANDS_DB = 1.0
#: Tones of the quiet named one by one.
_TONES_NAMED = 6


def sign_sentence(sign: BenchSign) -> str:
    """Return the sentence of one bench sign.

    Parameters
    ----------
    sign
        Kind, value and data, as :mod:`tonecompare.compare.bench.signs` makes them.

    Raises
    ------
    KeyError
        When the kind is none of :class:`BenchSign`'s.

    Examples
    --------
    >>> sign_sentence(BenchSign("wren", "neck", "magnetic", "hands", "strings", 0.3, "dB", 0.1))
    'Hands on or off the strings make less than 1 dB of difference in hum.'
    """
    text = _SENTENCES[sign.kind](sign)
    return text[:1].upper() + text[1:]


def piezo_sentence(finding: PiezoFinding) -> str:
    """Return the sentence of one finding on a piezo output.

    Raises
    ------
    KeyError
        When the kind is none of :class:`PiezoFinding`'s.
    """
    return _PIEZO[finding.kind](finding)


def _value(sign: BenchSign) -> float:
    if sign.value is None:
        raise ValueError(f"a sign of kind {sign.kind} has no value to tell")
    return sign.value


def _dead_spot(sign: BenchSign) -> str:
    string, expected_s, plucks, others = sign.data
    where = sign.where
    if string:
        where = tr("{note} on string {string}", note=where, string=string)
    return tr(
        "{where} rings for {length} s (T60) where its neighbours suggest {expected} s: a dead "
        "spot, by {plucks} plucks against the line of {others} other notes.",
        where=where,
        length=number(_value(sign), 1),
        expected=number(expected_s, 1),
        plucks=plucks,
        others=others,
    )


def _string_balance(sign: BenchSign) -> str:
    string, plucks = sign.data
    off = _value(sign)
    told = {
        "string": string,
        "size": number(abs(off), 1),
        "unsure": number(max(sign.uncertainty or 0.0, 0.1), 1),
        "plucks": plucks,
    }
    if off > 0:
        return tr(
            "String {string} is {size} dB (± {unsure} dB) louder than the line through the other "
            "strings ({plucks} plucks).",
            **told,
        )
    return tr(
        "String {string} is {size} dB (± {unsure} dB) softer than the line through the other "
        "strings ({plucks} plucks).",
        **told,
    )


def _hands(sign: BenchSign) -> str:
    if sign.value is None:
        return tr(
            "Hum with hands on the strings could not be compared: {why}.", why=tr(sign.data[0])
        )
    if sign.value > _HANDS_DB:
        return tr(
            "Hum rises by {size} dB when the hands touch the strings: check that the strings are "
            "connected to ground. Never lift the protective earth.",
            size=number(sign.value, 1),
        )
    if sign.value < -_HANDS_DB:
        return tr(
            "Hum falls by {size} dB when the hands touch the strings, as it does where strings are "
            "grounded and the player shields.",
            size=number(-sign.value, 1),
        )
    return tr("Hands on or off the strings make less than 1 dB of difference in hum.")


def _coil_mismatch(sign: BenchSign) -> str:
    residual_db, reason = sign.data
    if sign.value is None or sign.uncertainty is None:
        return tr("The coils' mismatch is not determinable: {why}.", why=tr(reason))
    return tr(
        "The whole pickup hums {less} dB less than the one coil of {split}: its coils differ by "
        "about {size} % (± {unsure} %), if all hum comes in by the coils.",
        less=number(-float(residual_db or 0.0), 1),
        split=voice_title(sign.where),
        size=number(sign.value, 1),
        unsure=number(max(sign.uncertainty, 0.1), 1),
    )


def _interference(sign: BenchSign) -> str:
    if sign.data[0] == "bursts":
        return tr(
            "Short bursts stand in the quiet: handling noise, a dimmer or a telephone near by. "
            "They are left out of hum and hiss."
        )
    tones_hz = sign.data[1]
    named = ", ".join(map(plain, tones_hz[:_TONES_NAMED]))
    rest = len(tones_hz) - _TONES_NAMED
    if rest > 0:
        return tr(
            "Tones that belong to no mains line stand in the quiet, at {named} and {n} more Hz: a "
            "string that was not damped, or a switching supply or screen near by.",
            named=named,
            n=rest,
        )
    return tr(
        "Tones that belong to no mains line stand in the quiet, at {named} Hz: a string that was "
        "not damped, or a switching supply or screen near by.",
        named=named,
    )


def _outputs(_: BenchSign) -> str:
    until = tr(
        "Delay, polarity and all else said of this voice's outputs mean nothing until that is put "
        "right."
    )
    return f"{tr(SWAPPED_WHAT)} {until} {tr(SWAPPED_REMEDY)}"


def _weak_string(finding: PiezoFinding) -> str:
    told = {
        "string": _string_or_note(finding.where),
        "size": number(abs(finding.value), 1),
        "unsure": number(max(finding.uncertainty or 0.0, 0.1), 1),
    }
    if finding.value < 0:
        return tr(
            "On the piezo output {string} is {size} dB (± {unsure} dB) weaker than the other "
            "strings suggest, measured against the magnetic output of the same plucks: see how "
            "its saddle sits.",
            **told,
        )
    return tr(
        "On the piezo output {string} is {size} dB (± {unsure} dB) stronger than the other strings "
        "suggest, measured against the magnetic output of the same plucks: see how its saddle "
        "sits.",
        **told,
    )


def _string_or_note(where: str) -> str:
    _, of_string, string = where.partition("string ")
    return tr("string {string}", string=string) if of_string else where


def _clipping(finding: PiezoFinding) -> str:
    return tr(
        "{share} % of the plucks have flattened peaks on the piezo output: the preamp or its "
        "battery gives out before the interface does. Turn its trimmer down.",
        share=number(finding.value, 0),
    )


def _handling(finding: PiezoFinding) -> str:
    return tr(
        "{rate} knocks or rubs per second of quiet on the piezo output, up to {peak} dBFS.",
        rate=number(finding.value, 1),
        peak=number(finding.data[0], 0),
    )


def _crosstalk(finding: PiezoFinding) -> str:
    return tr(
        "Where the string has a node under the pickup the magnetic output falls only {size} dB: "
        "the piezo output seems to leak into it. Look at shared earths, the stereo jack and its "
        "cable.",
        size=number(max(-finding.value, 0.0), 0),
    )


def _piezo_hum(finding: PiezoFinding) -> str:
    return tr(
        "Against its notes the piezo output hums {size} dB more than the magnetic one. A piezo has "
        "no coil, so look at screening, earth and supply of the preamp.",
        size=number(finding.value, 1),
    )


_PIEZO: Mapping[str, Callable[[PiezoFinding], str]] = {
    "string-balance": _weak_string,
    "clipping": _clipping,
    "handling": _handling,
    "crosstalk": _crosstalk,
    "hum": _piezo_hum,
}
_SENTENCES: Mapping[str, Callable[[BenchSign], str]] = {
    "dead-spot": _dead_spot,
    "string-balance": _string_balance,
    "hands": _hands,
    "coil-mismatch": _coil_mismatch,
    "interference": _interference,
    "outputs": _outputs,
    "piezo": lambda sign: piezo_sentence(sign.data[0]),
}
