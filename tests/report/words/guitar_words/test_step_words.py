"""What a step of work brought: new voices first, then what is audible, hum, and the rest."""

from __future__ import annotations

from dataclasses import replace

from tonecompare.compare.worth.work_steps import NewVoice, Step
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.guitar_words.step_returns import finding, returns, steps_in_turn
from tonecompare.report.words.guitar_words.step_words import audible_cell, by_voice, step_sentences

REWIND = Step(
    stage="rewound", instrument="wren", stock="stock", before="stock", work=("rewind", "new pot"),
    parts_cost=40.0, hours=0.0, money=40.0, total_money=40.0, total_hours=0.0, from_stock=(),
    from_before=(), new_voices=(), shared_voices=("bridge", "neck"), ratings={},
    confounds=("gain",),
)  # fmt: skip
PIEZO = replace(
    REWIND, stage="piezo", before="rewound", work=("piezo",), money=92.0, confounds=(),
    new_voices=(
        NewVoice("blend", "blend", "bridge", 1.6, 0.2, 2.5),
        NewVoice("both", "magnetic", "bridge", 0.2, 0.0, 0.9),
        NewVoice("both", "piezo", "bridge", 5.6, 3.4, 7.1),
    ),
)  # fmt: skip


def _row(voice: str, quantity: str, difference: float, verdict: str, **more: object) -> Difference:
    return Difference(
        "stock to rewound", "stock", "rewound", voice, "magnetic", "all", quantity, "dB", -20.0,
        -20.0 + difference, difference, difference - 0.5, difference + 0.5, 18, 18, 1.0, verdict,
        "", **more,  # type: ignore[arg-type]
    )  # fmt: skip


LOUDER = [
    _row("bridge", "level_dbfs", 3.0, "likely-audible"),
    _row("bridge", "hum_dbfs", -6.0, "likely-audible"),
    _row("bridge", "signal_to_hum_db", 9.0, "likely-audible"),
    _row("bridge", "decay_s", 0.1, "no-change"),
    _row("neck", "level_dbfs", -1.2, "measurable"),
    _row("neck", "hum_dbfs", 0.1, "no-change"),
    _row("neck", "decay_s", 1.0, "undecided"),
]
SAME = [
    _row("bridge", "level_dbfs", 0.1, "no-change"),
    _row("neck", "level_dbfs", 0.1, "no-change"),
]


def test_a_step_is_told_in_the_order_of_what_was_bought() -> None:
    new, blend, _both, piezo, audible, hum, measurable, same, opened, _, gain = step_sentences(
        replace(PIEZO, before="stock", work=("a", "b"), confounds=("gain",)), LOUDER
    )
    assert new == "New: 2 voices that stock does not have, Blend and Both."
    assert blend.startswith("Blend: nearest in shape is Bridge, 1.6 hearing thresholds away")
    assert piezo.startswith("Both (piezo): nearest in shape is Bridge, 5.6")
    assert audible == (
        "Likely audible on the voices both have: Bridge: 3.0 dB louder (2.5 to 3.5)."
    )
    assert hum == (
        "Hum: Bridge down by 6.0 dB (5.5 to 6.5), likely audible in the pauses, if heard at your "
        "volume; Neck unchanged within 0.6 dB."
    )
    assert "Neck: 1.2 dB quieter" in measurable
    assert same.startswith("Not expected to be audible: Bridge: decay unchanged")
    assert opened.startswith("Open: 1 of 4 differences")
    assert gain == "Not all of it need be the work's: gain also changed since stock."


def test_work_done_in_one_step_cannot_be_told_apart() -> None:
    told = " ".join(step_sentences(REWIND, SAME))
    assert "2 pieces of work lie between the two recordings" in told
    assert "cannot be told apart" in told
    assert "cannot be told apart" not in " ".join(step_sentences(PIEZO, SAME))


def test_a_step_without_anything_audible_says_so() -> None:
    told = step_sentences(PIEZO, SAME)
    assert "Nothing likely audible since rewound on Bridge and Neck." in told
    assert step_sentences(PIEZO, [])[4] == "No voice was recorded both at rewound and at piezo."


def test_a_sisters_step_says_that_it_is_another_guitar() -> None:
    rows = [replace(row, sisters=True) for row in LOUDER]
    told = " ".join(step_sentences(replace(REWIND, sister=True), rows))
    assert "3.0 dB louder than its sister" in told
    assert "Neck the same as its sister's within" in told
    assert "rewound is another guitar than stock" in told
    assert "differ in before anyone touches them" in told


