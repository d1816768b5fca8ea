"""How many cells of a report's tables change when every measured number moves in its last digits?

``python tests/helpers/last_digits.py recordings_demo`` measures a session, moves every number and
curve by 1e-12 of itself, as another processor or library may, compares anew, and counts the cells
of the CSV tables that come out with other digits, by table and column.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections import Counter
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from tonecompare.compare import compare_session
from tonecompare.compare.planned import with_voice_pairs
from tonecompare.compare.side_by_side.stage_voices import COLUMNS, side_by_side_table
from tonecompare.measure import measure_session
from tonecompare.measure.model import Measurements
from tonecompare.quantities.columns import BLEND, DIFFERENCES, MEASUREMENTS, QUIET, VOICES
from tonecompare.report.files.csv_tables import csv_text
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session import load_session
from tonecompare.session.model import Session

SHARE = 1e-12
#: Columns that end at the sixth decimal, whatever their size (the CSV files' own rule, said there).
_CANCELLED = re.compile(r"(raw_|control_)?(difference|ci_low|ci_high)(_adjusted)?")


def moved(value: Any, rng: np.random.Generator, share: float = SHARE) -> Any:
    """Return the same with every floating-point number in it moved by about a share of itself."""
    if isinstance(value, float):
        return value * (1.0 + share * rng.standard_normal())
    if isinstance(value, np.ndarray):
        floats = value.dtype.kind == "f"
        return value * (1.0 + share * rng.standard_normal(value.shape)) if floats else value
    if isinstance(value, pd.DataFrame):
        floats = value.select_dtypes("float64").columns
        return value.assign(
            **{name: moved(value[name].to_numpy(), rng, share) for name in floats}
        ).copy()
    if isinstance(value, Mapping):
        return {key: moved(each, rng, share) for key, each in value.items()}
    if isinstance(value, tuple) and not hasattr(value, "_fields"):
        return tuple(moved(each, rng, share) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        told = {each.name: getattr(value, each.name) for each in fields(value) if each.init}
        return replace(value, **{name: moved(each, rng, share) for name, each in told.items()})
    return value


def tables(session: Session, measurements: Measurements) -> dict[str, list[list[str]]]:
    """Return the cells of the CSV tables of a session's report by table."""
    comparisons = compare_session(with_voice_pairs(session, measurements), measurements)
    frames = {
        "measurements": (measurements.plucks, MEASUREMENTS),
        "quiet": (measurements.quiet, QUIET),
        "voices": (measurements.voices, VOICES),
        "blend": (measurements.blend, BLEND),
        "differences": (told_differences(comparisons), DIFFERENCES),
        "side_by_side": (side_by_side_table(comparisons.voices), COLUMNS),
    }
    return {
        name: list(csv.reader(io.StringIO(csv_text(frame, columns), newline="")))
        for name, (frame, columns) in frames.items()
    }


def changed_cells(
    one: Mapping[str, list[list[str]]], other: Mapping[str, list[list[str]]]
) -> tuple[Counter[tuple[str, str]], int, float]:
    """Return how often each column changed, how many numbers there are, and the largest change.

    The largest change is in units of the last digit that is written.
    """
    changed: Counter[tuple[str, str]] = Counter()
    numbers, largest = 0, 0.0
    for name, rows in one.items():
        assert len(rows) == len(other[name])
        for row, again in zip(rows[1:], other[name][1:], strict=True):
            for column, cell, then in zip(rows[0], row, again, strict=True):
                numbers += bool(cell) and cell.lstrip("-")[:1].isdigit()
                if cell != then:
                    changed[name, column] += 1
                    largest = max(largest, _steps(cell, then, column))
    return changed, numbers, largest


def _steps(cell: str, then: str, column: str) -> float:
    try:
        a, b = float(cell), float(then)
    except ValueError:
        return float("inf")
    size = max(abs(a), abs(b))
    if not size:
        return 0.0
    seventh = 10.0 ** (np.floor(np.log10(size)) - 6)
    step = max(seventh, 1e-6) if _CANCELLED.fullmatch(column) else seventh
    return abs(a - b) / step


def main(folder: Path, runs: int = 3) -> int:
    """Print what changed; return how many cells changed by more than a step of the last digit."""
    session = load_session(folder)
    measurements = measure_session(session, workers=1)
    before = tables(session, measurements)
    far = 0
    for seed in range(runs):
        after = tables(session, moved(measurements, np.random.default_rng(seed)))
        changed, numbers, largest = changed_cells(before, after)
        total = sum(changed.values())
        print(f"seed {seed}: {total} of {numbers} cells changed, by {largest:.3g} steps at most")
        for (name, column), times in changed.most_common(12):
            print(f"{times:6d}  {name}.csv {column}")
        far += largest > 1.5
    return far


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])) > 0)
