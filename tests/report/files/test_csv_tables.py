"""The CSV files."""

from __future__ import annotations

import csv
import io

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonecompare.quantities.columns import DIFFERENCES, MEASUREMENTS
from tonecompare.report.files.csv_tables import TABLES, csv_text


def _read(text):
    return list(csv.reader(io.StringIO(text)))


def test_contract_columns_come_first_then_extra():
    table = pd.DataFrame({"extra": [1], "note": ["E2"], "stage": ["s"]})
    header, row = _read(csv_text(table, MEASUREMENTS))
    assert header == [*MEASUREMENTS, "extra"]
    assert row[header.index("note")] == "E2"
    assert row[header.index("decay_s")] == ""


@pytest.mark.parametrize("value", [None, np.nan, np.inf, pd.NA, pd.NaT])
def test_unmeasured_is_empty(value):
    table = pd.DataFrame({"level_dbfs": pd.Series([value], dtype=object)})
    header, row = _read(csv_text(table, MEASUREMENTS))
    assert row[header.index("level_dbfs")] == ""


def test_numbers_keep_seven_digits_and_whole_numbers_stay_whole():
    table = pd.DataFrame({"f0_hz": [82.406889228], "pluck": [3], "onset_s": [12.0]})
    header, row = _read(csv_text(table, MEASUREMENTS))
    assert row[header.index("f0_hz")] == "82.40689"
    assert row[header.index("pluck")] == "3"
    assert row[header.index("onset_s")] == "12"


@pytest.mark.parametrize("end", ["\n", "\r", "\r\n", "\u2028"])
def test_texts_with_commas_quotes_and_line_ends_come_back_whole(end):
    name = f'a,"b"{end}=c\N{SNOWMAN}'
    text = csv_text(pd.DataFrame({"voice": [name]}), MEASUREMENTS)
    header, row = csv.reader(io.StringIO(text, newline=""))
    assert row[header.index("voice")] == name
    # A reader of whole files sees one row too, as a carriage return alone ends one outside quotes.
    assert pd.read_csv(io.StringIO(text, newline=""))["voice"].tolist() == [name]


@pytest.mark.parametrize("name", ["=1+1", "+x", "-x", "@x", "\n=x", "\r=x", "\t=x", "＝x", "＠x"])
def test_a_text_a_spreadsheet_would_run_is_marked_as_text(name):
    tables = pd.DataFrame({"voice": [name], "flags_like": [["a", name]], "first": [[name, "a"]]})
    text = csv_text(tables, MEASUREMENTS)
    header, row = csv.reader(io.StringIO(text, newline=""))
    assert row[header.index("voice")] == "'" + name
    assert row[header.index("flags_like")] == "a;'" + name
    assert row[header.index("first")] == f"'{name};a"


def test_negative_numbers_are_not_marked():
    header, row = _read(csv_text(pd.DataFrame({"difference": [-5.7]}), DIFFERENCES))
    assert row[header.index("difference")] == "-5.7"


def test_lines_end_with_a_newline_only():
    assert "\r" not in csv_text(pd.DataFrame({"voice": ["a"]}), MEASUREMENTS)


@pytest.mark.parametrize("name", TABLES)
def test_an_empty_table_still_has_its_columns(name):
    assert _read(csv_text(pd.DataFrame(), TABLES[name])) == [list(TABLES[name])]


_TEXTS = st.text(max_size=12) | st.sampled_from(["=1", "a,b", '"', "\r\n", "nan", "", "'=x", "-3"])


@pytest.mark.parametrize("count", [60, pytest.param(3000, marks=pytest.mark.long)])
def test_whatever_a_table_holds_comes_back_from_its_csv(count):
    @settings(max_examples=count, deadline=None, derandomize=True, database=None)
    @given(
        rows=st.lists(
            st.tuples(_TEXTS, st.floats(allow_nan=True), st.integers(-(10**9), 10**9)), max_size=5
        )
    )
    def holds(rows):
        columns = ("voice", "level_dbfs", "pluck")
        text = csv_text(pd.DataFrame(rows, columns=list(columns)), columns)
        assert text.encode("utf-8", "replace").decode("utf-8")
        header, *cells = csv.reader(io.StringIO(text, newline=""))
        assert header == list(columns)
        assert len(cells) == len(rows)
        for (voice, level, pluck), (name, number, count) in zip(rows, cells, strict=True):
            # The apostrophe of a spreadsheet stands before what it would run, and nowhere else.
            assert name == voice or (name == f"'{voice}" and not voice[0].isalnum())
            assert (float(number) if number else None) == (
                pytest.approx(level, rel=1e-6, abs=0.0) if np.isfinite(level) else None
            )
            assert int(count) == pluck

    holds()
