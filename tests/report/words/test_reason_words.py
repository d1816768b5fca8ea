"""Reasons in words."""

from __future__ import annotations

import pytest
from compare_frames import STRINGS, measurements, plucks, session

from tonecompare.compare import compare_session
from tonecompare.language import in_language
from tonecompare.report.words.finding_words.left_open import UNDECIDED, Case, threshold_words
from tonecompare.report.words.findings import find
from tonecompare.report.words.numbers import difference
from tonecompare.report.words.reason_words import told_differences, wording
from tonecompare.report.words.standing_texts import NEVER_BY_CHORD, NEVER_BY_RIFF
from tonecompare.session.model import ComparisonSpec


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
    ("low", "high", "unit", "words"),
    [
        (-3.93, 0.048, "dB", "−3.9 to 0.0 dB"),
        (0.43, 2.04, "dB", "+0.4 to +2.0 dB"),
        (-0.0031, 0.0029, "dB/octave", "−0.003 to +0.003 dB/octave"),
        (-12.3, 4.2, "%", "−12 to +4 %"),
    ],
)
def test_an_interval_has_the_digits_of_its_row(
    low: float, high: float, unit: str, words: str
) -> None:
    assert words in UNDECIDED["nothing-settles"](Case(), low, high, unit)
    said = difference((low + high) / 2.0, low, high, unit)
    assert words.removesuffix(unit).strip() in said


def test_threshold_words() -> None:
    assert threshold_words(1.0, 1.0, "dB") == "1 dB"
    assert threshold_words(25.0, 40.0, "%") == "−25 to +40 %"


def _played(*notes: str):
    values = {"before": (-21.0, -20.0, -19.4, -19.0), "after": (-20.6, -19.3, -18.2, -18.0)}
    frames = [
        plucks(side, {"level_dbfs": {note: [k * v for v in of] for k, note in enumerate(notes, 1)}})
        for side, of in values.items()
    ]
    known = session("before", "after", comparisons=[ComparisonSpec("before", "after")])
    return compare_session(known, measurements(*frames))


@pytest.mark.parametrize("notes", [("riff",), ("Em chord", "G chord", "A chord")])
def test_nothing_is_said_of_plucks_where_none_was_plucked(notes: tuple[str, ...]) -> None:
    played = _played(*notes)
    table = told_differences(played)
    assert table["played"].all()
    said = [*table["reason"], *(finding.text for finding in find(played))]
    assert not [text for text in said if "pluck" in text]
    assert any("played on each side would settle it" in text for text in said)
    (told,) = [text for text in said if "on each side; another" in text]
    assert told.endswith(NEVER_BY_RIFF if notes == ("riff",) else NEVER_BY_CHORD)


def test_where_notes_were_plucked_beside_chords_plucks_stay_plucks() -> None:
    table = told_differences(_played(*STRINGS[:3], "Em chord"))
    assert dict(zip(table["note"], table["played"], strict=True)) == {
        "all": False, "E2": False, "A2": False, "D3": False, "Em chord": True,
    }  # fmt: skip


def test_a_table_is_told_once_in_each_language():
    played = _played(*STRINGS[:3])
    told = told_differences(played)
    assert told_differences(played) is told
    with in_language("de"):
        german = told_differences(played)
    assert (german["reason"] != told["reason"]).any()
    assert told_differences(played) is told
