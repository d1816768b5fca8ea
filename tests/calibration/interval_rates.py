"""How often does a stated 95 % interval hold the truth, over sessions that share nothing?

    python tests/calibration/interval_rates.py [--physics modes|finite-difference] [--seed S ...]
        [--sessions N] [--takes FOLDER] [--measure-again] [--by kind|hand|notes]

Every session is played, rendered, measured and compared for itself (:mod:`interval_sessions`)
and held against :mod:`interval_truth`.
With ``--takes`` what was measured stays, session by session, so that a run that was cut goes on
where it ended. Counted are rows over the notes as reports state them: with the gain, the glide
and the hand taken out where that was done. The standard error is that of a share of sessions;
bands of one session hang together, so theirs is worked out over sessions; "at once" counts the
sessions whose bands all hold.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import numpy as np
from interval_sessions import PHYSICS, TOGETHER, Drawn, drawn, measured
from interval_truth import ExactPlucks, truth_of
from scenario_takes import guitar, session_of

from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.run import compare_session
from tonecompare.measure.model import Measurements
from tonecompare.strings.instruments import note_name

_FAMILY = re.compile(r"^(band|shape)_\d+_db$")


@dataclass(frozen=True)
class Held:
    """One row over the notes against its truth; numbers on the analysis scale."""

    session: Drawn
    quantity: str
    truth: float
    difference: float
    low: float
    high: float
    #: From low to high of what the p-value is worked out from, halved.
    test_half: float
    claims: bool

    @property
    def holds(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low <= self.truth <= self.high

    @property
    def off(self) -> float:
        """Distance of the truth from the interval's middle, in halves of it."""
        return abs(self.truth - 0.5 * (self.low + self.high)) / self.half

    @property
    def half(self) -> float:
        """Half of the interval."""
        return 0.5 * (self.high - self.low)


def held_of(session: Drawn, measurements: Measurements, exact: ExactPlucks) -> list[Held]:
    """Compare one session and return its rows over the notes whose truth is known."""
    rows = compare_session(session_of(Path()), measurements).rows
    truth = truth_of(session, exact)
    low, high = rows.ends
    test_low, test_high = rows.interval_of(rows.test)
    taken = np.isfinite(rows.adjusted)
    difference = np.where(taken, rows.adjusted, rows.difference)
    low, high = np.where(taken, rows.adjusted_low, low), np.where(taken, rows.adjusted_high, high)
    return [
        Held(
            session,
            str(rows.column[row]),
            true,
            float(difference[row]),
            float(low[row]),
            float(high[row]),
            0.5 * float(test_high[row] - test_low[row]),
            bool(rows.verdict[row] in CLAIMS),
        )
        for row in np.flatnonzero(rows.note == ALL_NOTES)
        if np.isfinite(true := _true(truth, rows, int(row))) and np.isfinite(high[row] - low[row])
    ]


def _true(truth: dict[tuple[str, int], float], rows: DifferenceRows, row: int) -> float:
    """Return the truth of a row over the notes: the mean over the notes that it joins."""
    column = str(rows.column[row])
    if (column, 0) in truth:
        return truth[column, 0]
    numbers = {number for _, number in truth if number}
    strings = {note_name(guitar().string(number).open_hz): number for number in numbers}
    joined = (rows.column == column) & np.isfinite(rows.difference)
    true = [truth.get((column, strings.get(str(note), 0))) for note in rows.note[joined]]
    known = [value for value in true if value is not None]
    return float(np.mean(known)) if known else float("nan")


def table(held: Sequence[Held], *, by: str = "") -> str:
    """Return shares of intervals that hold the truth, quantity by quantity."""
    groups: dict[tuple[str, str], list[Held]] = {}
    for row in held:
        group = {
            "": "",
            "kind": row.session.kind,
            "hand": "±1.5 mm" if row.session.steady else "±4 mm",
            "notes": f"{len(row.session.strings)} notes",
        }[by]
        groups.setdefault((group, row.quantity), []).append(row)
        if family := _FAMILY.match(row.quantity):
            groups.setdefault((group, f"{family[1]}s together"), []).append(row)
    lines = [f"{'':12}{'quantity':20}{'rows':>6}{'sessions':>10}  held          test   half"]
    for (group, quantity), rows in sorted(groups.items()):
        lines.append(_line(group, quantity, rows))
        if quantity.endswith("s together"):
            lines.append(_line(group, quantity.replace("together", "at once"), _at_once(rows)))
    return "\n".join(lines)


def _line(group: str, quantity: str, rows: Sequence[Held]) -> str:
    share, se, sessions = _share(rows)
    tests = np.mean([abs(row.difference - row.truth) <= row.test_half for row in rows])
    return (
        f"{group:12}{quantity:20}{len(rows):6d}{sessions:10d}  {100 * share:5.1f} ± "
        f"{100 * se:3.1f} % {100 * tests:6.1f} %  {np.median([row.half for row in rows]):.4g}"
    )


def _at_once(rows: Sequence[Held]) -> list[Held]:
    """Return of every session the row whose truth lies furthest from its middle in halves."""
    furthest: dict[tuple[int, int], Held] = {}
    for row in rows:
        known = furthest.setdefault(row.session.number, row)
        if row.off > known.off:
            furthest[row.session.number] = row
    return list(furthest.values())


def _share(rows: Sequence[Held]) -> tuple[float, float, int]:
    """Share of rows that hold and its standard error over sessions (at least that of 95 %)."""
    by_session: dict[tuple[int, int], list[bool]] = {}
    for row in rows:
        by_session.setdefault(row.session.number, []).append(row.holds)
    count, share = len(by_session), float(np.mean([row.holds for row in rows]))
    off = [sum(of) - share * len(of) for of in by_session.values()]
    over = float(np.sqrt(np.sum(np.square(off)))) / len(rows)
    alone = float(np.sqrt(0.95 * 0.05 / count)) if len(rows) == count else 0.0
    return share, max(over, alone), count


def null_claims(held: Iterable[Held]) -> str:
    """Return in how many sessions without work something is claimed, and what."""
    nothing = [row for row in held if row.session.kind == "nothing"]
    sessions = {row.session.number for row in nothing}
    claimed = [row for row in nothing if row.claims]
    names = ", ".join(sorted(row.quantity for row in claimed))
    with_claims = {row.session.number for row in claimed}
    return f"nothing done: {len(with_claims)} of {len(sessions)} sessions claim something {names}"


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--physics", choices=PHYSICS, default=PHYSICS[0])
    parser.add_argument("--seed", type=int, nargs="+", default=[1])
    parser.add_argument("--sessions", type=int, default=160)
    parser.add_argument("--takes", help="folder to keep files and measurements in")
    parser.add_argument("--measure-again", action="store_true", help="measure kept files again")
    parser.add_argument("--by", choices=("kind", "hand", "notes"), default="")
    given = parser.parse_args()
    with TemporaryDirectory() as scratch:
        takes = Path(given.takes or scratch)
        takes.mkdir(parents=True, exist_ok=True)
        exact = ExactPlucks(given.physics, takes)
        held: list[Held] = []
        for seed in given.seed:
            for start in range(0, given.sessions, TOGETHER):
                indices = range(start, min(start + TOGETHER, given.sessions))
                many = measured(given.physics, seed, indices, takes, anew=given.measure_again)
                for index, measurements in zip(indices, many, strict=True):
                    held += held_of(drawn(given.physics, seed, index), measurements, exact)
        print(f"{given.physics}, seeds {given.seed}, {given.sessions} sessions each")
        print(table(held, by=given.by))
        print(null_claims(held))


if __name__ == "__main__":
    main()
