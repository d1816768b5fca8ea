"""Two yardsticks beside the comparisons: sessions without work, and guitars nobody touched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from tonecompare.language import tr
from tonecompare.quantities.words import HEADLINE, words_for
from tonecompare.report.words.guitar_words.guitars_told import signed, times_as_far
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import (
    NOT_MEASURED,
    decimals_for,
    is_number,
    number,
    unit_word,
)


@dataclass(frozen=True)
class GuitarSpreadRow:
    """One stage and voice (or voice alone); ``cells`` follow the section's headings."""

    title: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class SpreadSection:
    """A table of one yardstick with the sentence that says what it is."""

    anchor: str
    heading: str
    sentence: str
    columns: tuple[str, ...]
    rows: tuple[GuitarSpreadRow, ...]


def spread_sections(tables: Mapping[str, pd.DataFrame]) -> tuple[SpreadSection, ...]:
    """Return the sections there is something for."""
    sections = (
        _section(
            tables.get("sessions", pd.DataFrame()),
            _drift,
            "sessions",
            tr("Recorded again without work"),
            tr(
                "What changed on an instrument between two sessions although nothing was done to "
                "it: only what goes beyond this can be put down to the work."
            ),
        ),
        _section(
            tables.get("guitars", pd.DataFrame()),
            _against_stock,
            "guitars",
            tr("Against unmodified guitars"),
            tr(
                "Distance from the mean of the unmodified guitars, and in brackets where one more "
                "unmodified guitar is expected (95 %). Guitars of one model differ before anyone "
                "touches them."
            ),
        ),
    )
    return tuple(section for section in sections if section is not None)


def _section(
    table: pd.DataFrame, cell: Any, anchor: str, heading: str, sentence: str
) -> SpreadSection | None:
    if not len(table):
        return None
    records = [
        {str(key): value for key, value in record.items()}
        for record in table.to_dict("records")
        if record["quantity"] in HEADLINE and record["unit"] != "cents"
    ]
    columns = [name for name in HEADLINE if any(row["quantity"] == name for row in records)]
    groups: dict[tuple[str, str, str], dict[str, str]] = {}
    for record in records:
        key = (str(record.get("stage", "")), str(record["voice"]), str(record["output"]))
        groups.setdefault(key, {})[str(record["quantity"])] = cell(record)
    rows = tuple(
        GuitarSpreadRow(title, tuple(cells.get(name, "–") for name in columns))
        for title, cells in zip(_titles(groups), groups.values(), strict=True)
    )
    labels = tuple(words_for(name).label for name in columns)
    return SpreadSection(anchor, heading, sentence, labels, rows) if rows else None


def _titles(keys: Iterable[tuple[str, str, str]]) -> list[str]:
    every = list(keys)
    outputs: dict[str, set[str]] = {}
    for _, voice, output in every:
        outputs.setdefault(voice, set()).add(output)
    titles = []
    for stage, voice, output in every:
        title = voice_title(voice, output=output, several_outputs=len(outputs[voice]) > 1)
        titles.append(f"{stage}: {title}" if stage else title)
    return titles


def _drift(record: dict[str, Any]) -> str:
    drift, unit = record["drift"], str(record["unit"])
    if not is_number(drift):
        return tr(NOT_MEASURED)
    shown = f"{number(drift, decimals_for(None, unit), signed=True)} {unit_word(unit)}".rstrip()
    pairs = int(record["n_pairs"])
    return f"{shown} (n = {pairs})"


def _against_stock(record: dict[str, Any]) -> str:
    values = [record[name] for name in ("difference", "expected_low", "expected_high")]
    if not all(is_number(value) for value in values):
        return tr(NOT_MEASURED)
    low, high = (float(value) for value in values[1:])
    decimals = decimals_for((high - low) / 2.0, str(record["unit"]))
    ends = tr(
        "{low} to {high}",
        low=number(low, decimals, signed=True),
        high=number(high, decimals, signed=True),
    )
    where = tr("inside")
    if record["outside"]:
        where = tr("outside, {times} times as far", times=number(times_as_far(record), 1))
    guitars = tr("n = {n} guitars", n=int(record["n_guitars"]))
    return f"{signed(record)} ({ends}): {where} ({guitars})"
