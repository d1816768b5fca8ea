"""Files of every condition, played once, from which many sessions are dealt.

Whole files are dealt, so that what is learnt of a voice over all its plucks stays with it. A voice
never gets files of the same number before and after: they share their hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import joblib
import numpy as np
from scenario_list import Scenario
from scenario_oracle import differences_by_string
from scenario_takes import (
    STAGES,
    Condition,
    PlayedFile,
    Render,
    measured_file,
    modes_rendered,
    session_of,
)

from tonecompare.compare.run import compare_session
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import collected

#: (voice, note, quantity) -> true difference on the analysis scale.
Truth = dict[tuple[str, str, str], float]
#: The four files of a session by (stage, voice).
Dealt = dict[tuple[str, str], PlayedFile]


@dataclass
class Pool:
    """Files by condition and voice, played when first asked for."""

    n_files: int
    seed: int
    #: Where rendered files are kept; those that are there already are not rendered again.
    takes: Path
    render: Render = modes_rendered
    workers: int = 1
    _files: dict[tuple[str, str], list[PlayedFile]] = field(default_factory=dict)

    def files(self, condition: Condition, voice: str) -> list[PlayedFile]:
        """Every file of a condition's voice."""
        key = repr(condition), voice
        if key not in self._files:
            self._files[key] = joblib.Parallel(n_jobs=self.workers)(
                joblib.delayed(measured_file)(
                    self.render, condition, voice, (self.seed, i), self.takes
                )
                for i in range(self.n_files)
            )
        return self._files[key]

    def deal(self, scenario: Scenario, rng: np.random.Generator) -> Dealt:
        """Deal one session: a file for each voice and stage."""
        dealt: Dealt = {}
        for voice in scenario.voices:
            before = self.files(scenario.before, voice)
            after = self.files(scenario.after, voice)
            first = int(rng.integers(len(before)))
            other = len(after) > 1
            second = int(rng.integers(len(after) - other))
            second += other and second >= first
            dealt[STAGES[0], voice], dealt[STAGES[1], voice] = before[first], after[second]
        return dealt

    def forget(self, condition: Condition) -> None:
        """Drop a condition's files."""
        for voice in condition.pickups:
            self._files.pop((repr(condition), voice), None)


def measurements_of(dealt: Dealt) -> Measurements:
    """Put the files of a session together as measuring does."""
    return collected([played.as_stage[stage] for (stage, _), played in dealt.items()])


def truth_of(scenario: Scenario, exact: Pool) -> Truth:
    """Difference that the work alone makes: both stages played by a machine at one gain.

    ``exact`` is a pool of one file each. Empty where no work was done: every true difference is
    then 0.
    """
    work = [scenario.before.work_alone(), scenario.after.work_alone()]
    if work[0] == work[1]:
        return {}
    alone = replace(scenario, before=work[0], after=work[1])
    dealt = exact.deal(alone, np.random.default_rng(exact.seed))
    rows = compare_session(session_of(Path()), measurements_of(dealt)).rows
    # As recorded: nothing but the work differs, so nothing is to be taken out.
    names = zip(rows.voice, rows.note, rows.column, rows.raw_difference, strict=True)
    truth = {(voice, note, name): float(value) for voice, note, name, value in names}
    for voice in scenario.voices:
        by_string = differences_by_string(*(dealt[stage, voice] for stage in STAGES))
        truth |= {(voice, *key): value for key, value in by_string.items()}
    return truth
