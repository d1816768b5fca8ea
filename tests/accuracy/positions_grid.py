"""Picking points, pickups and coil spacings against synthetic truth, as a table.

    python tests/accuracy/positions_grid.py [--voices N] [--seed N]

N voices for each kind of pickup (single coil, humbucker, split humbucker) at each signal-to-noise
ratio, half of them open strings four times over, half six strings at three frets; pickup from 35
to 170 mm, pick from 60 to 200 mm (3 mm from pluck to pluck), circuit, coil width and spacing,
release and pick width drawn anew for each. Works on partial levels, without audio
(``tests/helpers/positions_truth.py``); ``tests/accuracy/grid.py`` has the same for whole takes.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from positions_errors import SNRS_DB, columns_of, text
from positions_truth import KINDS


def main() -> None:
    """Run the grid and print its table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--voices", type=int, default=60, help="of each kind at each ratio")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    start = time.process_time()
    rows = [
        (kind, snr_db, columns_of(kind, snr_db, voices=given.voices, seed=given.seed))
        for kind in KINDS
        for snr_db in SNRS_DB
    ]
    print(text(rows))
    print(f"{time.process_time() - start:.0f} s of CPU")


if __name__ == "__main__":
    main()
