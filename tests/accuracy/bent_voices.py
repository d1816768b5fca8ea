"""Places and inharmonicity of pickups that bend, against synthetic truth, as a table.

    python tests/accuracy/bent_voices.py [--voices N] [--first N]

Whole takes with a distance law between string and pole (``tests/helpers/bent_voices_truth.py``);
``tests/accuracy/positions_grid.py`` has straight pickups.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from bent_voices_truth import bent_columns
from positions_errors import text


def main() -> None:
    """Measure the voices and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--voices", type=int, default=36)
    parser.add_argument("--first", type=int, default=0, help="seed of the first")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        voices = range(given.first, given.first + given.voices)
        print(text([("bent", 60.0, bent_columns(voices, Path(folder)))]))


if __name__ == "__main__":
    main()
