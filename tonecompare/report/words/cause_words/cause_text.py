"""What is said of each cause other than the work, where it was found and where it was not."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import reduce
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
    UntoldPlaceFacts,
)
from tonecompare.compare.model import Confound
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.quantities.compared import quantity_of
from tonecompare.report.words.cause_words.drift_words import held_words, moved_words
from tonecompare.report.words.cause_words.hand_words import (
    place_text,
    signed,
    strength_text,
    untold_place_text,
)
from tonecompare.report.words.names import voice_title, with_output
from tonecompare.report.words.numbers import listed, number, plain
from tonecompare.session.model import ComparedSide

#: Quantities that a stage's drift hides, by name; the others are counted.
_HIDDEN_NAMED = 4
_STATED = {
    "strings_gauge": tr_later("session.toml gives strings {before} before and {after} after"),
    "strings_hours": tr_later(
        "session.toml gives strings played {before} h before and {after} h after"
    ),
    "cable_length_m": tr_later(
        "session.toml gives a cable of {before} m before and {after} m after"
    ),
    "cable_pf_per_m": tr_later(
        "session.toml gives a cable of {before} pF/m before and {after} pF/m after"
    ),
    "input_impedance_ohm": tr_later(
        "session.toml gives an input of {before} Ω before and {after} Ω after"
    ),
}

#: Stands in a text where its voice is to be.
_VOICE = "\N{OBJECT REPLACEMENT CHARACTER}"


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


def cause_texts(confounds: Iterable[Confound]) -> tuple[str, ...]:
    """Return what is said of causes of one kind, voices by their titles; alike is said once.

    A text that begins with its voice has a verb for one, and stays alone.
    """
    alike: dict[str, list[str]] = {}
    for one in confounds:
        text = _TEXTS[type(one.facts)](one, one.facts, _VOICE)
        alike.setdefault(text, []).append(_with_output(voice_title(one.voice), one))
    return tuple(
        text.replace(_VOICE, voice)
        for text, voices in alike.items()
        for voice in (voices if text.startswith(_VOICE) else [listed(voices)])
    )


def _with_output(voice: str, confound: Confound) -> str:
    return with_output(voice, confound.output) if confound.several and confound.output else voice


def _opening(stated: Stated | None) -> str:
    if stated is None:
        return ""
    before, after = (
        side if isinstance(side, str) else plain(side) for side in (stated.before, stated.after)
    )
    return tr(_STATED[stated.condition], before=before, after=after)


def _gain(confound: Confound, facts: GainFacts, _: str) -> str:
    if not confound.found:
        if facts.controlled:
            return tr(
                "The gain stayed where it was beyond the drift of the control, by hiss, hum and "
                "level of all voices."
            )
        return tr("The gain stayed where it was, by hiss, hum and level of all voices.")
    what = (
        tr("The gain of the {output} channel", output=tr(confound.output))
        if confound.output
        else tr("The gain")
    )
    if not facts.sure:
        return tr(
            "{gain} may have moved between the stages ({low} to {high} dB) or not: hiss, hum and "
            "level do not tell. State interface_gain_db of both stages in session.toml.",
            gain=what,
            low=signed(confound.ci_low),
            high=signed(confound.ci_high),
        )
    return tr(
        "{gain} was {moved}, {shown}. It is taken out of every level, hum and hiss.",
        gain=what,
        moved=_up_or_down(confound.estimate, facts),
        shown=tr("as session.toml says")
        if facts.stated_db is not None and not facts.against_stated
        else tr("hiss, hum and level show it"),
    )


def _up_or_down(moved_db: float | None, facts: GainFacts) -> str:
    if moved_db is None:
        raise ValueError("a gain that moved has a size")
    size = number(abs(moved_db), 1)
    moved = (
        tr("{size} dB higher after", size=size)
        if moved_db > 0.0
        else tr("{size} dB lower after", size=size)
    )
    if not facts.against_stated:
        return moved
    return tr(
        "{moved} (session.toml says {stated} dB: please check)",
        moved=moved,
        stated=signed(facts.stated_db),
    )


def _tuning(confound: Confound, facts: TuningFacts, voice: str) -> str:
    mean = signed(confound.estimate)
    if not confound.found:
        return tr(
            "{voice} was in the same tuning ({mean} cents on average).", voice=voice, mean=mean
        )
    if facts.worst_note:
        return tr(
            "{voice} was tuned differently ({mean} cents on average, {note} by {most}): what "
            "follows the pitch follows the tuning, not the work.",
            voice=voice,
            mean=mean,
            note=facts.worst_note,
            most=signed(facts.worst_cents),
        )
    return tr(
        "{voice} was tuned differently ({mean} cents on average): what follows the pitch follows "
        "the tuning, not the work.",
        voice=voice,
        mean=mean,
    )


def _strings(confound: Confound, facts: StringsFacts, _: str) -> str:
    if not confound.found:
        return tr(
            "No sign of other or older strings: high partials ring as long against low ones as "
            "before, and inharmonicity stayed."
        )
    parts = [_opening(facts.stated)]
    if facts.ring_percent is not None:
        size = number(abs(facts.ring_percent), 0)
        parts.append(
            tr(
                "the high partials ring {size} % longer against the low ones over all voices",
                size=size,
            )
            if facts.ring_percent > 0.0
            else tr(
                "the high partials ring {size} % shorter against the low ones over all voices",
                size=size,
            )
        )
    if facts.inharmonicity_percent is not None:
        moved = signed(facts.inharmonicity_percent, 0)
        parts.append(tr("inharmonicity moved by {moved} % on the same notes", moved=moved))
    text = reduce(
        lambda one, other: tr("{one}, and {other}", one=one, other=other), filter(None, parts)
    )
    return tr(
        "{signs}: older or other strings do that (or work on frets, nut and bridge), a pickup does "
        "not.",
        signs=f"{text[0].upper()}{text[1:]}",
    )


def _load(_: Confound, facts: LoadFacts, __: str) -> str:
    opening = f"{_opening(facts.stated)}. " if facts.stated else ""
    if facts.band_hz is not None:
        low_khz, high_khz = (limit / 1000.0 for limit in facts.band_hz)
        sizes = listed(
            [
                tr("{size} dB on {voice}", size=signed(moved_db), voice=voice_title(voice))
                for voice, moved_db in facts.moved_db
            ]
        )
        low, high = plain(low_khz), plain(high_khz)
        moved = (
            tr(
                "Every magnetic voice moved alike at the top ({low}–{high} kHz: {sizes}) and "
                "stayed below 1 kHz: other pots, tone capacitor or wiring do that to all pickups "
                "at once. Another cable or input would too; session.toml has the same for both.",
                low=low,
                high=high,
                sizes=sizes,
            )
            if facts.stated_same
            else tr(
                "Every magnetic voice moved alike at the top ({low}–{high} kHz: {sizes}) and "
                "stayed below 1 kHz: another cable or input does that to all pickups at once, and "
                "so do other pots.",
                low=low,
                high=high,
                sizes=sizes,
            )
        )
        ask = tr("Were cable and input the same? Then write them into session.toml.")
        return f"{opening}{moved}" if opening or facts.stated_same else f"{moved} {ask}"
    if opening:
        may = tr("That moves the resonance of every pickup, so it may explain the top end.")
        return f"{opening}{may}"
    return tr(
        "No sign of another cable or input load: the magnetic voices did not all move alike above "
        "1.5 kHz while staying below 1 kHz."
    )


def _processing(confound: Confound, facts: ProcessingFacts, _: str) -> str:
    if not confound.found:
        return tr(
            "No sign of coding or processing in one stage only: neither marks in the files nor "
            "squeezed peaks with longer decays."
        )
    parts = []
    for stage in dict.fromkeys(of for _, of in facts.marks):
        named = listed([tr("“{name}”", name=mark) for mark, of in facts.marks if of == stage])
        parts.append(
            tr(
                "The files of {stage} carry the mark {marks}, those of the other stage do not.",
                stage=stage,
                marks=named,
            )
        )
    if facts.decay_percent is not None:
        parts.append(
            tr(
                "Peaks moved by {peaks} dB against the level and every partial's decay by {decay} "
                "%, in every voice: a compressor or an amplifier model does that.",
                peaks=signed(confound.estimate),
                decay=signed(facts.decay_percent, 0),
            )
        )
    return " ".join([*parts, tr("Compare untouched DI files.")])


def _mains(_: Confound, facts: MainsFacts, __: str) -> str:
    if facts.frequencies_hz is not None:
        before_hz, after_hz = facts.frequencies_hz
        return tr(
            "The mains is {before} Hz before and {after} Hz after: two places, whose hum says "
            "nothing about the work.",
            before=plain(before_hz),
            after=plain(after_hz),
        )
    if facts.moved_most_db is not None and facts.total_db is not None:
        return tr(
            "The hum's source changed too: the mix of its lines changed alike in every voice (up "
            "to {most} dB against their mean), besides its level ({level} dB). What shielding or "
            "other work did to hum cannot be told apart from that; record both stages in one "
            "place, at one time of day.",
            most=signed(facts.moved_most_db),
            level=signed(facts.total_db),
        )
    if facts.moved_most_db is not None:
        return tr(
            "The hum has another source, time or place: the mix of its lines changed alike in "
            "every voice (up to {most} dB against their mean). What the work did to hum cannot be "
            "told apart from that.",
            most=signed(facts.moved_most_db),
        )
    return tr("No sign of another source of hum: the mix of its lines stayed, as far as it shows.")


def _quiet(confound: Confound, facts: QuietFacts, voice: str) -> str:
    if confound.against:
        lacking = voice_title(ComparedSide.named(facts.lacking).voice or facts.lacking)
        return tr(
            "{voice} has no quiet: hum and hiss could be taken off the plucks of the other voice "
            "only, and what is left in these raises brightness, weak partials and late decay. "
            "Record a second or more with the strings damped.",
            voice=lacking,
        )
    return tr(
        "{voice} has no quiet at {stage}: hum and hiss could be taken off the plucks of the other "
        "stage only, and what is left in these raises brightness, weak partials and late decay. "
        "Record a second or more with the strings damped.",
        voice=voice,
        stage=facts.lacking,
    )


def _drift(confound: Confound, facts: DriftFacts, _: str) -> str:
    parts = []
    for stage in dict.fromkeys(one.stage for one in facts.moved):
        of = [one for one in facts.moved if one.stage == stage]
        parts.append(
            tr(
                "{stage} did not hold still: {voice}, recorded again at its end with nothing done "
                "in between, differs {moved}.",
                stage=stage,
                voice=of[0].voice,
                moved=moved_words(of),
            )
            if confound.found
            else tr(
                "{stage} held still as far as one repeat tells: {voice}, recorded again at its "
                "end, moved by at most {held}.",
                stage=stage,
                voice=of[0].voice,
                held=held_words(of),
            )
        )
    if confound.found:
        parts.append(
            tr_n(
                "Two recordings of one state can differ by as much. The intervals that allow for "
                "it rest on {n} repeated recording, which is little, and on an assumed wander.",
                "Two recordings of one state can differ by as much. The intervals that allow for "
                "it rest on {n} repeated recordings, which is little, and on an assumed wander.",
                facts.repeats,
            )
        )
    return " ".join(parts)


def _hidden(confound: Confound, _: HiddenByDrift, voice: str) -> str:
    names = confound.explains
    labels = listed([tr(quantity_of(name).label) for name in names[:_HIDDEN_NAMED]])
    rest = len(names) - _HIDDEN_NAMED
    return tr(
        "{voice} differs in {quantities}, but two recordings of one state may differ as much: a "
        "stage of this comparison drifted while it was recorded.",
        voice=voice,
        quantities=tr("{names} and {n} more", names=labels, n=rest) if rest > 0 else labels,
    )


#: By what was found; each is given the confound, its facts, and the voice for the start of a text.
_TEXTS: Mapping[type, Callable[[Confound, Any, str], str]] = {
    GainFacts: _gain,
    PlaceFacts: place_text,
    UntoldPlaceFacts: untold_place_text,
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
