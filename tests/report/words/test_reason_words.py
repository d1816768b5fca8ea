"""Reasons in words."""

from __future__ import annotations

import pytest

from tonecompare.report.words.reason_words import signed, threshold_words, wording


def test_wording() -> None:
    assert wording(0.9, outside_repeatability=True) == "not expected to be audible"
    assert wording(1.5, outside_repeatability=True) == "may be audible in direct comparison"
    assert wording(2.5, outside_repeatability=True) == "likely audible"
    assert wording(2.5, outside_repeatability=False) == "may be audible in direct comparison"
    assert wording(1.2, outside_repeatability=True, likely_at=1.0) == "likely audible"


def test_nothing_here_earns_heard() -> None:
    phrases = {wording(x, outside_repeatability=y) for x in (0.5, 1.5, 9.0) for y in (True, False)}
    assert not any("heard" in phrase or phrase == "audible" for phrase in phrases)


@pytest.mark.parametrize(
    ("value", "words"),
    [(12.34, "+12"), (-3.21, "−3.2"), (0.954, "+1.0"), (-0.123, "−0.12"), (0.0, "0.000")],
)
def test_signed(value: float, words: str) -> None:
    assert signed(value) == words


def test_threshold_words() -> None:
    assert threshold_words(1.0, 1.0, "dB") == "1 dB"
    assert threshold_words(25.0, 40.0, "%") == "−25 to +40 %"
