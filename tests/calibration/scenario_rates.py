"""Does the report say what an honest expert would, scenario by scenario, from audio to sentence?

    python tests/calibration/scenario_rates.py [--sessions N] [--files F] [--seed S]
        [--only WORDS ...] [--physics modes|finite-difference] [--workers W]
        [--takes FOLDER]

Every scenario of :mod:`scenario_list` is played, rendered, written, cut, measured and compared
whole; many sessions are dealt from few files (:mod:`scenario_pool`). A session counts as

claimed
    every expected row claims a change with the sign of the truth, and every expected cause is
    found; where nothing was done, nothing is claimed;
false
    some row claims a change that is not there (other sign than the truth, or a truth of less than
    a third of what is claimed), or a cause is found that would be wrong;
swallowed
    some expected row claims nothing: it stays undecided, is put down to something else than the
    work, or is called no change.

Beside it stands how often an oracle finds it that knows every pluck (:mod:`scenario_oracle`), and
the first three findings of the first session. With ``--physics finite-difference`` strings are
stepped by :mod:`finite_difference_string`, which shares nothing with the model that is fitted.
Files are dealt again and again, so the standard error of a rate is that of about as many sessions
as there are files.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import numpy as np
from scenario_finite_difference import FdRender
from scenario_list import Expected, Scenario, scenarios
from scenario_oracle import oracle_finds
from scenario_pool import Pool, Truth, measurements_of, truth_of
from scenario_takes import modes_rendered, session_of

from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.run import compare_session
from tonecompare.report.words.findings import find

#: A claim is false where the truth is less than this share of it.
_SHARE = 1.0 / 3.0
_SENTENCES = 3


@dataclass(frozen=True)
class Row:
    """One row of differences, as far as it is judged here."""

    voice: str
    note: str
    quantity: str
    verdict: str
    #: What is claimed, with other causes taken out where that was done; analysis scale.
    claimed: float

    @property
    def claims(self) -> bool:
        """Whether it claims a change by the work."""
        return self.verdict in CLAIMS


@dataclass(frozen=True)
class Said:
    """One session against its truth."""

    claimed: bool
    false: tuple[str, ...]
    swallowed: bool
    #: Verdict over the notes by expectation.
    verdicts: tuple[str, ...]
    oracle: tuple[bool, ...]
    causes: frozenset[str]
    sentences: tuple[str, ...]


def rows_said(comparisons: Comparisons) -> list[Row]:
    """Return every row of a session's differences."""
    rows = comparisons.rows
    numbers = np.where(np.isfinite(rows.adjusted), rows.adjusted, rows.difference)
    names = zip(rows.voice, rows.note, rows.column, rows.verdict, numbers, strict=True)
    return [Row(*map(str, name[:4]), float(name[4])) for name in names]


def is_false(row: Row, truth: Truth) -> bool:
    """Whether a row claims what is not so; what the truth does not hold stays unjudged."""
    if not row.claims:
        return False
    if not truth:
        return True
    true = truth.get((row.voice, row.note, row.quantity), float("nan"))
    return bool(true * row.claimed <= 0.0 or abs(true) < _SHARE * abs(row.claimed))


def verdict_on(expected: Expected, rows: Iterable[Row], truth: Truth) -> str:
    """Return "claimed" or, where no row claims rightly, the verdicts of those that might."""
    might = [
        row
        for row in rows
        if row.note == "all"
        and row.voice == expected.voice
        and any(fnmatch(row.quantity, pattern) for pattern in expected.patterns)
    ]
    if any(row.claims and not is_false(row, truth) for row in might):
        return "claimed"
    return "/".join(sorted({row.verdict for row in might})) or "missing"


