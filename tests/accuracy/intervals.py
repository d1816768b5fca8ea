"""Do the stated uncertainties hold? Every quantity of synthetic takes against its truth.

    python tests/accuracy/intervals.py [--quick] [--each] [--worst] [--seed N]

For each quantity, kind of take and signal-to-noise ratio: how many were measured, the share of
truths inside one and 1.96 stated standard uncertainties with its binomial standard error (0.68 and
0.95 are due; "!" marks a share too low by more than two standard errors), and the root mean square
of error over uncertainty (1 is due; much less: stated too wide). Where the truths come from stands
in tests/helpers/coverage_plucks.py and coverage_quiets.py. The default seed is used by no grid or
test that anything was developed on.
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

from accuracy_errors import Error
from accuracy_takes import ALL_NOTES, all_takes
from coverage_plucks import take_errors
from coverage_quiets import quiet_errors
from coverage_table import shares_of, text

SNRS_DB = (60.0, 45.0, 30.0)
SEED = 20477


def run(
    *,
    per_kind: int,
    notes: Sequence[tuple[int, int]],
    quiets: int,
    seed: int,
    told: Callable[[str], None] = lambda _: None,
) -> list[Error]:
    """Errors of ``per_kind`` takes of each kind and ``quiets`` stretches at each ratio."""
    out: list[Error] = []
    kinds = ("ideal", "plucked")
    for noisy in all_takes(kinds, per_kind, notes, seed=seed, snrs_db=SNRS_DB, told=told):
        with tempfile.TemporaryDirectory() as folder:
            out += take_errors(noisy, Path(folder))
    for snr_db in SNRS_DB:
        out += quiet_errors(snr_db, trials=quiets, seed=seed)
    return out


def main() -> None:
    """Run the audit and print its table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true", help="a few takes instead of all")
    parser.add_argument("--each", action="store_true", help="numbered columns one by one")
    parser.add_argument("--worst", action="store_true", help="where the worst cases are")
    parser.add_argument("--seed", type=int, default=SEED)
    given = parser.parse_args()
    start = time.perf_counter()
    errors = run(
        per_kind=2 if given.quick else 12, notes=ALL_NOTES[::2] if given.quick else ALL_NOTES,
        quiets=60 if given.quick else 400, seed=given.seed,
        told=lambda what: print(f"\r{what}   ", end="", file=sys.stderr, flush=True),
    )  # fmt: skip
    print("", file=sys.stderr)
    shares = shares_of(errors, each=given.each)
    print(text(shares))
    if given.worst:
        for share in shares:
            print(f"{share.quantity} {share.kind} {share.snr_db:.0f} dB: {share.worst}")
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
