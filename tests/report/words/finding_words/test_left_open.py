"""What is left open is said of what was compared: stages or voices, plucks or music played."""

from __future__ import annotations

import pytest

from tonecompare.report.words.finding_words.left_open import (
    UNDECIDED,
    UNJUDGED,
    Case,
    not_shown,
    set_by_player,
)

SPAN = (-0.2, 1.4, "dB")
MORE = dict.fromkeys(("more-plucks", "more-notes", "more-stretches"), (*SPAN, 3))
DATA = dict.fromkeys(UNDECIDED, SPAN) | MORE | {"no-plucks-settle": (*SPAN, 99)}


def _all_said(case: Case) -> list[str]:
    said = [make(case) for code, make in UNJUDGED.items() if code != "one-stretch"]
    said += [UNDECIDED[code](case, *DATA[code]) for code in UNDECIDED]
    return [*said, set_by_player("cents", case), set_by_player("pluck_point", case)]


@pytest.mark.parametrize("voices", [False, True])
@pytest.mark.parametrize("played", [False, True])
def test_each_sentence_speaks_of_what_was_compared(voices: bool, played: bool) -> None:
    said = _all_said(Case(voices, played, "Neck", "Bridge"))
    assert all(text[0].isupper() and text.endswith(".") for text in said)
    stage = [text for text in said if "stage" in text or "work" in text]
    pluck = [text for text in said if "pluck" in text]
    assert (stage == []) == voices
    assert (pluck == []) == played


def test_one_more_and_several() -> None:
    one = UNDECIDED["more-plucks"](Case(), *SPAN, 1)
    many = UNDECIDED["more-plucks"](Case(), *SPAN, 4)
    assert "about 1 more pluck of each note" in one
    assert "about 4 more plucks of each note" in many


@pytest.mark.parametrize(
    ("low", "high", "unit", "told"),
    [
        (-0.002, 0.001, "dB", "less than 0.01 dB either way"),
        (-0.0004, 0.0004, "share", "less than 0.001 share either way"),
        (-0.2, 0.4, "dB", "−0.2 to +0.4 dB"),
    ],
)
def test_an_interval_that_would_be_written_as_none_is_a_bound(low, high, unit, told) -> None:
    assert f"the takes allow {told}. " in not_shown(low, high, unit)
