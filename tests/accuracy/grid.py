"""How accurate the measurements are: a grid of synthetic takes against their truth, as a table.

    python tests/accuracy/grid.py [--quick] [--seed N] [--worst]

Bars are those of the project's accuracy aims: the 95th percentile of the absolute error (the mean
for positions), at 60 and 45 dB between a note's level and the hiss; at 30 dB the stated intervals
must hold. "in 68" and "in 95" are the shares of truths inside one and 1.96 standard uncertainties.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from accuracy_bound import bound_table
from accuracy_errors import Error, errors_of
from accuracy_table import lines_of, text
from accuracy_takes import ALL_NOTES, all_takes

SNRS_DB = (60.0, 45.0, 30.0)


def run(
    *,
    per_kind: int,
    notes: Sequence[tuple[int, int]],
    seed: int,
    kinds: Sequence[str] = ("ideal", "plucked"),
    snrs_db: Sequence[float] = SNRS_DB,
    told: Callable[[str], None] = lambda _: None,
) -> list[Error]:
    """Errors of ``per_kind`` takes of each kind at each signal-to-noise ratio."""
    out: list[Error] = []
    for noisy in all_takes(kinds, per_kind, notes, seed=seed, snrs_db=snrs_db, told=told):
        with tempfile.TemporaryDirectory() as folder:
            out += errors_of(noisy, Path(folder))
    return out


def main() -> None:
    """Run the grid and print its table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true", help="a few takes instead of all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--worst", action="store_true", help="where the largest errors are")
    given = parser.parse_args()
    start = time.perf_counter()
    notes = ALL_NOTES[::2] if given.quick else ALL_NOTES
    errors = run(
        per_kind=2 if given.quick else 12, notes=notes, seed=given.seed,
        told=lambda what: print(f"\r{what}   ", end="", file=sys.stderr, flush=True),
    )  # fmt: skip
    print("", file=sys.stderr)
    lines = lines_of(errors)
    print(text(lines))
    if given.worst:
        for line in lines:
            print(f"{line.quantity} {line.snr_db:.0f} {line.worst:.3f}: {line.worst_where}")
    print()
    print(bound_table(trials=40 if given.quick else 200, seed=given.seed))
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