def test_returns_diminish_in_a_sentence_of_its_own_numbers() -> None:
    voices = by_voice(LOUDER), by_voice(SAME)
    said = returns(REWIND, PIEZO, voices, currency="EUR")
    # 92 over 40 is 2.3.
    assert said == (
        "More was spent, and it went into new voices: piezo cost 2.3 times what rewound did "
        "(92 against 40 EUR); it changed nothing likely audible on either "
        "of the two voices it shares with rewound, and added 2 voices (Blend and Both). "
        "rewound made 1 likely audible difference on 1 of the 2 voices it shares with stock, "
        "besides hum in the pauses, and added no voice."
    )


def test_where_returns_diminish_is_said_only_where_the_numbers_carry_it() -> None:
    plain = replace(PIEZO, new_voices=())
    falling, rising = (by_voice(LOUDER), by_voice(SAME)), (by_voice(SAME), by_voice(LOUDER))
    assert returns(REWIND, plain, falling, currency="EUR").startswith(
        "Returns diminish here: piezo"
    )
    assert returns(REWIND, plain, rising, currency="EUR").startswith("piezo cost 2.3 times")
    cheaper = replace(plain, money=20.0)
    assert returns(REWIND, cheaper, falling, currency="EUR").startswith("piezo cost 0.5")
    sister = replace(plain, sister=True)
    assert returns(REWIND, sister, falling, currency="EUR").startswith("piezo cost 2.3 times")


def test_alternatives_on_sisters_are_warned_of() -> None:
    one, other = (replace(step, before="stock", sister=True) for step in (REWIND, PIEZO))
    said = returns(one, other, (by_voice(SAME), by_voice(LOUDER)), currency="EUR")
    assert "it shows 1 likely audible difference on 1 of the 2 voices it shares with its" in said
    assert "and has 2 voices more (Blend and Both)." in said
    assert "rewound shows nothing likely audible on either of the two voices it shares" in said
    assert said.endswith("What two guitars of one model differ in anyway is in these numbers.")


def test_buzz_is_told_where_it_moved() -> None:
    rows = [
        _row("bridge", "hum_dbfs", 0.1, "no-change"),
        _row("bridge", "buzz_dbfs", -9.0, "likely-audible"),
        _row("bridge", "hiss_dbfs", 0.0, "no-change"),
    ]
    told = step_sentences(REWIND, rows)
    assert "Hum: Bridge unchanged within 0.6 dB." in told
    assert any(text.startswith("Buzz: Bridge down by 9.0 dB (8.5 to 9.5), likely") for text in told)
    assert not any(text.startswith("Hiss") for text in told)


def test_noise_alone_is_something_and_no_change_of_the_notes() -> None:
    rows = by_voice([_row("bridge", "buzz_dbfs", -9.0, "likely-audible")])
    said = returns(PIEZO, REWIND, (by_voice(SAME), rows), currency="EUR")
    assert (
        "it changed nothing likely audible on the one voice it shares with stock but buzz" in said
    )
    assert audible_cell(rows) == "nothing (Bridge); in the pauses buzz"
    assert "only noise likely audible on old voices" in finding([REWIND], [rows])


def test_without_money_the_hours_are_set_beside_each_other() -> None:
    one, other = (replace(step, money=None) for step in (REWIND, PIEZO))
    voices = by_voice(SAME), by_voice(SAME)
    one, other = (
        replace(one, parts_cost=18.0, hours=2.0),
        replace(other, parts_cost=45.0, hours=5.0),
    )
    assert returns(one, other, voices, currency="EUR").startswith(
        "piezo took 2.5 times the parts (45 against 18 EUR) and 2.5 times the hours (5 against 2) "
        "of rewound; it changed nothing"
    )
    one, other = replace(one, parts_cost=0.0), replace(other, parts_cost=0.0)
    said = returns(one, other, voices, currency="EUR")
    assert said.startswith("piezo took 2.5 times the hours (5 against 2) of rewound; it changed")
    one, other = replace(one, hours=0.0), replace(other, hours=0.0)
    assert returns(one, other, voices, currency="").startswith("piezo stands beside rewound; it")


def test_which_step_is_set_against_which() -> None:
    # Along a line each against the one before; alternatives from one stage from cheap to dear.
    dear = replace(REWIND, stage="dear", money=99.0)
    pairs = [(one.stage, other.stage) for one, other in steps_in_turn([dear, REWIND, PIEZO])]
    assert pairs == [("rewound", "piezo"), ("rewound", "dear")]


def test_the_charts_title_and_the_table_count_the_same() -> None:
    voices = [by_voice(LOUDER), by_voice(SAME)]
    assert audible_cell(voices[0]) == "1: Bridge 1; in the pauses hum"
    assert audible_cell(voices[1]) == "nothing (Bridge and Neck)"
    assert finding([REWIND], voices[:1]) == (
        "rewound: 1 likely audible difference on old voices, no new voice"
    )
    assert finding([REWIND, PIEZO], voices) == (
        "piezo: 2.3 times the cost of rewound, nothing likely audible on old voices, 2 new voices"
    )
