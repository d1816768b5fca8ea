"""Findings: the wording, the order, and that no sentence says more than its numbers."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tonecompare.compare.cause_facts import GainFacts, LoadFacts, MainsFacts, PlaceFacts
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import no_rows
from tonecompare.compare.model import Confound, Note
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.report.words.findings import MOST, MOST_OF_ALL, find


def _texts(comparisons, **options):
    return [finding.text for finding in find(comparisons, **options)]


def _no_change(row, **changes):
    return row(
        **{
            "quantity": "decay_s",
            "unit": "%",
            "difference": 0.8,
            "ci_low": -4.0,
            "ci_high": 5.6,
            "hearing_threshold": 40.0,
            "verdict": "no-change",
            **changes,
        }
    )


def _hum(row, **changes):
    return row(
        **{
            "quantity": "hum_dbfs",
            "difference": 8.0,
            "ci_low": 7.1,
            "ci_high": 8.9,
            "hearing_threshold": 1.0,
            **changes,
        }
    )


def test_the_sentence_of_one_voice(row, comparisons_of):
    (text,) = _texts(comparisons_of(row(), _hum(row), _no_change(row)))
    assert text == (
        "Neck (split): 5.7 dB quieter (5.2 to 6.2) – likely audible; hum up by 8.0 dB (7.1 to 8.9) "
        "– likely audible in the pauses, if heard at your volume; decay unchanged within 6 %."
    )


def test_measurable_says_may_be_audible_unless_all_of_it_lies_below(row, comparisons_of):
    may_be = row(difference=-1.3, ci_low=-1.7, ci_high=-0.9, verdict="measurable")
    (text,) = _texts(comparisons_of(may_be))
    assert "1.3 dB quieter (0.9 to 1.7) – may be audible in direct comparison" in text
    below = row(difference=-0.4, ci_low=-0.6, ci_high=-0.2, verdict="measurable")
    (text,) = _texts(comparisons_of(below))
    assert "0.4 dB quieter (0.2 to 0.6) – not expected to be audible" in text


def test_without_a_hearing_threshold_nothing_is_said_of_hearing(row, comparisons_of):
    known = row(hearing_threshold=None, verdict="measurable")
    (text,) = _texts(comparisons_of(known))
    assert text == "Neck (split): 5.7 dB quieter (5.2 to 6.2)."


def test_all_unchanged_is_said_with_its_bounds(row, comparisons_of):
    level = row(difference=0.1, ci_low=-0.2, ci_high=0.4, verdict="no-change")
    (text,) = _texts(comparisons_of(level, _no_change(row)))
    assert text == (
        "Neck (split): decay unchanged within 6 % and level unchanged within 0.4 dB – not expected "
        "to be audible."
    )


def test_undecided_is_said_with_n_and_with_what_would_settle_it(row, comparisons_of):
    undecided = _no_change(
        row, verdict="undecided", ci_low=-12.0, ci_high=60.0, difference=20.0, n_before=3,
        n_after=3, more_plucks=4.0,
    )  # fmt: skip
    (finding,) = find(comparisons_of(undecided))
    assert finding.kind == "undecided"
    assert finding.text == (
        "Undecided, a change is not shown: Neck (split), decay +20 % (−12 to +60; n = 3 each; "
        "about 4 more plucks per note would settle it)."
    )


def test_an_undecided_interval_without_zero_is_explained(row, comparisons_of):
    undecided = _no_change(row, verdict="undecided", ci_low=15.0, ci_high=67.0, difference=39.0)
    assert _texts(comparisons_of(undecided))[0].endswith(
        "An interval that leaves out zero does not show a change yet: among so many differences "
        "chance makes some like it."
    )


def test_an_interval_that_says_nothing_comes_last(row, comparisons_of):
    # −100 to +10253 % of a decay whose threshold is 25 %: figures no reader can use.
    undecided = {"verdict": "undecided", "ci_low": -12.0, "ci_high": 60.0}
    rows = [
        _no_change(row, voice="wide", verdict="undecided", ci_low=-99.9, ci_high=10253.0),
        *(_no_change(row, voice=f"voice{n}", **undecided) for n in range(3)),
    ]
    (text,) = _texts(comparisons_of(*rows))
    assert "10253" not in text
    assert text.endswith("; 1 more in the table.")


def test_one_more_pluck_is_one_pluck(row, comparisons_of):
    undecided = _no_change(row, verdict="undecided", ci_high=60.0, more_plucks=1.0)
    assert "about 1 more pluck per note would settle it" in _texts(comparisons_of(undecided))[0]


def test_what_is_measured_in_the_quiet_wants_more_quiet(row, comparisons_of):
    undecided = _hum(row, verdict="undecided", n_before=1, n_after=1, more_plucks=2.0)
    text = _texts(comparisons_of(undecided))[0]
    assert "n = 1 each; about 2 more quiet stretches in each stage would settle it" in text


def test_hopeless_numbers_of_plucks_are_no_advice(row, comparisons_of):
    undecided = _no_change(row, verdict="undecided", ci_high=60.0, more_plucks=1e6)
    assert "settle" not in _texts(comparisons_of(undecided))[0]


def test_many_undecided_are_counted(row, comparisons_of):
    rows = [
        _no_change(row, voice=f"voice{n}", verdict="undecided", ci_high=60.0 + n) for n in range(5)
    ]
    (text,) = _texts(comparisons_of(*rows))
    assert text.endswith("; 2 more in the table.")


def test_what_is_open_alike_is_said_once(row, comparisons_of):
    undecided = {"verdict": "undecided", "ci_high": 60.0}
    rows = [_no_change(row, voice=name, **undecided) for name in ("bridge", "neck")]
    (text,) = _texts(comparisons_of(*rows, _no_change(row, voice="middle", ci_high=70.0,
                                                      verdict="undecided")))  # fmt: skip
    assert ": Bridge and Neck, decay " in text
    assert text.count("decay") == 2
    assert "more in the table" not in text


def test_what_is_open_in_several_comparisons_names_the_stage(row, comparisons_of):
    undecided = {"verdict": "undecided", "ci_high": 60.0}
    other = {"comparison": "robin to wren", "before": "robin", "after": "wren"}
    rows = [_no_change(row, **undecided), _no_change(row, **undecided, **other)]
    (text,) = _texts(comparisons_of(*rows))
    assert "; Neck (split) of wren, decay" in text
    assert ": Neck (split) of heron-rewound, decay" in text


def test_what_a_player_asks_first_is_named_and_the_rest_counted(row, comparisons_of):
    undecided = {"verdict": "undecided", "ci_high": 60.0}
    rows = [
        _no_change(row, quantity="attack_ms", **undecided),
        _no_change(row, **undecided),
        _no_change(row, quantity="hiss_dbfs", unit="dB", **undecided),
    ]
    (text,) = _texts(comparisons_of(*rows))
    assert text.startswith("Undecided, a change is not shown: Neck (split), decay ")
    assert "attack" not in text
    assert text.endswith("; 2 more in the table.")


def test_confounded_names_what_explains_it(row, comparisons_of):
    gain = Confound(
        row()["comparison"], "", "gain", True, -5.6, "dB", -6.0, -5.2, 0.001, ("level_dbfs",),
        GainFacts(1, sure=False),
    )  # fmt: skip
    (finding,) = find(comparisons_of(row(verdict="confounded"), confounds=(gain,)))
    assert finding.kind == "confounded"
    assert finding.text == (
        "The work and something else cannot be told apart. Neck (split): 5.7 dB quieter "
        "(5.2 to 6.2). The gain may have moved between the stages (−6.0 to −5.2 dB) or not: hiss, "
        "hum and level do not tell. State interface_gain_db of both stages in session.toml."
    )


def test_pots_or_wiring_are_said_where_cable_and_input_were_the_same(row, comparisons_of):
    load = Confound(
        row()["comparison"], "", "load", False, 2.4, "dB", 1.0, 3.8, 0.001, ("level_dbfs",),
        LoadFacts(None, (2600.0, 4500.0), (("bridge", 2.4), ("neck", 2.7)), stated_same=True),
    )  # fmt: skip
    first, *rest = find(comparisons_of(row(), confounds=(load,)))
    assert (first.kind, [one.kind for one in rest]) == ("change", ["note"])
    assert "other pots, tone capacitor or wiring do that to all pickups at once" in rest[0].text
    cable = replace(load, facts=replace(load.facts, stated_same=False))
    assert len(find(comparisons_of(row(), confounds=(cable,)))) == 1


def test_hum_of_another_source_is_not_said_to_be_none_of_the_work(row, comparisons_of):
    other = Confound(
        row()["comparison"], "", "mains", True, 4.0, "dB RMS", None, None, 0.0, ("hum_dbfs",),
        MainsFacts(None, 5.0, 8.0),
    )  # fmt: skip
    (finding,) = find(comparisons_of(_hum(row, verdict="confounded"), confounds=(other,)))
    assert finding.text.startswith(
        "The work and something else cannot be told apart. Neck (split): hum up by 8.0 dB "
        "(7.1 to 8.9). The hum's source changed too: "
    )


def test_hum_of_another_source_is_said_where_no_change_of_hum_is_claimed(row, comparisons_of):
    other = Confound(
        row()["comparison"], "", "mains", True, 4.0, "dB RMS", None, None, 0.0, ("hum_dbfs",),
        MainsFacts(None, 5.0, 8.0),
    )  # fmt: skip
    first, *_ = find(comparisons_of(_hum(row, verdict="undecided"), confounds=(other,)))
    assert first.kind == "confounded"
    assert first.text.startswith("The hum's source changed too: ")
    (only,) = find(
        comparisons_of(_hum(row, verdict="undecided"), confounds=(replace(other, found=False),))
    )
    assert only.kind == "undecided"


def test_what_was_taken_out_comes_first(row, comparisons_of):
    gain = Confound(
        row()["comparison"], "", "gain", True, -3.0, "dB", -3.2, -2.8, 0.001, (), GainFacts(2)
    )
    changed = row(verdict="likely-audible", adjusted_for=("gain",))
    first, second = find(comparisons_of(changed, confounds=(gain,)))[:2]
    assert (first.kind, second.kind) == ("taken-out", "change")
    assert first.text.startswith("The gain was 3.0 dB lower after")


def test_a_confound_of_another_voice_or_not_found_explains_nothing(row, comparisons_of):
    def gain(**changes):
        fields = {
            "comparison": row()["comparison"], "voice": "", "kind": "gain", "found": True,
            "estimate": None, "unit": "dB", "ci_low": None, "ci_high": None, "p_value": None,
            "explains": ("level_dbfs",), "facts": GainFacts(), **changes,
        }  # fmt: skip
        return Confound(**fields)

    others = (gain(voice="bridge"), gain(found=False), gain(explains=("decay_s",)))
    confounded = row(verdict="confounded", reason="The reason of the row itself.")
    (text,) = _texts(comparisons_of(confounded, confounds=others))
    assert "gain" not in text
    assert text.endswith("The reason of the row itself.")


def test_voices_are_ranked_by_what_they_surely_differ(row, comparisons_of):
    wide = row(voice="wide", difference=-6.0, ci_low=-10.5, ci_high=-1.5)
    sure = row(voice="sure", difference=-4.0, ci_low=-4.5, ci_high=-3.5)
    texts = _texts(comparisons_of(wide, sure))
    assert [text.split(":")[0] for text in texts] == ["Sure", "Wide"]


def test_no_more_than_six_and_what_is_dropped_is_named(row, comparisons_of):
    rows = [row(voice=f"voice{n}", difference=-4.0 - n, ci_low=-5.0 - n, ci_high=-3.0 - n)
            for n in range(9)]  # fmt: skip
    texts = _texts(comparisons_of(*rows))
    assert len(texts) == MOST
    assert texts[-1].startswith("More voices changed measurably: ")
    named = " ".join(texts)
    assert all(f"Voice{n}" in named for n in range(9))


def test_every_comparison_gets_a_finding_before_any_gets_two(row, comparisons_of):
    rows = [row(voice=f"voice{n}", difference=-20.0, ci_low=-21.0, ci_high=-19.0) for n in range(8)]
    rows.append(row(comparison="c to d", voice="small"))
    found = find(comparisons_of(*rows))
    assert "c to d" in {finding.comparison for finding in found}


def test_hum_is_not_told_three_times(row, comparisons_of):
    text = _texts(
        comparisons_of(
            _hum(row),
            _hum(row, quantity="buzz_dbfs"),
            _hum(row, quantity="signal_to_hum_db", difference=-13.0, ci_low=-14.0, ci_high=-12.0),
        )
    )[0]
    assert "hum up by 8.0 dB" in text
    assert "buzz" not in text
    assert "signal" not in text


def test_buzz_that_moved_otherwise_than_the_hum_is_told(row, comparisons_of):
    less = _hum(row, quantity="buzz_dbfs", difference=-9.0, ci_low=-9.6, ci_high=-8.4)
    (text,) = _texts(comparisons_of(_hum(row, difference=-4.0, ci_low=-4.6, ci_high=-3.4), less))
    assert "buzz down by 9.0 dB" in text
    assert "hum down by 4.0 dB" in text


def test_two_outputs_of_a_voice_are_told_apart(row, comparisons_of):
    texts = _texts(comparisons_of(row(), row(output="piezo")))
    assert {text.split(":")[0] for text in texts} == {
        "Neck (split; magnetic)",
        "Neck (split; piezo)",
    }


def test_nothing_compared_is_a_finding():
    (text,) = _texts(Comparisons(no_rows()))
    assert text == (
        "Nothing was compared: that takes usable recordings of one voice at two stages. What was "
        "measured stands below and in measurements.csv."
    )


def test_unmeasured_on_one_side_says_nothing_of_change(row, comparisons_of):
    missing = row(difference=None, ci_low=None, ci_high=None, verdict="undecided")
    (text,) = _texts(comparisons_of(missing))
    assert text.startswith("No difference over all notes could be worked out")


def test_notes_and_missing_recordings_come_last(row, comparisons_of):
    noted = comparisons_of(row(), notes={row()["comparison"]: (Note("no-control"),)})
    texts = _texts(noted, missing=["2 recordings left out; named below with the reason"])
    assert texts[1:] == [
        note_sentence(Note("no-control")),
        "2 recordings left out; named below with the reason.",
    ]


def test_the_surest_partial_is_told_when_it_is_likely_audible(row, comparisons_of):
    def partial(number, change, level=-12.0):
        return row(
            quantity=f"h{number:02d}_db", difference=change, ci_low=change - 0.2,
            ci_high=change + 0.2, before_value=level, after_value=level + change,
        )  # fmt: skip

    text = _texts(comparisons_of(partial(5, 4.0), partial(7, 6.0), partial(11, 19.0, -60.0)))[0]
    assert "partial 7 up by 6.0 dB (5.8 to 6.2)" in text
    assert "partial 5" not in text
    # The null of a comb, 40 dB and more below the note, is nothing to open a report with.
    assert "partial 11" not in text


@pytest.mark.parametrize("word", ["heard", "hear ", "identical", "the same sound", "proves"])
def test_no_finding_ever_claims_hearing(row, comparisons_of, word):
    rows = [
        row(), _hum(row), _no_change(row), row(voice="a", verdict="confounded"),
        _no_change(row, voice="b", verdict="undecided", ci_high=60.0),
        row(voice="c", verdict="measurable"),
    ]  # fmt: skip
    # "If heard" claims nothing.
    texts = [text.replace("if heard at your volume", "") for text in _texts(comparisons_of(*rows))]
    assert not any(word in text for text in texts)


def test_every_number_of_a_sentence_comes_from_its_rows(row, comparisons_of):
    rows = [row(), _hum(row), _no_change(row)]
    allowed = {"5.7", "5.2", "6.2", "8.0", "7.1", "8.9", "6"}
    for text in _texts(comparisons_of(*rows)):
        assert set(re.findall(r"\d+(?:\.\d+)?", text)) <= allowed


def test_a_voice_with_a_colon_in_its_name_keeps_all_of_it(row, comparisons_of):
    rows = [row(voice=f"v{n}", difference=-9.0 - 2 * n, ci_low=-9.5 - 2 * n, ci_high=-8.5 - 2 * n)
            for n in range(MOST)]  # fmt: skip
    found = find(comparisons_of(*rows, row(voice="z: a")))
    (more,) = [finding for finding in found if finding.kind == "more"]
    assert "z: a" in more.text


def test_a_finding_carries_the_rows_it_rests_on(row, comparisons_of):
    (finding,) = find(comparisons_of(row(), _hum(row)))
    assert {(one.voice, one.quantity) for one in finding.rows} == {
        ("neck-split", "level_dbfs"),
        ("neck-split", "hum_dbfs"),
    }
    assert finding.quantities == ("hum_dbfs", "level_dbfs")
    assert finding.title == "Neck (split)"


def test_dozens_of_quiet_stretches_are_no_advice(row, comparisons_of):
    hum = {"quantity": "hum_dbfs", "verdict": "undecided", "reason": "", "difference": 0.4,
           "ci_low": -1.2, "ci_high": 2.0}  # fmt: skip
    (few,) = _texts(comparisons_of(row(**hum, more_plucks=3)))
    (many,) = _texts(comparisons_of(row(**hum, more_plucks=24)))
    assert "3 more quiet stretches" in few
    assert "more quiet" not in many


def test_a_single_partial_comes_after_every_whole_quantity(row, comparisons_of):
    """It is the surest of all here, and still says less than louder or softer."""
    partial = row(
        quantity="h04_db", before_value=-8.0, after_value=-30.0, difference=-22.0, ci_low=-22.1,
        ci_high=-21.9, hearing_threshold=2.0,
    )  # fmt: skip
    whole = [
        row(quantity=name, verdict="measurable", difference=-1.4, ci_low=-1.9, ci_high=-0.9)
        for name in ("level_dbfs", "hum_dbfs", "hiss_dbfs")
    ]
    (text,) = _texts(comparisons_of(partial, *whole))
    assert "1.4 dB quieter" in text
    assert text.endswith("partial 4 changed measurably too.")


@pytest.mark.parametrize(("comparisons", "remarks"), [(2, 2), (5, 5), (8, 4), (10, 2)])
def test_changes_come_before_a_second_remark_on_what_else_moved(
    row, comparisons_of, comparisons, remarks
):
    """A place was taken out of each comparison: all changes are told first."""
    rows, causes = [], []
    for n in range(comparisons):
        name = f"a to b{n}"
        rows.append(row(comparison=name, adjusted_for=("pick-position",)))
        place = PlaceFacts(None, None)
        causes.append(
            Confound(
                name, "neck-split", "pick-position", True, 0.02, "", 0.01, 0.03, 0.001, (), place
            )
        )
    kinds = [one.kind for one in find(comparisons_of(*rows, confounds=tuple(causes)))]
    assert (kinds.count("change"), kinds.count("taken-out")) == (comparisons, remarks)
    assert len(kinds) <= MOST_OF_ALL


def test_of_hundreds_that_are_dropped_the_first_are_named_and_the_rest_counted(row, comparisons_of):
    rows = [row(voice=f"voice{n}", difference=-4.0 - 0.1 * n, ci_low=-5.0 - 0.1 * n,
                ci_high=-3.0 - 0.1 * n) for n in range(200)]  # fmt: skip
    last = _texts(comparisons_of(*rows))[-1]
    assert last.count(";") == 12
    assert re.search(r"; and 1\d\d more \(see the table\)\.$", last)
