"""Aligned text tables for the terminal."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence


def width_of(text: str) -> int:
    """Return how many terminal columns a text takes: wide letters two, combining marks none."""
    return sum(
        0
        if unicodedata.combining(letter)
        else 2
        if unicodedata.east_asian_width(letter) in "WF"
        else 1
        for letter in text
    )


def format_table(
    header: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    left: Sequence[str] = (),
    keys: int = 1,
    width: int | None = None,
) -> str:
    """Return a table with aligned columns, two spaces between them.

    A table wider than ``width`` is folded: the columns that do not fit follow in tables of their
    own, each with the first ``keys`` columns again.

    Parameters
    ----------
    header
        Column names.
    rows
        Cells as text, one sequence per row, as long as ``header``.
    left
        Names of the columns to align left; the others hold numbers and are aligned right.
    keys
        How many columns say what a row is about.
    width
        Columns of the terminal; None for a table of any width.
    """
    widths = [
        max([width_of(name), *(width_of(row[column]) for row in rows)])
        for column, name in enumerate(header)
    ]

    def line(cells: Sequence[str], columns: Sequence[int]) -> str:
        padded = []
        for column in columns:
            gap = " " * (widths[column] - width_of(cells[column]))
            padded.append(cells[column] + gap if header[column] in left else gap + cells[column])
        return "  ".join(padded).rstrip()

    return "\n\n".join(
        "\n".join(line(cells, columns) for cells in (header, *rows))
        for columns in _folded(widths, keys, width)
    )


def _folded(widths: Sequence[int], keys: int, width: int | None) -> list[list[int]]:
    """Return which columns stand beside each other, at least one beside the keys."""
    head = list(range(keys))
    folds = [list(head)]
    for column in range(keys, len(widths)):
        used = sum(widths[each] + 2 for each in folds[-1]) + widths[column]
        if width is not None and used > width and len(folds[-1]) > keys:
            folds.append(list(head))
        folds[-1].append(column)
    return folds
