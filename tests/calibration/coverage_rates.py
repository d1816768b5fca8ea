"""How often do the report's 95 % intervals hold the truth, over sessions that share nothing?

    python tests/calibration/coverage_rates.py [--sessions N] [--seed S] [--kept FILE]
        [--physics modes|finite-difference] [--takes FOLDER]

Every session has files of its own, two voices before and after, played by a hand of ±4 mm: one
with nothing done, where every true difference is 0, and one with other pickups, where the truth is
the same work played by a machine (:func:`scenario_pool.truth_of`). A line per session is added to
``--kept`` as soon as it is known, so that a run that was stopped goes on from there. The counting
error is that of as many sessions as there are, taken whole. Shapes of the eight bands are read side
by side and have intervals that hold together: they count as one, held where all of them do.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import numpy as np
from scenario_finite_difference import FdRender
from scenario_list import Scenario, scenarios
from scenario_pool import Pool, Truth, measurements_of, truth_of
from scenario_takes import STAGES, Render, measured_file, modes_rendered, session_of

from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.run import compare_session

NAMES = ("nothing done, hand ±4 mm", "other pickups, the same strings")
#: What players hear of first, by the beginning of the column's name.
LEADING = (
    "level_dbfs", "band_", "shape_", "centroid_hz", "resonance_hz", "decay_s", "hum_dbfs",
    "hiss_dbfs", "signal_to_hum_db",
)  # fmt: skip
#: Their intervals hold together.
TOGETHER = "shape_"
#: Files that are stepped at once by finite differences; motions of more would fill the disk.
_STEPPED = 4


def leading(column: str) -> str:
    """Return which of the leading quantities a column is one of, "" for others."""
    return next((name for name in LEADING if column.startswith(name)), "")


def holds(rows: DifferenceRows, truth: Truth) -> dict[str, list[bool]]:
    """Return by leading quantity whether the interval of each row over the notes has the truth.

    Rows with other causes taken out are taken as that; a truth that is not known is left out, and
    where ``truth`` is empty it is 0.
    """
    low, high = rows.ends
    adjusted = np.isfinite(rows.adjusted)
    low = np.where(adjusted, rows.adjusted_low, low)
    high = np.where(adjusted, rows.adjusted_high, high)
    found: dict[str, list[bool]] = defaultdict(list)
    for at in np.flatnonzero(rows.note == ALL_NOTES):
        name = leading(rows.column[at])
        key = (rows.voice[at], ALL_NOTES, rows.column[at])
        true = truth.get(key, float("nan")) if truth else 0.0
        if name and np.isfinite(low[at]) and np.isfinite(true):
            of = f"{name} {rows.voice[at]}" if name == TOGETHER else name
            found[of].append(bool(low[at] <= true <= high[at]))
    together = [all(held) for name, held in found.items() if name.startswith(TOGETHER)]
    alone = {name: held for name, held in found.items() if not name.startswith(TOGETHER)}
    return alone | ({TOGETHER: together} if together else {})


def session_holds(
    scenario: Scenario, truth: Truth, render: Render, number: tuple[int, int], takes: Path
) -> dict[str, list[bool]]:
    """Play, measure and compare one session whose files nobody else has."""
    seed, n = number
    dealt = {
        (stage, voice): measured_file(render, condition, voice, (seed, 2 * n + after), takes)
        for after, (stage, condition) in enumerate(
            zip(STAGES, (scenario.before, scenario.after), strict=True)
        )
        for voice in scenario.voices
    }
    rows = compare_session(session_of(Path()), measurements_of(dealt)).rows
    return holds(rows, truth)


def told(sessions: Iterable[dict[str, list[bool]]]) -> str:
    """Return the table: shares held, with the error of as many independent sessions."""
    shares: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for session in sessions:
        for name, held in session.items():
            shares[name].append((sum(held), len(held)))
    lines = [f"{'quantity':18}{'sessions':>9}{'rows':>7}{'held':>10}"]
    for name in LEADING:
        if name not in shares:
            continue
        held, count = np.array(shares[name], dtype=float).T
        share = held.sum() / count.sum()
        # A ratio's error by sessions (Cochran 1977, 2.11): rows of a session go together.
        left = held - share * count
        error = np.sqrt(np.sum(left**2) * len(held) / max(len(held) - 1, 1)) / count.sum()
        lines.append(
            f"{name:18}{len(held):9d}{int(count.sum()):7d}{100 * share:7.1f} ± {100 * error:.1f} %"
        )
    return "\n".join(lines)


def main() -> None:
    """Play what is not kept yet and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sessions", type=int, default=100, help="sessions of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--physics", choices=("modes", "finite-difference"), default="modes")
    parser.add_argument("--takes", help="folder to keep files and motions in, for another run")
    parser.add_argument("--kept", type=Path, help="file of the sessions known so far")
    given = parser.parse_args()
    known: dict[str, dict[str, list[bool]]] = {}
    if given.kept is not None and given.kept.exists():
        for line in given.kept.read_text(encoding="utf-8").splitlines():
            known |= json.loads(line)
    named = {one.name: one for one in scenarios()}
    with TemporaryDirectory() as scratch:
        takes = Path(given.takes or scratch) / given.physics
        takes.mkdir(parents=True, exist_ok=True)
        modes = given.physics == "modes"
        render = modes_rendered if modes else FdRender(takes, _STEPPED)
        exact = Pool(1, given.seed, takes, modes_rendered if modes else FdRender(takes, 1))
        truths = {name: truth_of(named[name], exact) for name in NAMES}
        for n in range(given.sessions):
            for name in NAMES:
                key = f"{given.physics} {given.seed} {name} {n}"
                if key in known:
                    continue
                known[key] = session_holds(named[name], truths[name], render,
                                           (given.seed, n), takes)  # fmt: skip
                if given.kept is not None:
                    with given.kept.open("a", encoding="utf-8") as file:
                        file.write(json.dumps({key: known[key]}) + "\n")
            if 2 * (n + 1) % _STEPPED == 0 and not given.takes:
                for motion in takes.glob("*.npy"):
                    motion.unlink()
    for name in NAMES:
        print(f"{name}, {given.physics}, seed {given.seed}")
        start = f"{given.physics} {given.seed} {name} "
        print(told(each for key, each in known.items() if key.startswith(start)))


if __name__ == "__main__":
    main()
