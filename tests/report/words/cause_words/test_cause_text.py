"""What is said of causes other than the work: every kind, found and not found."""

from __future__ import annotations

import pytest
from bracketed import Bracketed, all_said

from tonecompare.compare.cause_facts import (
    CauseFacts,
    DriftFacts,
    GainFacts,
    HiddenByDrift,
    LoadFacts,
    MainsFacts,
    MovedFacts,
    PlaceFacts,
    ProcessingFacts,
    QuietFacts,
    Stated,
    StrengthFacts,
    StringsFacts,
    TuningFacts,
    UntoldPlaceFacts,
)
from tonecompare.compare.causes.find_causes import TESTS
from tonecompare.compare.model import Confound
from tonecompare.language import catalogue
from tonecompare.report.words.cause_words.cause_terms import CAUSES
from tonecompare.report.words.cause_words.cause_text import cause_text, cause_texts

NAN = float("nan")


def _cause(
    facts: CauseFacts, *, found: bool = True, voice: str = "", estimate: float | None = None,
    ends: tuple[float, float] = (NAN, NAN), explains: tuple[str, ...] = (), output: str = "",
    several: bool = False,
) -> Confound:  # fmt: skip
    return Confound(
        "stock to rewound", voice, "kind", found, estimate, "", *ends, 0.001, explains, facts,
        output, several,
    )  # fmt: skip


def _moved(stage: str, column: str, moved: float, half: float, unit: str) -> MovedFacts:
    return MovedFacts(
        stage, "bridge", "magnetic", column, moved, moved - half, moved + half, unit
    )  # fmt: skip


LEVEL = _moved("stock", "level_dbfs", -1.5, 0.3, "dB")
PITCH = _moved("rewound", "cents", 2.0, 1.0, "cents")