def said_of(scenario: Scenario, pool: Pool, truth: Truth, rng: np.random.Generator) -> Said:
    """Deal one session, compare it and hold what is said against the truth."""
    dealt = pool.deal(scenario, rng)
    comparisons = compare_session(session_of(Path()), measurements_of(dealt))
    rows = rows_said(comparisons)
    found = [(c.kind, c.voice) for c in comparisons.confounds if c.found]
    false = [f"{row.voice} {row.quantity}" for row in rows if is_false(row, truth)]
    false += [f"cause {kind}" for kind, _ in found if kind in scenario.wrong_causes]
    verdicts = tuple(verdict_on(expected, rows, truth) for expected in scenario.expected)
    oracle = tuple(
        oracle_finds(
            dealt, one.voice, one.oracle, pickup=scenario.before.pickups[one.voice], truth=truth
        )
        for one in scenario.expected
        if one.oracle
    )
    causes = all(
        any(kind == k and (voice in ("", v) or not v) for k, v in found)
        for kind, voice in scenario.causes
    )
    silent = bool(scenario.expected) or not any(row.claims for row in rows)
    return Said(
        claimed=causes and silent and all(verdict == "claimed" for verdict in verdicts),
        false=tuple(dict.fromkeys(false)),
        swallowed=any(verdict != "claimed" for verdict in verdicts),
        verdicts=verdicts,
        oracle=oracle,
        causes=frozenset(f"{kind} {voice}".strip() for kind, voice in found),
        sentences=tuple(finding.text for finding in find(comparisons)[:_SENTENCES]),
    )


def told(scenario: Scenario, many: list[Said]) -> str:
    """Return a scenario's part of the table."""

    def share(hits: Iterable[bool]) -> str:
        return f"{100.0 * sum(hits) / len(many):.0f} %"

    oracle = share(all(said.oracle) for said in many) if many[0].oracle else "-"
    lines = [
        f"{scenario.name}",
        f"    claimed {share(s.claimed for s in many)}, "
        f"false {share(bool(s.false) for s in many)}, "
        f"swallowed {share(s.swallowed for s in many)}; oracle {oracle}",
    ]
    for i, expected in enumerate(scenario.expected):
        lines.append(f"    {expected.words}: {_most(((s.verdicts[i],) for s in many), len(many))}")
    lines.append(f"    causes found: {_most((s.causes for s in many), len(many))}")
    if any(said.false for said in many):
        lines.append(f"    false: {_most((s.false for s in many), len(many))}")
    lines += [f"    {i}. {text}" for i, text in enumerate(many[0].sentences, start=1)]
    return "\n".join(lines)


def _most(names: Iterable[Iterable[str]], total: int) -> str:
    counts = Counter(name for of_one in names for name in of_one).most_common(6)
    return ", ".join(f"{name} {100.0 * count / total:.0f} %" for name, count in counts) or "none"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sessions", type=int, default=100, help="sessions of each scenario")
    parser.add_argument("--files", type=int, default=8, help="rendered files of each voice")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", default=[""], help="names that hold one of these")
    parser.add_argument("--physics", choices=("modes", "finite-difference"), default="modes")
    parser.add_argument("--workers", type=int, default=1, help="files rendered at a time")
    parser.add_argument("--takes", help="folder to keep files and motions in, for another run")
    given = parser.parse_args()
    with TemporaryDirectory() as scratch:
        takes = Path(given.takes or scratch) / given.physics
        takes.mkdir(parents=True, exist_ok=True)
        stepped = FdRender(takes, given.files)
        render = modes_rendered if given.physics == "modes" else stepped
        print_table(Pool(given.files, given.seed, takes, render, given.workers), given)


def print_table(pool: Pool, given: argparse.Namespace) -> None:
    """Deal, compare and print every chosen scenario."""
    exact = Pool(1, given.seed, pool.takes, pool.render)
    chosen = [one for one in scenarios() if any(words in one.name for words in given.only)]
    print(
        f"{given.sessions} sessions a scenario from {given.files} files a voice, "
        f"seed {given.seed}, {given.physics}"
    )
    started = time.monotonic()
    for index, scenario in enumerate(chosen):
        truth = truth_of(scenario, exact)
        rng = np.random.default_rng([given.seed, index])
        many = [said_of(scenario, pool, truth, rng) for _ in range(given.sessions)]
        print(told(scenario, many), flush=True)
        later = [one for other in chosen[index + 1 :] for one in (other.before, other.after)]
        for condition in (scenario.before, scenario.after):
            if condition not in later:
                pool.forget(condition)
    print(f"({time.monotonic() - started:.0f} s)")


if __name__ == "__main__":
    main()
