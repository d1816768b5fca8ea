"""Rows of ``takes.csv`` that do not fit the files any more."""

from __future__ import annotations

from collections.abc import Iterator

from tonecompare.compare.check.check_results import Checked, Fault, fault_of


def correction_faults(checked: Checked) -> Iterator[Fault]:
    """Yield rows that name a pluck their file does not have."""
    for file in checked.files:
        for name, number in file.rows_without_pluck:
            yield fault_of(
                file,
                "takes.csv",
                "doubt",
                what=f"takes.csv names pluck {number} of {name}, which does not have it.",
                why="The row does nothing; perhaps the file was recorded anew and the pluck it "
                "meant has another number now.",
                remedy="Correct the number or take the row out.",
            )
