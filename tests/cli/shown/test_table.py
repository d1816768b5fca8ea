"""Aligned tables."""

from __future__ import annotations

from tonecompare.cli.shown.table import format_table, width_of


def test_numbers_right_text_left():
    text = format_table(
        ["file", "cents"], [["a.wav", "-1.5"], ["longer.wav", "12.0"]], left=["file"]
    )
    assert text == "file        cents\na.wav        -1.5\nlonger.wav   12.0"


def test_wide_letters_count_as_two_columns():
    # East Asian Width of U+9DFA is W (Unicode standard annex 11): two columns on a terminal.
    assert width_of("鷺.wav") == 6
    assert width_of("e\u0301") == 1
    lines = format_table(["file", "n"], [["鷺", "1"], ["abcd", "22"]], left=["file"]).splitlines()
    assert {width_of(line) for line in lines} == {8}


def test_no_rows_leaves_the_header():
    assert format_table(["a", "b"], []) == "a  b"


def test_a_table_wider_than_the_terminal_is_folded_with_its_first_column():
    text = format_table(
        ["Voice", "level", "hum"], [["neck", "0.5 dB", "1 dB"]], left=["Voice"], width=14
    )
    first, second = text.split("\n\n")
    assert first == "Voice   level\nneck   0.5 dB"
    assert second == "Voice   hum\nneck   1 dB"


def test_a_column_wider_than_the_terminal_stands_alone():
    text = format_table(["a", "b", "c"], [["1", "x" * 20, "3"]], width=10)
    assert [len(block.splitlines()) for block in text.split("\n\n")] == [2, 2]
