"""The sheet's words: what a customer reads, with no term of statistics in them."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from tonecompare.compare.model import Note
from tonecompare.report.words.sheet_words.sheet_text import sheet_text, short

TERMS = re.compile(
    r"\b(?:interval|confidence|significan\w*|undecided|confound\w*|verdict|sample|standard|error|"
    r"deviation|threshold\w*|p|n|CI|95 %)\b|±|n =",
    re.IGNORECASE,
)


def _all(text):
    return " ".join(
        (*text.done, text.headline, *text.sentences, *(t for _, texts in text.facts for t in texts))
    )


@pytest.fixture
def told(story):
    return sheet_text(story.session, story.comparisons)


def test_no_term_of_statistics(told):
    assert TERMS.findall(_all(told)) == []


def test_answer_first_then_the_voice_that_moved_most(told):
    assert told.headline == "You can expect to hear a difference in 2 of 3 voices."
    assert told.sentences[0].startswith(
        "Neck (split) is much quieter (5.9 dB), clearly brighter (13 %) and "
    )
    assert told.sentences[1].startswith(
        "Bridge is a little louder (1.9 dB) and clearly darker (12 %)"
    )
    assert 2 <= len(told.sentences) <= 5
    assert told.voices[0].name == "Neck (split)"


def test_work_and_days_are_told(story):
    stages = dict(story.session.stages)
    for name, day in (("heron-stock", 7), ("heron-rewound", 21)):
        stages[name] = replace(stages[name], date=date(2026, 3, day))
    told = sheet_text(replace(story.session, stages=stages), story.comparisons)
    assert told.done == (
        "heron-rewound: neck pickup rewound.",
        "Recorded: heron-stock on 7 March 2026, heron-rewound on 21 March 2026.",
    )


def test_how_sure_names_what_else_moved_and_the_missing_control(told):
    sure = " ".join(dict(told.facts)["How sure"])
    assert "plucked at least 18 times on each side" in sure
    assert "the strings were picked at another place (Middle)" in sure
    assert "that can explain part of what differs" in sure
    assert "No guitar that nobody worked on was recorded both times" in sure


def test_a_control_is_named(story):
    (name,) = story.comparisons.notes
    notes = {name: (Note("control-taken-out", ("wren", ())),)}
    told = sheet_text(story.session, replace(story.comparisons, notes=notes))
    assert "wren, a guitar nobody worked on" in " ".join(dict(told.facts)["How sure"])


def test_cautions_hold_for_what_was_done(told):
    cautions = " ".join(dict(told.facts)["Take care"])
    for word in ("protective earth", "qualified electrician", "local code", "fumes", "moderate"):
        assert word in cautions


def _null(comparisons_of, row, **changes):
    return comparisons_of(
        row(difference=0.1, ci_low=-0.3, ci_high=0.5, verdict="no-change", **changes),
        row(
            quantity="decay_s", unit="%", difference=1.0, ci_low=-4.0, ci_high=6.0,
            hearing_threshold=25.0, verdict="no-change", **changes,
        ),
    )  # fmt: skip


def test_no_change_is_a_result(story, comparisons_of, row):
    told = sheet_text(story.session, _null(comparisons_of, row))
    assert told.headline == "No difference that you would be expected to hear."
    assert told.sentences == ("Neck (split) is as loud and rings as long as before.",)


def test_nothing_shown_is_not_called_no_change(story, comparisons_of, row):
    open_row = row(difference=0.4, ci_low=-2.0, ci_high=2.8, verdict="undecided")
    told = sheet_text(story.session, comparisons_of(open_row))
    assert told.headline == "These recordings cannot tell whether the sound differs."
    assert "cannot tell whether loudness changed" in " ".join(dict(told.facts)["How sure"])


def test_voices_side_by_side_are_named_against_each_other(story, comparisons_of, row):
    sides = {"before": "heron-stock/bridge", "after": "heron-stock/neck", "voice": "neck"}
    one = row(comparison="heron-stock/bridge to heron-stock/neck", **sides)
    told = sheet_text(replace(story.session, comparisons=()), comparisons_of(one))
    assert told.headline == "You can expect to hear this difference."
    assert told.sentences == ("Neck against Bridge is much quieter (5.7 dB).",)
    assert told.done[0] == "Neck set against Bridge."


@pytest.mark.parametrize(
    ("verdicts", "headline"),
    [
        (("likely-audible",) * 2, "You can expect to hear both differences."),
        (("likely-audible",) * 3, "You can expect to hear all 3 differences."),
        (("likely-audible", "no-change", "no-change"),
         "You can expect to hear 1 of 3 differences."),
    ],
)  # fmt: skip
def test_of_voices_against_one_it_is_differences_that_are_counted(
    story, comparisons_of, row, verdicts, headline
):
    rows = [
        row(comparison=f"heron-stock/bridge to heron-stock/{name}", before="heron-stock/bridge",
            after=f"heron-stock/{name}", voice=name, verdict=verdict)
        for name, verdict in zip(("neck", "middle", "both"), verdicts, strict=False)
    ]  # fmt: skip
    told = sheet_text(replace(story.session, comparisons=()), comparisons_of(*rows))
    assert told.headline == headline


def test_a_small_difference_is_called_so(story, comparisons_of, row):
    one = row(difference=0.8, ci_low=0.5, ci_high=1.1, verdict="measurable")
    told = sheet_text(story.session, comparisons_of(one))
    assert told.headline == "There is a difference, but it may be too small to hear."
    assert told.sentences[0].endswith("louder (0.80 dB), which may be too small to hear.")


@pytest.mark.parametrize(("moved", "word"), [(-9.1, "less"), (9.1, "more")])
def test_buzz_that_is_heard_in_the_pauses_is_a_difference_like_hum(
    story, comparisons_of, row, moved, word
):
    same = row(difference=0.1, ci_low=-0.3, ci_high=0.5, verdict="no-change")
    buzz = row(quantity="buzz_dbfs", difference=moved, ci_low=moved - 0.5, ci_high=moved + 0.5)
    told = sheet_text(replace(story.session, stages={}), comparisons_of(same, buzz))
    assert told.headline == "You can expect to hear the difference."
    assert told.sentences == (
        f"Neck (split) has much {word} buzz (9.1 dB); it is as loud as before.",
    )
    assert "Hum: never lift" in " ".join(dict(told.facts)["Take care"])


def test_the_voice_to_hear_first_is_one_whose_notes_differ(story, comparisons_of, row):
    buzz = row(voice="bridge", quantity="buzz_dbfs", difference=-9.1, ci_low=-9.6, ci_high=-8.6)
    told = sheet_text(story.session, comparisons_of(buzz, row(voice="neck")))
    assert [one.name for one in told.voices] == ["Neck", "Bridge"]


def test_long_names_leave_room():
    assert short("x" * 100) == "x" * 41 + "…"
    assert short("Bridge") == "Bridge"


def test_a_sister_is_called_so_and_warned_of_beside_a_control(story, comparisons_of, row):
    hum = row(quantity="hum_dbfs", difference=-4.9, ci_low=-5.4, ci_high=-4.3)
    ring = row(quantity="decay_s", unit="%", difference=1.0, ci_low=-4.0, ci_high=6.0,
               hearing_threshold=25.0, verdict="no-change")  # fmt: skip
    name = hum["comparison"]
    notes = {
        name: (Note("sisters", ("one", "two", "tern", 0)), Note("control-taken-out", ("w", ())))
    }
    told = sheet_text(story.session, comparisons_of(row(), hum, ring, notes=notes))
    assert told.sentences[0] == (
        "Neck (split) is much quieter (5.7 dB) and has clearly less hum (4.9 dB) than its sister; "
        "it rings as long as its sister."
    )
    sure = " ".join(dict(told.facts)["How sure"])
    assert "w, a guitar nobody worked on" in sure
    assert "two guitars of one model, differ before anyone touches them" in sure


@pytest.mark.parametrize(
    ("steps", "rest"), [(3, ""), (4, ""), (5, "What 2 more steps cost stands further")]
)
def test_a_cost_that_is_not_named_is_not_dropped_in_silence(story, steps, rest):
    costs = [(f"stage-{n}", "20 EUR parts, 1 h") for n in range(steps)]
    told = sheet_text(story.session, story.comparisons, worth=(None,), costs=costs)
    said = " ".join(dict(told.facts)["Cost"])
    assert "stage-2: 20 EUR parts, 1 h." in said
    assert ("further down" in said) == bool(rest)
    assert rest in said


@pytest.mark.parametrize(
    ("last", "said"),
    [
        ("buzz_dbfs", "There is much less buzz on Four and Five too."),
        ("hum_dbfs", "There is a difference in Four and Five too."),
    ],
)
def test_what_the_voices_that_are_not_told_of_share_is_said(
    story, comparisons_of, row, last, said
) -> None:
    names = ("one", "two", "three", "four", "five")
    louder = [
        row(voice=name, difference=size, ci_low=size - 0.5, ci_high=size + 0.5)
        for name, size in zip(names, (9.0, 8.0, 7.0), strict=False)
    ]
    rest = [
        row(voice=name, quantity=quantity, difference=-5.9, ci_low=-6.4, ci_high=-5.4)
        for name, quantity in (("four", "buzz_dbfs"), ("five", last))
    ]
    told = sheet_text(replace(story.session, stages={}), comparisons_of(*louder, *rest))
    assert said in told.sentences
