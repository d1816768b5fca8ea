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
from tonecompare.report.words.cause_words.hand_words import place_text, signed, strength_text
from tonecompare.report.words.names import voice_title, with_output
from tonecompare.report.words.numbers import count, listed
from tonecompare.session.model import ComparedSide

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
        Whether a text that starts with the voice has its title ("Neck (split)") instead of its
        plain name ("neck-split").

    Examples
    --------
    >>> gain = Confound(
    ...     "stock to rewound", "", "gain", True, 6.0, "dB", 5.8, 6.2, 0.001, (), GainFacts(2)
    ... )
    >>> cause_text(gain)
    'The gain was 6.0 dB higher after, hiss, hum and level show it. It is taken out of every \
level, hum and hiss.'
    """
    voice = voice_title(confound.voice) if titled else confound.voice
    return _TEXTS[type(confound.facts)](confound, confound.facts, _with_output(voice, confound))


def _with_output(voice: str, confound: Confound) -> str:
    return with_output(voice, confound.output) if confound.several and confound.output else voice


def _opening(stated: Stated | None) -> str:
    if stated is None:
        return ""
    told = _STATED[stated.condition].format(stated.before, stated.after)
    return f"session.toml gives {told}"


def _gain(confound: Confound, facts: GainFacts, _: str) -> str:
    if not confound.found:
        beyond = " beyond the drift of the control" if facts.controlled else ""
        return f"The gain stayed where it was{beyond}, by hiss, hum and level of all voices."
    what = f"The gain of the {confound.output} channel" if confound.output else "The gain"
    if not facts.sure:
        return (
            f"{what} may have moved between the stages ({_between(confound)}) or not: hiss, hum "
            "and level do not tell. State interface_gain_db of both stages in session.toml."
        )
    if facts.stated_db is not None and not facts.against_stated:
        shown = "as session.toml says"
    else:
        shown = "hiss, hum and level show it"
    against = ""
    if facts.against_stated:
        against = f" (session.toml says {signed(facts.stated_db)} dB: please check)"
    return (
        f"{what} was {_up_or_down(confound.estimate)}{against}, {shown}. It is taken out of every "
        "level, hum and hiss."
    )


def _up_or_down(moved_db: float | None) -> str:
    if moved_db is None:
        raise ValueError("a gain that moved has a size")
    return f"{abs(moved_db):.1f} dB {'higher' if moved_db > 0.0 else 'lower'} after"


def _between(confound: Confound) -> str:
    return f"{signed(confound.ci_low)} to {signed(confound.ci_high)} dB"


def _tuning(confound: Confound, facts: TuningFacts, voice: str) -> str:
    which = f"{signed(confound.estimate)} cents on average"
    if not confound.found:
        return f"{voice} was in the same tuning ({which})."
    if facts.worst_note:
        which += f", {facts.worst_note} by {signed(facts.worst_cents)}"
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
        moved = signed(facts.inharmonicity_percent, 0)
        parts.append(f"inharmonicity moved by {moved} % on the same notes")
    text = ", and ".join(part for part in parts if part)
    return (
        f"{text[0].upper()}{text[1:]}: older or other strings do that (or work on frets, nut and "
        "bridge), a pickup does not."
    )


def _load(_: Confound, facts: LoadFacts, __: str) -> str:
    opening = f"{_opening(facts.stated)}. " if facts.stated else ""
    if facts.band_hz is not None:
        sizes = listed([f"{signed(moved_db)} dB on {voice}" for voice, moved_db in facts.moved_db])
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
            f"Peaks moved by {signed(confound.estimate)} dB against the level and every partial's "
            f"decay by {signed(facts.decay_percent, 0)} %, in every voice: a compressor or an "
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
            f"{signed(facts.moved_most_db)} dB against their mean)"
        )
        if facts.total_db is not None:
            return (
                f"The hum's source changed too: {mix}, besides its level "
                f"({signed(facts.total_db)} dB). What shielding or other work did to hum cannot "
                "be told apart from that; record both stages in one place, at one time of day."
            )
        return (
            f"The hum has another source, time or place: {mix}. What the work did to hum cannot be "
            "told apart from that."
        )
    return "No sign of another source of hum: the mix of its lines stayed, as far as it shows."


def _quiet(confound: Confound, facts: QuietFacts, voice: str) -> str:
    if confound.against:
        lacking = voice_title(ComparedSide.named(facts.lacking).voice or facts.lacking)
        return (
            f"{lacking} has no quiet: hum and hiss could be taken off the plucks of the other "
            "voice only, and what is left in these raises brightness, weak partials and late "
            "decay. Record a second or more with the strings damped."
        )
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
    PlaceFacts: place_text,
    StrengthFacts: strength_text,
    TuningFacts: _tuning,
    StringsFacts: _strings,
    LoadFacts: _load,
    ProcessingFacts: _processing,
    MainsFacts: _mains,
    QuietFacts: _quiet,
    DriftFacts: _drift,
    HiddenByDrift: _hidden,
}
