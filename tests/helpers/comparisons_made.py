"""Comparisons whose table of differences is given as people read it."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_rows import DifferenceRows, no_rows


@dataclass(frozen=True, eq=False)
class TableGiven(Comparisons):
    """Comparisons of a story whose numbers were invented in the units of the page."""

    rows: DifferenceRows = field(default_factory=no_rows)
    differences: pd.DataFrame = field(default_factory=pd.DataFrame)
