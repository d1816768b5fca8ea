r"""The CSV files: columns of the contract first, then extra columns, empty where unmeasured.

UTF-8, ``\n`` line ends, comma separated, quoted only where needed, so that the same tables give the
same bytes. Numbers have seven significant digits; differences and the ends of their intervals, in
which large numbers cancel, end at the sixth decimal of their unit as well, and probabilities have
four digits: what another processor changes lies behind that. Texts stand as they are: a
spreadsheet may take a text that begins with ``=``, ``+``, ``-`` or ``@`` for a formula, so file and
voice names that begin so get a leading apostrophe, the spreadsheet's own mark for "this is text",
and so does each part of a list. Texts with a line end of any kind are quoted, so that none begins a
row.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Mapping, Sequence
from types import SimpleNamespace
from typing import Any

import pandas as pd

from tonecompare.measure.flags import with_flags_as_text
from tonecompare.quantities.columns import BLEND, DIFFERENCES, MEASUREMENTS, QUIET, VOICES

#: File name -> columns of the contract.
TABLES: Mapping[str, Sequence[str]] = {
    "measurements.csv": MEASUREMENTS,
    "quiet.csv": QUIET,
    "differences.csv": DIFFERENCES,
    "blend.csv": BLEND,
    "voices.csv": VOICES,
}
_DIGITS, _DIGITS_OF_P, _DECIMALS = 7, 4, 6
#: What is the difference of numbers that may be much larger.
_CANCELLED = re.compile(r"(raw_|control_)?(difference|ci_low|ci_high)(_adjusted)?")
_FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def csv_text(table: pd.DataFrame, columns: Sequence[str]) -> str:
    """Return a table as the text of its CSV file.

    Parameters
    ----------
    table
        Any order of columns; missing columns of the contract come out empty.
    columns
        The columns of the contract, written first and in this order.
    """
    table = with_flags_as_text(table)
    extra = [str(name) for name in table.columns if name not in columns]
    ordered = table.reindex(columns=[*columns, *extra])
    names = [*columns, *extra]
    cells = [_cells(ordered[name].tolist(), name) for name in names]
    lines: list[str] = []
    # Only with both line ends as its own the writer quotes both.
    writer = csv.writer(SimpleNamespace(write=lines.append), lineterminator="\r\n")
    writer.writerows([names, *zip(*cells, strict=True)])
    return "".join(line[:-2] + "\n" for line in lines)


def _cells(values: Sequence[Any], column: str) -> list[str]:
    """Return the texts of one column."""
    number = _format_of(column)
    return [number(each) if type(each) is float else _cell(each, number) for each in values]


def _cell(value: Any, number: Callable[[float], str]) -> str:
    if value is None or value is pd.NaT or value is pd.NA:
        return ""
    if isinstance(value, bool):
        return "1" if value else "0"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return number(value)
    if isinstance(value, (list, tuple, set, frozenset)):
        return ";".join(_text(part) for part in value)
    return _text(value)


def _text(value: Any) -> str:
    text = str(value)
    return "'" + text if text.startswith(_FORMULA_MARKS) else text


def _format_of(column: str) -> Callable[[float], str]:
    """Return what writes the numbers of a column."""
    if column.startswith("p_"):
        return lambda value: f"{value:.{_DIGITS_OF_P}g}" if math.isfinite(value) else ""
    if _CANCELLED.fullmatch(column):
        return lambda value: _float(round(value, _DECIMALS) + 0.0)
    return _float


def _float(value: float) -> str:
    if not math.isfinite(value):
        return ""
    if value.is_integer() and abs(value) < 10**_DIGITS:
        return str(int(value))
    return f"{value:.{_DIGITS}g}"
