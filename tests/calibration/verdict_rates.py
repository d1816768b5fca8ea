"""Calibrate the verdicts on simulated sessions: false claims, detection, coverage.

``python tests/calibration/verdict_rates.py`` prints the table. Sessions are simulated as tables
(:mod:`simulated_tables`) and go through everything but the tests for confounds, which
can only take claims away and have their own error rates.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from simulated_tables import SHAPES, Scatter, simulated_session

from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session

#: Claims about the work.
CLAIMS = ("likely-audible", "measurable")

#: What the work changes in the detection runs, on the analysis scale, and in words.
EFFECTS: Mapping[str, tuple[float, str]] = {
    "level_dbfs": (1.0, "1 dB level"),
    "centroid_hz": (float(np.log(1.05)), "5 % centroid"),
    "h02_db": (1.5, "1.5 dB of partial 2"),
    "h05_db": (1.5, "1.5 dB of partial 5"),
    "decay_s": (float(np.log(0.75)), "25 % shorter decay"),
    "hum_dbfs": (3.0, "3 dB hum"),
}


@dataclass(frozen=True)
class Rate:
    """A share of trials, with the standard error of a binomial share."""

    hits: int
    trials: int

    @property
    def share(self) -> float:
        """Hits over trials."""
        return self.hits / self.trials

    @property
    def se(self) -> float:
        """Standard error, at least that of one hit."""
        share = min(max(self.share, 1.0 / self.trials), 1.0 - 1.0 / self.trials)
        return float(np.sqrt(share * (1.0 - share) / self.trials))

    def __str__(self) -> str:
        return f"{100.0 * self.share:.1f} % (±{100.0 * self.se:.1f})"


def false_claims(rng: np.random.Generator, scatter: Scatter, *, sessions: int) -> Rate:
    """Return the share of sessions without any change in which some row claims one."""
    hits = 0
    for _ in range(sessions):
        table = to_frame(judge_session(*simulated_session(rng, scatter)).rows)
        hits += bool(table["verdict"].isin(CLAIMS).any())
    return Rate(hits, sessions)


def detections(rng: np.random.Generator, scatter: Scatter, *, sessions: int) -> dict[str, Rate]:
    """Return, for each effect alone, the share of voices in which its row claims it."""
    rates = {}
    for column, (size, _) in EFFECTS.items():
        hits = 0
        for _ in range(sessions):
            session = simulated_session(rng, scatter, effects={column: size})
            rows = _main_rows(to_frame(judge_session(*session).rows))
            hits += int(rows.loc[rows["quantity"] == column, "verdict"].isin(CLAIMS).sum())
        rates[column] = Rate(hits, sessions * len(scatter.voices))
    return rates


def coverage(rng: np.random.Generator, scatter: Scatter, *, sessions: int) -> Rate:
    """Return the share of 95 % intervals over the notes that hold the true difference, 0.

    Quantities of one pluck hang together, so the standard error of this rate is a lower bound.
    """
    hits, trials = 0, 0
    for _ in range(sessions):
        rows = _main_rows(to_frame(judge_session(*simulated_session(rng, scatter)).rows))
        rows = rows[rows["n_notes"] > 0]
        hits += int(((rows["ci_low"] <= 0.0) & (rows["ci_high"] >= 0.0)).sum())
        trials += len(rows)
    return Rate(hits, trials)


def _main_rows(table: pd.DataFrame) -> pd.DataFrame:
    twin = (table["quantity"] == "centroid_hz") & (table["unit"] == "cents")
    return table[(table["note"] == "all") & ~twin]


def calibrate(*, sessions: int, seed: int) -> str:
    """Run everything and return the printed table.

    Parameters
    ----------
    sessions
        Sessions for each false-claim rate; a fifth of it for each detection and coverage.
    seed
        Seed of all randomness.
    """
    rng = np.random.default_rng(seed)
    part = max(sessions // 5, 1)
    lines = [f"Simulated sessions, seed {seed}; 6 strings, 5 plucks, 3 voices unless named.", ""]
    lines.append("Sessions without a change in which anything is claimed (permitted: 5 %)")
    for shape in SHAPES:
        rate = false_claims(rng, Scatter(shape=shape), sessions=sessions)
        lines.append(f"  {shape:<36}{rate}")
    rate = false_claims(rng, Scatter(voices=("bridge",)), sessions=sessions)
    lines.append(f"  {'normal, one voice':<36}{rate}")
    lines += ["", "Found by the row over the notes (asked for: 90 %)"]
    for voices in (("bridge",), ("bridge", "middle", "neck")):
        scatter = Scatter(voices=voices)
        for column, found in detections(rng, scatter, sessions=part).items():
            name = f"{EFFECTS[column][1]}, {len(voices)} voice{'s' * (len(voices) > 1)}"
            lines.append(f"  {name:<36}{found}")
    lines += ["", "95 % intervals over the notes that hold the truth"]
    for shape in SHAPES:
        for repeats in (3, 5, 10):
            scatter = replace(Scatter(shape=shape), repeats=repeats)
            covered = coverage(rng, scatter, sessions=part)
            lines.append(f"  {f'{shape}, {repeats} plucks':<36}{covered}")
    return "\n".join(lines)


def main() -> None:
    """Print the calibration table."""
    parser = argparse.ArgumentParser(description=calibrate.__doc__)
    parser.add_argument("--sessions", type=int, default=1000, help="sessions a false-claim rate")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    print(calibrate(sessions=chosen.sessions, seed=chosen.seed))


if __name__ == "__main__":
    main()
