"""How often each confound is found where it is, and where it is not.

``python tests/calibration/cause_rates.py`` prints the table. Every scenario is a session of
simulated plucks (:mod:`simulated_picks`: 6 open strings, 5 plucks, 3 voices)
that goes through the comparison whole, many times. A row names what was done, how often each
confound was found, and in how many sessions some row still claims a change of the work.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from simulated_picks import Playing, ResponseDb, simulated_picks

from tonecompare.arrays import FloatArray
from tonecompare.compare.causes.find_causes import apply_confounds, find_confounds
from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.difference.session_differences import judge_session

KINDS = (
    "pick-position",
    "pick-strength",
    "gain",
    "tuning",
    "strings",
    "load",
    "mains",
    "processing",
)


def resonance_change(before: tuple[float, float], after: tuple[float, float]) -> ResponseDb:
    """Return the response of a two-pole low-pass whose resonance (Hz, Q) moved."""

    def gain_db(hz: FloatArray, f0: float, q: float) -> FloatArray:
        x = hz / f0
        return np.asarray(-20.0 * np.log10(np.abs(1.0 - x**2 + 1j * x / q)), dtype=np.float64)

    return lambda hz: gain_db(hz, *after) - gain_db(hz, *before)


def _plus(level_db: float, response: ResponseDb | None = None) -> ResponseDb:
    return lambda hz: level_db + (response(hz) if response else 0.0 * hz)


def _dull(hz: FloatArray) -> FloatArray:
    return -np.log2(np.maximum(hz / 500.0, 1.0))


@dataclass(frozen=True)
class Scenario:
    """What was done between the stages.

    ``expected`` is the confound that should be found ("" for work, which should stay a claim, or
    nothing at all); ``only`` the one voice it was done to.
    """

    words: str
    after: Playing
    expected: str = ""
    only: str = ""


#: Resonance (Hz, Q) of 2.4 H behind 3 m and 6 m of 120 pF/m cable, worked from the RLC formula.
_SHORT, _LONG = (4861.0, 1.42), (3658.0, 1.73)

SCENARIOS = (
    Scenario("nothing", Playing()),
    Scenario("picked 10 mm further out", Playing(place=0.17 + 10.0 / 648.0), "pick-position"),
    Scenario("picked 5 mm further in", Playing(place=0.17 - 5.0 / 648.0), "pick-position"),
    Scenario("picked 3 dB harder", Playing(strength_db=3.0), "pick-strength"),
    Scenario("picked 6 dB harder", Playing(strength_db=6.0), "pick-strength"),
    # Nothing else shows a linear string that is picked harder, so it is not the work's alone.
    Scenario("every voice 3 dB up", Playing(response_db=_plus(3.0)), "pick-strength"),
    Scenario("gain 1 dB up", Playing(gain_db=1.0), "gain"),
    Scenario("gain 6 dB up", Playing(gain_db=6.0), "gain"),
    Scenario("tuned 8 cents up", Playing(cents=8.0), "tuning"),
    Scenario("aged strings", Playing(decay_high=0.6, response_db=_dull), "strings"),
    Scenario("stiffer set (30 %)", Playing(stiffness=1.3), "strings"),
    Scenario("cable 3 m to 6 m", Playing(response_db=resonance_change(_SHORT, _LONG)), "load"),
    Scenario("hum of another mix", Playing(hum_db=(0, 8, 0, 8, -3, 6, 0, 5, 0, 5)), "mains"),
    Scenario("work: 1 dB louder pickups", Playing(response_db=_plus(1.0))),
    Scenario(
        "work: bridge 3 dB up, darker",
        Playing(response_db=_plus(3.0, resonance_change(_SHORT, (3500.0, 1.5)))),
        only="bridge",
    ),
    Scenario(
        "work: bridge split",
        Playing(response_db=_plus(-6.0, resonance_change((3532.0, 1.8), (4946.0, 2.5)))),
        only="bridge",
    ),
    Scenario("work: all decays 25 % shorter", Playing(decay_factor=0.75)),
    Scenario("work: 3 dB more hum", Playing(hum_db=(3.0,) * 10)),
    Scenario("work: 8 dB more hum, bridge", Playing(hum_db=(8.0,) * 10), only="bridge"),
)


@dataclass(frozen=True)
class Rates:
    """Of ``sessions``, how many found each confound, and how many still claim something."""

    sessions: int
    found: Mapping[str, int]
    claiming: int


def rates(rng: np.random.Generator, scenario: Scenario, *, sessions: int) -> Rates:
    """Run one scenario many times."""
    found = dict.fromkeys(KINDS, 0)
    claiming = 0
    for _ in range(sessions):
        session = simulated_picks(rng, Playing(), scenario.after, only=scenario.only)
        left, confounds = find_confounds(*session, judge_session(*session).rows)
        for kind in {confound.kind for confound in confounds if confound.found}:
            found[kind] += 1
        verdicts = apply_confounds(left, confounds).verdict
        claiming += bool(np.isin(verdicts, CLAIMS).any())
    return Rates(sessions, found, claiming)


def table(*, sessions: int, seed: int) -> str:
    """Return the printed table of all scenarios.

    Parameters
    ----------
    sessions
        Sessions for each scenario.
    seed
        Seed of all randomness.
    """
    rng = np.random.default_rng(seed)
    lines = [
        f"{sessions} simulated sessions each, seed {seed}; 6 strings, 5 plucks, 3 voices.",
        f"{'what was done':<36}{'claims left':>12}  confounds found",
    ]
    for scenario in SCENARIOS:
        one = rates(rng, scenario, sessions=sessions)
        found = ", ".join(
            f"{kind} {100.0 * count / sessions:.0f} %" for kind, count in one.found.items() if count
        )
        claims = f"{100.0 * one.claiming / sessions:.0f} %"
        lines.append(f"{scenario.words:<36}{claims:>12}  {found or 'none'}")
    return "\n".join(lines)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=table.__doc__)
    parser.add_argument("--sessions", type=int, default=100, help="sessions for each scenario")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    print(table(sessions=chosen.sessions, seed=chosen.seed))


if __name__ == "__main__":
    main()
