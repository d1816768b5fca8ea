"""Reports of riffs in which nothing changed: ``python tests/calibration/riff_tables.py``.

Hundreds in a minute, where :mod:`riff_rates` plays a few. Four repeats before and four after vary
as riffs of the string model do: loudness by 0.42 and 0.8 dB (hands of 0.3 and 0.7 dB with their
notes and picking places), brightness by 1.2 %, the bands' shares by 0.1 to 1 dB, in part all
together as another picking place moves them. Printed is how many reports claim something.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd
from verdict_rates import CLAIMS, Rate

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))
from compare_frames import measurements, plucks, session

from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.session.model import ComparisonSpec

SCATTERS_DB = (0.42, 0.8)
_SHAPES_DB = (0.5, 0.4, 0.3, 0.12, 0.25, 0.3, 0.6, 1.0)
_CENTROID, _REPEATS = 0.012, 4


def claims_of_nothing(rng: np.random.Generator, scatter_db: float) -> bool:
    """Whether a report of two stages played alike claims a difference."""
    of = session("before", "after", comparisons=[ComparisonSpec("before", "after")])
    both = measurements(*(_stage(rng, name, scatter_db) for name in ("before", "after")))
    rows = to_frame(judge_session(of, both).rows)
    return bool(((rows["note"] == "all") & rows["verdict"].isin(CLAIMS)).any())


def _stage(rng: np.random.Generator, name: str, scatter_db: float) -> pd.DataFrame:
    loud, place = rng.normal(0.0, scatter_db, _REPEATS), rng.normal(0.0, 1.0, _REPEATS)
    values = {
        "level_dbfs": -20.0 + loud,
        "centroid_hz": 900.0 * np.exp(_CENTROID * rng.normal(0.0, 1.0, _REPEATS)),
    }
    bands = zip(BAND_LEVELS, BAND_SHAPES, _SHAPES_DB, strict=True)
    for number, (level, shape, spread_db) in enumerate(bands):
        tilted = place if number > 3 else -place
        own = spread_db * np.sqrt(0.5) * (tilted + rng.normal(0.0, 1.0, _REPEATS))
        values |= {shape: -10.0 + own, level: -30.0 + loud + own}
    return plucks(name, {column: {"riff": list(row)} for column, row in values.items()})


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--trials", type=int, default=400)
    parser.add_argument("--seed", type=int, default=20)
    chosen = parser.parse_args()
    for scatter_db in SCATTERS_DB:
        rng = np.random.default_rng(chosen.seed)
        hits = sum(claims_of_nothing(rng, scatter_db) for _ in range(chosen.trials))
        print(f"{scatter_db:.2f} dB: {hits} of {chosen.trials}: {Rate(hits, chosen.trials)}")


if __name__ == "__main__":
    main()
