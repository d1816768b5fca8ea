"""The report's section on two-channel voices: magnetic and piezo of the same pluck."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from tonecompare.measure.model import Measurements
from tonecompare.report.names import voice_title
from tonecompare.report.numbers import NOT_MEASURED, is_number, with_unit
from tonecompare.report.pictures import Album, Picture
from tonecompare.report.rows import ALL_NOTES


@dataclass(frozen=True)
class BlendRow:
    """One stage and two-channel voice in words."""

    stage: str
    voice: str
    cells: tuple[str, ...]
    flags: str


@dataclass(frozen=True)
class BlendSection:
    """What the section shows; ``sentences`` and ``pictures`` stand above the table."""

    headings: tuple[str, ...]
    rows: tuple[BlendRow, ...]
    sentences: tuple[str, ...] = ()
    pictures: Sequence[Picture] = ()


_HEADINGS = (
    "Delay of the piezo", "Polarity", "Coherence", "Piezo minus magnetic", "Attack, magnetic",
    "Attack, piezo", "Fuller when",
)  # fmt: skip


def blend_section(measurements: Measurements, album: Album) -> BlendSection | None:
    """Return the section, None when no recording has two outputs.

    ``album`` draws and files any charts of the section.
    """
    table = measurements.blend
    if not len(table):
        return None
    over_notes = table[table["note"] == ALL_NOTES]
    rows = over_notes if len(over_notes) else table
    return BlendSection(
        _HEADINGS,
        tuple(_row({str(k): v for k, v in record.items()}) for record in rows.to_dict("records")),
    )


def _row(record: dict[str, Any]) -> BlendRow:
    return BlendRow(
        str(record["stage"]),
        voice_title(str(record["voice"])),
        (
            _value(record, "delay_us", "µs", uncertainty="delay_se_us"),
            _word(record, "polarity", {1: "same", -1: "opposite"}, "not determinable"),
            _value(record, "coherence", ""),
            _value(record, "level_difference_db", "dB", signed=True),
            _value(record, "transient_magnetic_db", "dB"),
            _value(record, "transient_piezo_db", "dB"),
            _word(record, "fuller_polarity", {1: "as wired", -1: "one inverted"}, "no difference"),
        ),
        "" if pd.isna(record.get("flags")) else str(record.get("flags")),
    )


def _value(
    record: dict[str, Any], name: str, unit: str, *, uncertainty: str = "", signed: bool = False
) -> str:
    value = record.get(name)
    if not is_number(value):
        return NOT_MEASURED
    spread = record.get(uncertainty) if uncertainty else None
    return with_unit(
        float(value), unit, uncertainty=float(spread) if is_number(spread) else None, signed=signed
    )


def _word(record: dict[str, Any], name: str, words: dict[int, str], otherwise: str) -> str:
    value = record.get(name)
    return words.get(int(value), otherwise) if is_number(value) else otherwise
