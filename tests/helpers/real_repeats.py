"""Repeats of real recordings measured: rows by set and by note with its dynamic."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from takes_truth import load

from tonecompare.measure.take import TakeResult, measure_take

Row = dict[str, object]

#: Folder below the recordings, and what in a file name tells one repeat from the next.
SETS = {
    "green": ("two-guitars/green/ord", r"_rr\d"),
    "black": ("two-guitars/black/ord", r"_rr\d"),
    "electric": ("pickup-and-microphone/electric", r"_rr\d"),
    "bass": ("piezo-bass", r"_\d_"),
}


@cache
def measured_file(path: Path) -> TakeResult | None:
    """Return what is measured of a file, once for all tests; None where it holds no pluck."""
    takes, _ = load([path])
    return measure_take(takes[0], file=path.name) if takes and takes[0].plucks else None


def rows_of(recordings: Path, name: str) -> dict[str, list[Row]]:
    """Return the main pluck's row of every repeat, by note and dynamic."""
    folder, repeat = SETS[name]
    groups: dict[str, list[Row]] = defaultdict(list)
    for path in sorted((recordings / folder).rglob("*.flac")):
        found = measured_file(path)
        if found is None:
            continue
        groups[re.sub(repeat, "_", path.stem)].append(
            max((one.cells() for one in found.plucks), key=lambda row: float(str(row["ring_s"])))
        )
    return groups


def spreads(groups: dict[str, list[Row]], column: str, scale: Callable[[float], float]) -> list[
    float
]:  # fmt: skip
    """Standard deviation over the repeats of each group, after a change of scale."""
    out = []
    for rows in groups.values():
        values = [row[column] for row in rows]
        known = [scale(v) for v in values if isinstance(v, float)]
        if len(known) >= 3:
            out.append(float(np.std(known, ddof=1)))
    return out
