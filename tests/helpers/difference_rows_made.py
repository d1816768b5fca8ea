"""Rows of differences made by hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tonecompare.compare.difference.difference_rows import DifferenceRows, make_rows, text
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.quantities.compared import quantity_of


def made_rows(
    differences: Mapping[str, float],
    *,
    voice: str = "bridge",
    output: str = "magnetic",
    note: str = "all",
    verdict: str = "measurable",
    se: float = 0.1,
) -> DifferenceRows:
    """Rows of one voice from {column: difference on its analysis scale}, with 5 df."""
    values = np.array(list(differences.values()))
    count = values.size
    rows = make_rows(
        "a to b",
        voice,
        output,
        text(note, count),
        [quantity_of(column) for column in differences],
        means=(np.zeros(count), values),
        counts=(np.full(count, 30.0), np.full(count, 30.0), np.full(count, 6.0)),
        estimate=Estimate(values, np.full(count, se), np.full(count, 5.0)),
        repeat_variance=np.full(count, se**2),
        unjudged=text("", count),
    )
    return replace(
        rows, before=text("a", count), after=text("b", count), verdict=text(verdict, count)
    )
