"""``tonecompare explain``: every word it lists is explained, and near misses are named."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from tonecompare.cli import main
from tonecompare.language import ENGLISH, language
from tonecompare.quantities.meanings import MEANINGS
from tonecompare.quantities.terms import VERDICTS, WORDS
from tonecompare.report.words.cause_words.cause_terms import CAUSES


def explain(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["explain", *words])
    return result.exit_code, result.output


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("decay_s", "faded by 60 dB"),
        ("h03_db", "Harmonic balance"),
        ("decay_h05_s", "one partial alone"),
        ("hum_04_dbfs", "One mains line alone"),
        ("level_dbfs_se", "some 68 %"),
        ("delay_se_us", "some 68 %"),
        ("ring_s", "no standard error"),
        ("Confounded", "something other than the work"),
        ("pick-position", "another place"),
        ("report", "tonecompare report --help"),
        ("level threshold", "ISO 3382-1"),
        ("partial", "from memory"),
        ("stage", "one state of work"),
        ("hearing threshold", "just-noticeable"),
        ("ring_along_db", "No longer measured."),
        ("ring_along_string", "No longer measured."),
    ],
)
def test_a_word_is_explained(word: str, said: str) -> None:
    code, text = explain(*word.split())
    assert code == 0
    assert said in " ".join(text.split())


def test_a_near_miss_is_named() -> None:
    code, text = explain("decai_s")
    assert code == 2
    assert "decay_s" in text


def test_an_error_column_of_nothing_is_refused() -> None:
    assert explain("nonsense_se")[0] == 2


def test_alone_it_lists_every_word() -> None:
    code, text = explain()
    assert code == 0
    listed = " ".join(text.split())
    for word in (*(meaning.title for meaning in MEANINGS), *VERDICTS, *CAUSES, *WORDS):
        assert word in listed, word
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("column", [name for one in MEANINGS for name in one.columns])
def test_every_column_fits_a_terminal(column: str) -> None:
    code, text = explain(column)
    assert code == 0
    assert max(map(len, text.splitlines())) <= 80


def test_a_command_leaves_the_language_as_it_was() -> None:
    said = CliRunner().invoke(main, ["explain", "centroid_hz", "--language", "de"])
    assert "Schwerpunkt des Spektrums" in said.output
    assert language() == ENGLISH


def test_no_word_is_offered_twice():
    result = CliRunner().invoke(main, ["explain", "onse"])
    assert result.exit_code == 2
    offered = result.stderr.partition("Did you mean ")[2].partition("?")[0].split(", ")
    assert "onset" in offered
    assert len(offered) == len(set(offered))
