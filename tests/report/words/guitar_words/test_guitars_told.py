"""Guitars side by side in sentences: every sentence carries the numbers it is made of."""

from __future__ import annotations

from tonecompare.compare.guitars.side_by_side import GuitarGroup, VoiceBeside
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.guitar_words.guitars_told import (
    chart_title,
    group_sentences,
    outside_sentence,
)

GROUP = GuitarGroup(
    ("tern-stock", "tern-light", "tern-full"),
    (
        VoiceBeside("bridge", "tern-stock", ("tern-light", "tern-full")),
        VoiceBeside("neck", "tern-stock", ("tern-light",)),
        VoiceBeside("split", "tern-light", ("tern-full",)),
        VoiceBeside("piezo", "tern-full", ()),
    ),
    (),
)


def _row(after: str, voice: str, quantity: str, difference: float, verdict: str) -> Difference:
    return Difference(
        f"tern-stock to {after}", "tern-stock", after, voice, "magnetic", "all", quantity, "dB",
        -20.0, -20.0 + difference, difference, difference - 0.5, difference + 0.5, 18, 18, 1.0,
        verdict, "",
    )  # fmt: skip


AGAINST = {
    "tern-light": [
        _row("tern-light", "bridge", "level_dbfs", 0.1, "no-change"),
        _row("tern-light", "neck", "hum_dbfs", -6.0, "likely-audible"),
    ],
    "tern-full": [_row("tern-full", "bridge", "level_dbfs", 4.0, "likely-audible")],
}


def test_each_stage_is_told_with_its_numbers() -> None:
    light, full, *only = group_sentences(GROUP, AGAINST)
    assert light == (
        "tern-light, likely audible against tern-stock: Neck: hum down by 6.0 dB (5.5 to 6.5). "
        "Nothing likely audible on Bridge."
    )
    assert full.startswith("tern-full, likely audible against tern-stock: Bridge: 4.0 dB louder")
    assert only == [
        "Not at tern-stock, only at tern-light and tern-full: Split.",
        "Not at tern-stock, only at tern-full: Piezo.",
    ]


def test_sisters_are_called_so_and_warned_of() -> None:
    group = GuitarGroup(GROUP.stages, GROUP.voices, ("tern-light", "tern-full"))
    light, *_, warning = group_sentences(group, AGAINST)
    assert "against its sister tern-stock" in light
    assert warning.startswith("tern-light and tern-full are sisters")
    assert "differ before anyone touches them" in warning


def test_other_guitars_and_unnamed_ones_are_warned_of_too() -> None:
    group = GuitarGroup(GROUP.stages, GROUP.voices, (), strangers=("tern-full",))
    *_, warning = group_sentences(group, AGAINST)
    assert warning.startswith("tern-full is another guitar than tern-stock: two guitars differ")
    *_, warning = group_sentences(GuitarGroup(GROUP.stages, (), (), unnamed=True), AGAINST)
    assert warning.startswith("Nobody said whether these are stages of one guitar or several")


def test_the_charts_title_counts_the_voices() -> None:
    assert chart_title(GROUP, AGAINST) == (
        "Likely audible against tern-stock: tern-light on 1 of 2 voices, tern-full on 1 of 1 voice"
    )


def test_a_title_too_long_counts_each_voice_once() -> None:
    stages = ("tern-stock", *(f"tern-with-a-long-name-{n}" for n in range(4)))
    against = dict.fromkeys(stages[1:], AGAINST["tern-light"])
    title = chart_title(GuitarGroup(stages, (), ()), against)
    assert title == "Likely audible against tern-stock: 1 of 2 voices"


def _spread(difference: float, **changes: object) -> dict[str, object]:
    return {
        "stage": "tern-full", "voice": "bridge", "output": "magnetic", "quantity": "level_dbfs",
        "unit": "dB", "n_guitars": 3, "difference": difference, "expected_low": -2.5,
        "expected_high": 2.5, "outside": abs(difference) > 2.5, **changes,
    }  # fmt: skip


def test_how_far_outside() -> None:
    said = outside_sentence([_spread(4.0), _spread(1.0, stage="tern-light")], GROUP.stages)
    # 4.0 dB over an end of 2.5 dB.
    assert "tern-full Bridge, level +4.0 dB from their mean, 1.6 times as far" in said
    assert "3 unmodified guitars" in said
    assert "tern-light" not in said


def test_inside_is_said_and_no_spread_says_nothing() -> None:
    assert outside_sentence([_spread(1.0)], GROUP.stages).startswith("Nothing lies outside")
    assert outside_sentence([_spread(9.0)], ("heron-stock",)) == ""
    assert outside_sentence([], GROUP.stages) == ""
