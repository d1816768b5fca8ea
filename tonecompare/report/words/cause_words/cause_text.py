"""What is said of each cause other than the work, where it was found and where it was not."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tonecompare.compare.cause_facts import (
    DriftFacts,
    GainFacts,
    HiddenByDrift,
    LoadFacts,
    MainsFacts,
    PlaceFacts,
    ProcessingFacts,
    QuietFacts,
    Stated,
    StrengthFacts,
    StringsFacts,
    TuningFacts,
)
from tonecompare.compare.model import Confound
from tonecompare.quantities.compared import quantity_of
from tonecompare.report.words.cause_words.drift_words import held_words, moved_words
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import MINUS, count, listed

#: Quantities that a stage's drift hides, by name; the others are counted.
_HIDDEN_NAMED = 4
_STATED = {
    "strings_gauge": "strings {} before and {} after",
    "strings_hours": "strings played {:g} h before and {:g} h after",
    "cable_length_m": "a cable of {:g} m before and {:g} m after",
    "cable_pf_per_m": "a cable of {:g} pF/m before and {:g} pF/m after",
    "input_impedance_ohm": "an input of {:g} Ω before and {:g} Ω after",
}


def cause_text(confound: Confound, *, titled: bool = False) -> str:
    """Return what is said of a cause that was found, or looked for and not found.

    Parameters
    ----------
    confound
        What was found.
    titled
        Whether a text that starts with the voice has its title ("Neck, split") instead of its
        plain name ("neck-split").

    Examples
    --------
    >>> gain = Confound(
    ...     "stock to rewound", "", "gain", True, 6.0, "dB", 5.8, 6.2, 0.001, (), GainFacts(-1.0)
    ... )
    >>> cause_text(gain)
    'The hiss of every voice moved by +6.0 dB and the level with it (−1.0 dB): that is what a gain \
or pad does, not the work.'
    """
    voice = voice_title(confound.voice) if titled else confound.voice
    return _TEXTS[type(confound.facts)](confound, confound.facts, _with_output(voice, confound))


def _with_output(voice: str, confound: Confound) -> str:
    return f"{voice} ({confound.output})" if confound.several and confound.output else voice


def _signed(value: float | None, decimals: int = 1) -> str:
    if value is None:
        raise ValueError("a cause that is told by its size has none")
    return f"{value:+.{decimals}f}".replace("-", MINUS)


def _opening(stated: Stated | None) -> str:
    if stated is None:
        return ""
    told = _STATED[stated.condition].format(stated.before, stated.after)
    return f"session.toml gives {told}"


def _gain(confound: Confound, facts: GainFacts, _: str) -> str:
    if not confound.found:
        beyond = " beyond the drift of the control" if facts.controlled else ""
        return f"No sign of a moved gain{beyond}: the hiss did not move together with the level."
    voice = _with_output(confound.voice, confound) if confound.voice else "every voice"
    return (
        f"The hiss of {voice} moved by {_signed(confound.estimate)} dB and the level with it "
        f"({_signed(facts.level_db)} dB): that is what a gain or pad does, not the work."
    )


def _place(confound: Confound, facts: PlaceFacts, voice: str) -> str:
    mean, low, high = confound.estimate, confound.ci_low, confound.ci_high
    if mean is None or low is None or high is None:
        raise ValueError("a picking place is told by how far it moved")
    if not confound.found:
        widest = max(abs(low), abs(high))
        if not widest < float("inf"):
            return f"{voice}: too few notes tell whether the picking place moved."
        return (
            f"{voice} was picked at the same place in both stages to within "
            f"{_size(widest, facts.length_mm)} on average "
            f"({_signed(100.0 * mean)} % of the string)."
        )
    if facts.scatter is None:
        where = "away from" if mean > 0.0 else "towards"
        moved = f"{_size(abs(mean), facts.length_mm)} {where} the bridge"
    else:
        moved = (
            f"{_size(facts.scatter, facts.length_mm)} one way or the other, differently from note "
            "to note"
        )
    return (
        f"{voice} was picked at another place after: {moved}. That alone changes partials, "
        "brightness, level and the mix that dies away; where it can be worked out the difference "
        "is given for one picking place too."
    )


def _size(share: float, length_mm: float | None) -> str:
    if length_mm:
        return f"{share * length_mm:.0f} mm (open string)"
    return f"{100.0 * share:.1f} % of the string's length"


def _strength(confound: Confound, facts: StrengthFacts, voice: str) -> str:
    if not confound.found:
        return (
            f"No sign of another pick strength on {_with_output(confound.voice, confound)}: level "
            "and tilt did not move together as a harder or softer hand moves them."
        )
    louder = facts.louder_db > 0.0
    how = "harder" if louder else "softer"
    came = "louder with stronger" if louder else "softer with weaker"
    by = f"{_signed(facts.louder_db)} dB{' at the peak' if facts.at_peak else ''}"
    return (
        f"{voice} came out {came} upper partials ({by}, {_signed(facts.tilt_db_per_octave)} dB per "
        f"octave), as {how} picking does: the hand explains it as well as the work would."
    )


def _tuning(confound: Confound, facts: TuningFacts, voice: str) -> str:
    which = f"{_signed(confound.estimate)} cents on average"
    if not confound.found:
        return f"{voice} was in the same tuning ({which})."
    if facts.worst_note:
        which += f", {facts.worst_note} by {_signed(facts.worst_cents)}"
    return (
        f"{voice} was tuned differently ({which}): what follows the pitch follows the tuning, not "
        "the work."
    )


def _strings(confound: Confound, facts: StringsFacts, _: str) -> str:
    if not confound.found:
        return (
            "No sign of other or older strings: high partials ring as long against low ones as "
            "before, and inharmonicity stayed."
        )
    parts = [_opening(facts.stated)]
    if facts.ring_percent is not None:
        how = "longer" if facts.ring_percent > 0.0 else "shorter"
        parts.append(
            f"the high partials ring {abs(facts.ring_percent):.0f} % {how} against the low ones "
            "over all voices"
        )
    if facts.inharmonicity_percent is not None:
        moved = _signed(facts.inharmonicity_percent, 0)
        parts.append(f"inharmonicity moved by {moved} % on the same notes")
    text = ", and ".join(part for part in parts if part)
    return (
        f"{text[0].upper()}{text[1:]}: older or other strings do that (or work on frets, nut and "
        "bridge), a pickup does not."
    )


def _load(_: Confound, facts: LoadFacts, __: str) -> str:
    opening = f"{_opening(facts.stated)}. " if facts.stated else ""
    if facts.band_hz is not None:
        sizes = listed([f"{_signed(moved_db)} dB on {voice}" for voice, moved_db in facts.moved_db])
        low_khz, high_khz = (limit / 1000.0 for limit in facts.band_hz)
        return (
            f"{opening}Every magnetic voice moved alike at the top ({low_khz:g}–{high_khz:g} kHz: "
            f"{sizes}) and stayed below 1 kHz: another cable or input impedance does that to all "
            "pickups at once."
        )
    if opening:
        return f"{opening}That moves the resonance of every pickup, so it may explain the top end."
    return (
        "No sign of another cable or input load: the magnetic voices did not all move alike above "
        "1.5 kHz while staying below 1 kHz."
    )


def _processing(confound: Confound, facts: ProcessingFacts, _: str) -> str:
    if not confound.found:
        return (
            "No sign of coding or processing in one stage only: neither marks in the files nor "
            "squeezed peaks with longer decays."
        )
    parts = []
    for stage in dict.fromkeys(of for _, of in facts.marks):
        named = listed([f"“{mark}”" for mark, of in facts.marks if of == stage])
        parts.append(
            f"The files of {stage} carry the mark {named}, those of the other stage do not."
        )
    if facts.decay_percent is not None:
        parts.append(
            f"Peaks moved by {_signed(confound.estimate)} dB against the level and every partial's "
            f"decay by {_signed(facts.decay_percent, 0)} %, in every voice: a compressor or an "
            "amplifier model does that."
        )
    return " ".join([*parts, "Compare untouched DI files."])


def _mains(_: Confound, facts: MainsFacts, __: str) -> str:
    if facts.frequencies_hz is not None:
        before_hz, after_hz = facts.frequencies_hz
        return (
            f"The mains is {before_hz:g} Hz before and {after_hz:g} Hz after: two places, whose "
            "hum says nothing about the work."
        )
    if facts.moved_most_db is not None:
        mix = (
            "the mix of its lines changed alike in every voice (up to "
            f"{_signed(facts.moved_most_db)} dB against their mean)"
        )
        if facts.total_db is not None:
            return (
                f"The hum's source changed too: {mix}, besides its level "
                f"({_signed(facts.total_db)} dB). What shielding or other work did to hum cannot "
                "be told apart from that; record both stages in one place, at one time of day."
            )
        return (
            f"The hum has another source, time or place: {mix}. What the work did to hum cannot be "
            "told apart from that."
        )
    return "No sign of another source of hum: the mix of its lines stayed, as far as it shows."


def _quiet(_: Confound, facts: QuietFacts, voice: str) -> str:
    return (
        f"{voice} has no quiet at {facts.lacking}: hum and hiss could be taken off the plucks of "
        "the other stage only, and what is left in these raises brightness, weak partials and late "
        "decay. Record a second or more with the strings damped."
    )


def _drift(confound: Confound, facts: DriftFacts, _: str) -> str:
    parts = []
    for stage in dict.fromkeys(one.stage for one in facts.moved):
        of = [one for one in facts.moved if one.stage == stage]
        parts.append(
            f"{stage} did not hold still: {of[0].voice}, recorded again at its end with nothing "
            f"done in between, differs {moved_words(of)}."
            if confound.found
            else f"{stage} held still as far as one repeat tells: {of[0].voice}, recorded again at "
            f"its end, moved by at most {held_words(of)}."
        )
    if confound.found:
        parts.append(
            "So much passes between two recordings of one state. The intervals that allow for it "
            f"rest on {count(facts.repeats, 'repeated recording')}, which is little, and on an "
            "assumed wander."
        )
    return " ".join(parts)


def _hidden(confound: Confound, _: HiddenByDrift, voice: str) -> str:
    names = confound.explains
    labels = listed([quantity_of(name).label for name in names[:_HIDDEN_NAMED]])
    rest = len(names) - _HIDDEN_NAMED
    return (
        f"{voice} differs in {labels}{f' and {rest} more' if rest > 0 else ''}, but two recordings "
        "of one state may differ as much: a stage of this comparison drifted while it was recorded."
    )


#: By what was found; each is given the confound, its facts, and the voice for the start of a text.
_TEXTS: Mapping[type, Callable[[Confound, Any, str], str]] = {
    GainFacts: _gain,
    PlaceFacts: _place,
    StrengthFacts: _strength,
    TuningFacts: _tuning,
    StringsFacts: _strings,
    LoadFacts: _load,
    ProcessingFacts: _processing,
    MainsFacts: _mains,
    QuietFacts: _quiet,
    DriftFacts: _drift,
    HiddenByDrift: _hidden,
}
