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
    header: Sequence[str], rows: Sequence[Sequence[str]], *, left: Sequence[str] = ()
) -> str:
    """Return a table with aligned columns, two spaces between them.

    Parameters
    ----------
    header
        Column names.
    rows
        Cells as text, one sequence per row, as long as ``header``.
    left
        Names of the columns to align left; the others hold numbers and are aligned right.
    """
    widths = [
        max([width_of(name), *(width_of(row[column]) for row in rows)])
        for column, name in enumerate(header)
    ]

    def line(cells: Sequence[str]) -> str:
        padded = []
        for name, cell, width in zip(header, cells, widths, strict=True):
            gap = " " * (width - width_of(cell))
            padded.append(cell + gap if name in left else gap + cell)
        return "  ".join(padded).rstrip()

    return "\n".join(line(cells) for cells in (header, *rows))
