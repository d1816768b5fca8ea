"""Rows of ``takes.csv`` that do not fit the files any more."""

from __future__ import annotations

from collections.abc import Iterator

from tonecompare.compare.check.check_results import Checked, Fault, fault_of


def correction_faults(checked: Checked) -> Iterator[Fault]:
    """Yield rows that name a pluck their file does not have."""
    for file in checked.files:
        for name, number in file.rows_without_pluck:
            # Data: the file as the row names it, the pluck.
            yield fault_of(file, "takes.csv", "doubt", (name, number))