@pytest.mark.parametrize(
    ("cause", "text"),
    [
        (
            _cause(GainFacts(2), estimate=6.0),
            "The gain was 6.0 dB higher after, hiss, hum and level show it. It is taken out of "
            "every level, hum and hiss.",
        ),
        (
            _cause(GainFacts(1, stated_db=-3.0), estimate=-3.1),
            "The gain was 3.1 dB lower after, as session.toml says. It is taken out of every "
            "level, hum and hiss.",
        ),
        (
            _cause(GainFacts(1, stated_db=6.0, against_stated=True), estimate=0.3),
            "The gain was 0.3 dB higher after (session.toml says +6.0 dB: please check), hiss, hum "
            "and level show it. It is taken out of every level, hum and hiss.",
        ),
        (
            _cause(GainFacts(1, sure=False), estimate=-2.1, ends=(-3.0, -1.2), output="piezo"),
            "The gain of the piezo channel may have moved between the stages (−3.0 to −1.2 dB) or "
            "not: hiss, hum and level do not tell. State interface_gain_db of both stages in "
            "session.toml.",
        ),
        (
            _cause(GainFacts(), found=False),
            "The gain stayed where it was, by hiss, hum and level of all voices.",
        ),
        (
            _cause(GainFacts(controlled=True), found=False),
            "The gain stayed where it was beyond the drift of the control, by hiss, hum and level "
            "of all voices.",
        ),
        (
            _cause(PlaceFacts(None, 650.0), voice="neck", estimate=-0.02, ends=(-0.03, -0.01)),
            "neck was picked at another place after: 13 mm (open string) towards the bridge. That "
            "alone changes partials, brightness, level and the mix that dies away; where it can be "
            "worked out, it is taken out of the differences.",
        ),
        (
            _cause(UntoldPlaceFacts(("neck",)), voice="bridge"),
            "bridge: the takes do not tell where it was picked, but the picking place moved "
            "for Neck. What another place changes is not put down to the work here.",
        ),
        (
            _cause(PlaceFacts(0.011, None), voice="neck", estimate=0.001, ends=(-0.01, 0.01)),
            "neck was picked at another place after: 1.1 % of the string's length one way or the "
            "other, differently from note to note. That alone changes partials, brightness, level "
            "and the mix that dies away; where it can be worked out, it is taken out of the "
            "differences.",
        ),
        (
            _cause(
                PlaceFacts(None, 650.0), found=False, voice="neck", estimate=-0.002,
                ends=(-0.008, 0.004),
            ),
            "neck was picked at the same place in both stages to within 5 mm (open string) on "
            "average (−0.2 % of the string).",
        ),
        (
            _cause(PlaceFacts(None, 650.0), found=False, voice="neck", estimate=0.01),
            "neck: the takes do not tell whether the picking place moved.",
        ),
        (
            _cause(StrengthFacts(4.2, 0.9, at_peak=False), voice="neck"),
            "neck came out louder with stronger upper partials (+4.2 dB, +0.9 dB per octave), as "
            "harder picking does: the hand explains it as well as the work would. Another sign is "
            "missing: the notes begin too little sharp, or ring too short, to tell how hard they "
            "were picked.",
        ),
        (
            _cause(
                StrengthFacts(-5.5, -1.0, at_peak=True, glide_cents=(0.3, 0.1)), voice="neck"
            ),
            "neck came out softer with weaker upper partials (−5.5 dB at the peak, −1.0 dB per "
            "octave), as softer picking does: the hand explains it as well as the work would. "
            "Another sign is missing: the notes begin too little sharp to tell how hard they were "
            "picked.",
        ),
        (
            _cause(StrengthFacts(3.0, 0.0, every_voice=True), voice="neck", estimate=3.0),
            "neck came out 3.0 dB louder, and so did the other voices, alike: harder picking "
            "throughout explains it as well as the work would. Another sign is missing: the "
            "notes begin too little sharp, or ring too short, to tell how hard they were picked.",
        ),
        (
            _cause(
                StrengthFacts(3.1, 0.9, glide_cents=(1.2, 4.1), by_glide=True), voice="neck",
                estimate=3.8, ends=(2.6, 5.1),
            ),
            "neck was picked harder after, by 3.8 dB (2.6 to 5.1): its notes began 1.2 cents sharp "
            "before and 4.1 after, which only the hand does and no pickup. It is taken out of "
            "level, brightness and partials.",
        ),
        (
            _cause(
                StrengthFacts(-0.2, 0.1, glide_cents=(4.1, 1.2), by_glide=True), voice="neck",
                estimate=-3.8, ends=(-8.0, 0.4),
            ),
            "neck was picked softer after, by 3.8 dB (0.0 to 8.0): its notes began 4.1 cents sharp "
            "before and 1.2 after, which only the hand does and no pickup. It is taken out of "
            "level, brightness and partials.",
        ),
        (
            _cause(
                StrengthFacts(-6.0, -1.0, glide_cents=(4.1, 4.2), by_glide=True), voice="neck",
                found=False, estimate=0.1, ends=(-0.9, 1.1),
            ),
            "neck was picked equally hard in both stages, to within 1.1 dB: its notes began 4.1 "
            "cents sharp before and 4.2 after, which a harder pluck would have raised whatever the "
            "pickup.",
        ),
        (
            _cause(
                StrengthFacts(0.2, 0.0, at_peak=False), found=False, voice="both",
                output="piezo", several=True,
            ),
            "No sign of another pick strength on both (piezo): level and tilt did not move "
            "together as a harder or softer hand moves them (the notes begin too little "
            "sharp, or ring too short, to tell how hard they were picked).",
        ),
        (
            _cause(TuningFacts("E2", -31.0), voice="neck", estimate=-30.0),
            "neck was tuned differently (−30.0 cents on average, E2 by −31.0): what follows the "
            "pitch follows the tuning, not the work.",
        ),
        (
            _cause(TuningFacts(), voice="neck", estimate=6.0),
            "neck was tuned differently (+6.0 cents on average): what follows the pitch follows "
            "the tuning, not the work.",
        ),
        (
            _cause(TuningFacts(), found=False, voice="neck", estimate=0.4),
            "neck was in the same tuning (+0.4 cents on average).",
        ),
        (
            _cause(StringsFacts(Stated("strings_gauge", ".010-.046", ".011-.049"), -28.3, 21.4)),
            "Session.toml gives strings .010-.046 before and .011-.049 after, and the high "
            "partials ring 28 % shorter against the low ones over all voices, and inharmonicity "
            "moved by +21 % on the same notes: older or other strings do that (or work on frets, "
            "nut and bridge), a pickup does not.",
        ),
        (
            _cause(StringsFacts(None, 15.0, None)),
            "The high partials ring 15 % longer against the low ones over all voices: older or "
            "other strings do that (or work on frets, nut and bridge), a pickup does not.",
        ),
        (
            _cause(StringsFacts(Stated("strings_hours", 2.0, 40.0), None, None)),
            "Session.toml gives strings played 2 h before and 40 h after: older or other strings "
            "do that (or work on frets, nut and bridge), a pickup does not.",
        ),
        (
            _cause(StringsFacts(None, None, None), found=False),
            "No sign of other or older strings: high partials ring as long against low ones as "
            "before, and inharmonicity stayed.",
        ),
        (
            _cause(LoadFacts(None, (2600.0, 4500.0), (("bridge", -3.04), ("neck", 2.51)))),
            "Every magnetic voice moved alike at the top (2.6–4.5 kHz: −3.0 dB on Bridge and +2.5 "
            "dB on Neck) and stayed below 1 kHz: another cable or input does that to all pickups "
            "at once, and so do other pots. Were cable and input the same? Then write them into "
            "session.toml.",
        ),
        (
            _cause(
                LoadFacts(None, (2600.0, 4500.0), (("bridge", 2.4),), stated_same=True), found=False
            ),
            "Every magnetic voice moved alike at the top (2.6–4.5 kHz: +2.4 dB on Bridge) and "
            "stayed below 1 kHz: other pots, tone capacitor or wiring do that to all pickups at "
            "once. Another cable or input would too; session.toml has the same for both.",
        ),
        (
            _cause(LoadFacts(Stated("cable_length_m", 3.0, 6.5))),
            "session.toml gives a cable of 3 m before and 6.5 m after. That moves the resonance of "
            "every pickup, so it may explain the top end.",
        ),
        (
            _cause(LoadFacts(Stated("input_impedance_ohm", 1e6, 470e3))),
            "session.toml gives an input of 1e+06 Ω before and 470000 Ω after. That moves the "
            "resonance of every pickup, so it may explain the top end.",
        ),
        (
            _cause(LoadFacts(None), found=False),
            "No sign of another cable or input load: the magnetic voices did not all move alike "
            "above 1.5 kHz while staying below 1 kHz.",
        ),
        (
            _cause(ProcessingFacts((("lossy", "b"), ("gate", "a"), ("faded", "b")), None)),
            "The files of b carry the mark “lossy” and “faded”, those of the other stage do not. "
            "The files of a carry the mark “gate”, those of the other stage do not. Compare "
            "untouched DI files.",
        ),
        (
            _cause(ProcessingFacts((), 50.2), estimate=-3.0),
            "Peaks moved by −3.0 dB against the level and every partial's decay by +50 %, in every "
            "voice: a compressor or an amplifier model does that. Compare untouched DI files.",
        ),
        (
            _cause(ProcessingFacts((), None), found=False),
            "No sign of coding or processing in one stage only: neither marks in the files nor "
            "squeezed peaks with longer decays.",
        ),
        (
            _cause(MainsFacts((50.0, 60.0), 4.0)),
            "The mains is 50 Hz before and 60 Hz after: two places, whose hum says nothing about "
            "the work.",
        ),
        (
            _cause(MainsFacts(None, -4.0)),
            "The hum has another source, time or place: the mix of its lines changed alike in "
            "every voice (up to −4.0 dB against their mean). What the work did to hum cannot be "
            "told apart from that.",
        ),
        (
            _cause(MainsFacts(None, -4.0, -8.0)),
            "The hum's source changed too: the mix of its lines changed alike in every voice (up "
            "to −4.0 dB against their mean), besides its level (−8.0 dB). What shielding or other "
            "work did to hum cannot be told apart from that; record both stages in one place, at "
            "one time of day.",
        ),
        (
            _cause(MainsFacts(None, None), found=False),
            "No sign of another source of hum: the mix of its lines stayed, as far as it shows.",
        ),
        (
            _cause(QuietFacts("rewound"), voice="neck"),
            "neck has no quiet at rewound: hum and hiss could be taken off the plucks of the other "
            "stage only, and what is left in these raises brightness, weak partials and late "
            "decay. Record a second or more with the strings damped.",
        ),
        (
            _cause(DriftFacts((LEVEL,), 1)),
            "stock did not hold still: bridge, recorded again at its end with nothing done in "
            "between, differs in level by −1.5 dB (−1.8 to −1.2). Two recordings of one state "
            "can differ by as much. The intervals that allow for it rest on 1 repeated "
            "recording, which is little, and on an assumed wander.",
        ),
        (
            _cause(DriftFacts((LEVEL, PITCH), 2), found=False),
            "stock held still as far as one repeat tells: bridge, recorded again at its end, moved "
            "by at most 1.8 dB in level. rewound held still as far as one repeat tells: bridge, "
            "recorded again at its end, moved by at most 3.0 cents in pitch.",
        ),
        (
            _cause(HiddenByDrift(), voice="neck", explains=("level_dbfs", "decay_s")),
            "neck differs in level and decay time, but two recordings of one state may differ as "
            "much: a stage of this comparison drifted while it was recorded.",
        ),
    ],
)  # fmt: skip
def test_what_is_said(cause: Confound, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert cause_text(cause) == text
    monkeypatch.setattr(catalogue, "_catalogue", lambda _code: Bracketed())
    assert all_said(cause_text(cause)), cause_text(cause)


def test_quantities_that_drift_hides_are_counted_beyond_four() -> None:
    names = ("level_dbfs", "decay_s", "h02_db", "h03_db", "h04_db", "h05_db")
    assert " and 2 more, but" in cause_text(_cause(HiddenByDrift(), voice="n", explains=names))


@pytest.mark.parametrize(
    ("cause", "start"),
    [
        (_cause(TuningFacts(), voice="neck-split", estimate=6.0), "Neck (split) was tuned"),
        (
            _cause(QuietFacts("a"), voice="neck-split", output="piezo", several=True),
            "Neck (split; piezo) has no quiet",
        ),
        (_cause(QuietFacts("a"), voice="neck-split", output="piezo"), "Neck (split) has no quiet"),
        # Until the voice stood apart from the text, a colon after it hid it.
        (
            _cause(PlaceFacts(None, None), found=False, voice="neck-split", estimate=0.0),
            "Neck (split): the takes do not tell",
        ),
    ],
)
def test_a_voice_has_its_title_where_the_sentence_starts_with_it(
    cause: Confound, start: str
) -> None:
    assert cause_text(cause, titled=True).startswith(start)


def test_a_cause_told_by_its_size_needs_one() -> None:
    with pytest.raises(ValueError, match="told by its size"):
        cause_text(_cause(TuningFacts(), voice="neck"))
    with pytest.raises(ValueError, match="how far it moved"):
        cause_text(_cause(PlaceFacts(None, None)))


def test_no_cause_is_explained_twice() -> None:
    assert len(set(CAUSES.values())) == len(CAUSES) >= len(TESTS)


def test_what_holds_for_several_voices_is_said_once() -> None:
    calm = StrengthFacts(0.1, 0.0, at_peak=False, glide_cents=None)
    same = [_cause(calm, found=False, voice=voice) for voice in ("bridge", "neck-split")]
    (said,) = cause_texts(same)
    assert said.startswith("No sign of another pick strength on Bridge and Neck (split): ")
    # These begin with the voice, and a verb for one.
    tuned = [_cause(TuningFacts(), found=False, voice=voice, estimate=0.3) for voice in "ab"]
    assert [text[:6] for text in cause_texts(tuned)] == ["A was ", "B was "]
