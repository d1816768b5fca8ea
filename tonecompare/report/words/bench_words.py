"""What the takes of one stage show at the bench, in a sentence each, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from tonecompare.compare.model import BenchSign
from tonecompare.measure.outputs.results import PiezoFinding
from tonecompare.report.words.exchanged_outputs import SWAPPED_REMEDY, SWAPPED_WHAT

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
    on = f" on string {string}" if string else ""
    return (
        f"{sign.where}{on} rings for {_value(sign):.1f} s (T60) where its neighbours let "
        f"expect {expected_s:.1f} s: a dead spot, by {plucks} plucks against the line "
        f"of {others} other notes."
    )


def _string_balance(sign: BenchSign) -> str:
    string, plucks = sign.data
    off = _value(sign)
    return (
        f"String {string} is {abs(off):.1f} dB (± {max(sign.uncertainty or 0.0, 0.1):.1f} dB) "
        f"{'louder' if off > 0 else 'softer'} than the line through the other strings "
        f"({plucks} plucks)."
    )


def _hands(sign: BenchSign) -> str:
    if sign.value is None:
        return f"Hum with hands on the strings could not be compared: {sign.data[0]}."
    if sign.value > _HANDS_DB:
        return (
            f"Hum rises by {sign.value:.1f} dB when the hands touch the strings: look "
            "whether the strings are connected to ground. Never lift the protective earth."
        )
    if sign.value < -_HANDS_DB:
        return (
            f"Hum falls by {-sign.value:.1f} dB when the hands touch the strings, as it "
            "does where strings are grounded and the player shields."
        )
    return "Hands on or off the strings make less than 1 dB of difference in hum."


def _coil_mismatch(sign: BenchSign) -> str:
    residual_db, reason = sign.data
    if sign.value is None or sign.uncertainty is None:
        return f"The coils' mismatch is not determinable: {reason}."
    return (
        f"The whole pickup hums {-float(residual_db or 0.0):.1f} dB less "
        f"than the one coil of {sign.where}: its coils differ by about "
        f"{sign.value:.1f} % (± {sign.uncertainty:.1f} %), if all hum comes in by the coils."
    )


def _interference(sign: BenchSign) -> str:
    if sign.data[0] == "bursts":
        return (
            "Short bursts stand in the quiet: handling noise, a dimmer or a telephone near "
            "by. They are left out of hum and hiss."
        )
    tones_hz = sign.data[1]
    named = ", ".join(f"{tone_hz:g}" for tone_hz in tones_hz[:_TONES_NAMED])
    rest = len(tones_hz) - _TONES_NAMED
    return (
        f"Tones that belong to no mains line stand in the quiet, at {named}"
        f"{f' and {rest} more' if rest > 0 else ''} Hz: a string "
        "that was not damped, or a switching supply or screen near by."
    )


def _outputs(_: BenchSign) -> str:
    return (
        f"{SWAPPED_WHAT} Delay, polarity and all else said of this voice's outputs mean "
        f"nothing until that is put right. {SWAPPED_REMEDY}"
    )


def _weak_string(finding: PiezoFinding) -> str:
    return (
        f"On the piezo output {finding.where} is {abs(finding.value):.1f} dB "
        f"(± {max(finding.uncertainty or 0.0, 0.1):.1f} dB) "
        f"{'weaker' if finding.value < 0 else 'stronger'} than the other strings let expect, "
        "measured against the magnetic output of the same plucks: see how its saddle sits."
    )


def _clipping(finding: PiezoFinding) -> str:
    return (
        f"{finding.value:.0f} % of the plucks have flattened peaks on the piezo output: the "
        "preamp or its battery gives out before the interface does. Turn its trimmer down."
    )


def _handling(finding: PiezoFinding) -> str:
    return (
        f"{finding.value:.1f} knocks or rubs per second of quiet on the piezo "
        f"output, up to {finding.data[0]:.0f} dBFS."
    )


def _crosstalk(finding: PiezoFinding) -> str:
    return (
        f"Where the string has a node under the pickup the magnetic output falls only "
        f"{max(-finding.value, 0.0):.0f} dB: the piezo output seems to leak into it. Look at "
        "shared earths, the stereo jack and its cable."
    )


def _piezo_hum(finding: PiezoFinding) -> str:
    return (
        f"Against its notes the piezo output hums {finding.value:.1f} dB more than the magnetic "
        "one. A piezo has no coil, so look at screening, earth and supply of the preamp."
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
