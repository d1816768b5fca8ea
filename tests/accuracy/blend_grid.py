"""How well delay and polarity between two outputs are found on rendered takes: prints a table.

Run ``python tests/accuracy/blend_grid.py [--count N] [--seed N] [--snr DB] [--strings 654321]
[--preamp LOW HIGH]`` (about three minutes for 150 takes); tests/accuracy/test_blend.py holds a
smaller grid to the bar of 5 µs. The takes: tests/helpers/two_output_takes.py.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from two_output_takes import BANDWIDTH_HZ, PICKUPS, DelayError, delay_errors


def line(name: str, errors: list[DelayError]) -> str:
    """Return a row of the table."""
    told = [each for each in errors if np.isfinite(each.error_us)]
    off = np.array([each.error_us for each in told])
    over = np.abs(off) / np.array([each.stated_us for each in told])
    size = np.abs(off)
    wrong = sum(each.fit.polarity == -each.take.polarity for each in errors)
    open_ = sum(each.fit.polarity is None for each in errors)
    return (
        f"{name:>10} {len(errors):6d} {len(told):6d} {int((size <= 5.0).sum()):8d} "
        f"{np.percentile(size, 95):6.2f} {size.max():6.2f} {off.mean():6.2f} "
        f"{np.median([each.stated_us for each in told]):6.2f} {np.mean(over <= 1.0):7.0%} "
        f"{np.mean(over <= 1.96):7.0%} {wrong:6d} {open_:6d}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--snr", type=float, default=50.0)
    parser.add_argument("--strings", default="654321")
    parser.add_argument("--preamp", type=float, nargs=2, default=BANDWIDTH_HZ, metavar="HZ")
    given = parser.parse_args()
    errors = delay_errors(
        given.count, seed=given.seed, snr_db=given.snr, strung=tuple(map(int, given.strings)),
        bandwidth_hz=(given.preamp[0], given.preamp[1]),
    )  # fmt: skip
    print("    pickup  takes   told within_5  p95_us max_us   mean stated", end=" ")
    print("  in_sd in_2sd  wrong   open")
    for kind in PICKUPS:
        print(line(kind, [each for each in errors if each.take.pickup == kind]))
    print(line("all", errors))


if __name__ == "__main__":
    main()
