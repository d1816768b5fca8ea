"""Every column of every CSV file has an entry in the registry, and every entry a column."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tonecompare.compare.causes.repeat_drift import DRIFT
from tonecompare.compare.model import VERDICTS as JUDGED
from tonecompare.compare.side_by_side.stage_voices import COLUMNS as SIDE_BY_SIDE
from tonecompare.quantities.columns import BLEND, DIFFERENCES, MEASUREMENTS, QUIET, VOICES
from tonecompare.quantities.meanings import MEANINGS, TABLES, Meaning, is_error, meaning_of
from tonecompare.quantities.terms import VERDICTS
from tonecompare.report.page.guitars.worth_section import WORTH_COLUMNS
from tonecompare.report.page.layout import page_html
from tonecompare.report.page.view import PageView

DEMO = Path(__file__).resolve().parents[2] / "reports" / "demo"
CONTRACT = {
    "measurements": MEASUREMENTS,
    "quiet": QUIET,
    "differences": DIFFERENCES,
    "blend": BLEND,
    "voices": VOICES,
    "worth": WORTH_COLUMNS,
    "drift": DRIFT,
    "side_by_side": SIDE_BY_SIDE,
}


def head(table: str) -> tuple[str, ...]:
    """Return the columns of a table: those promised and those the demo report has."""
    file = DEMO / f"{table}.csv"
    written: list[str] = []
    if file.exists():
        with file.open(encoding="utf-8", newline="") as lines:
            written = next(csv.reader(lines))
    return tuple(dict.fromkeys((*CONTRACT[table], *written)))


def without_entry(table: str, columns: tuple[str, ...]) -> list[str]:
    """Return the columns that no entry of this table names."""
    entries = {column: meaning_of(column) for column in columns}
    return [
        column for column, entry in entries.items() if entry is None or table not in entry.tables
    ]


@pytest.mark.parametrize("table", TABLES)
def test_every_column_has_an_entry(table: str) -> None:
    assert without_entry(table, head(table)) == []


def test_a_column_without_entry_is_seen() -> None:
    assert without_entry("quiet", ("hum_dbfs", "flatness", "level_dbfs")) == [
        "flatness",
        "level_dbfs",
    ]


@pytest.mark.parametrize("meaning", MEANINGS, ids=lambda meaning: meaning.title)
def test_every_entry_has_its_columns(meaning: Meaning) -> None:
    for table in meaning.tables:
        assert set(meaning.columns) <= set(head(table)), table


def test_no_column_has_two_entries() -> None:
    columns = [column for meaning in MEANINGS for column in meaning.columns]
    assert len(columns) == len(set(columns))
    assert not [column for column in columns if is_error(column)]


def test_every_verdict_is_explained() -> None:
    assert tuple(VERDICTS) == JUDGED


def test_the_page_has_the_glossary() -> None:
    nothing: tuple[()] = ()
    view = PageView(
        title="Heron", findings=nothing, comparisons=nothing, quiet=nothing,
        quiet_headings=nothing, spreads=nothing, signs=nothing, pickups=nothing, blend=None,
        worth=None, left_out=nothing, problems=nothing, thresholds=nothing, inputs=nothing,
        settings=nothing, versions=nothing,
    )  # fmt: skip
    page = page_html(view)
    for meaning in MEANINGS:
        assert f"<dt>{meaning.title}</dt>" in page, meaning.title
