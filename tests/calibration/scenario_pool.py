"""Files of every condition, played once, from which many sessions are dealt.

Whole files are dealt, so that what is learnt of a voice over all its plucks stays with it. A null
session takes two different files of one pool, never a file twice.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from scenario_list import Scenario
from scenario_oracle import TREBLE, pluck_levels
from scenario_takes import STAGES, VOICES, Condition, PlayedFile, played_file, session_of

from tonecompare.compare.run import compare_session
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import collected

#: Plays one file: condition, voice, name, seed.
Player = Callable[[Condition, str, str, list[int]], PlayedFile]
#: (voice, note, quantity) -> true difference on the analysis scale.
Truth = dict[tuple[str, str, str], float]
#: The four files of a session by (stage, voice).
Dealt = dict[tuple[str, str], PlayedFile]


@dataclass
class Pool:
    """Files by condition and voice, played when first asked for."""

    n_files: int
    seed: int
    player: Player = played_file
    _files: dict[tuple[str, str], list[PlayedFile]] = field(default_factory=dict)

    def files(self, condition: Condition, voice: str) -> list[PlayedFile]:
        """Every file of a condition's voice."""
        key = repr(condition), voice
        if key not in self._files:
            number = zlib.crc32(key[0].encode())
            self._files[key] = [
                self.player(
                    condition,
                    voice,
                    f"{number:08x}-{voice}-{i}",
                    [self.seed, number, VOICES.index(voice), i],
                )
                for i in range(self.n_files)
            ]
        return self._files[key]

    def deal(self, scenario: Scenario, rng: np.random.Generator) -> Dealt:
        """Deal one session: a file for each voice and stage."""
        dealt: Dealt = {}
        for voice in VOICES:
            before = self.files(scenario.before, voice)
            after = self.files(scenario.after, voice)
            same = before is after
            first = int(rng.integers(len(before)))
            second = int(rng.integers(len(after) - same))
            second += same and second >= first
            dealt[STAGES[0], voice], dealt[STAGES[1], voice] = before[first], after[second]
        return dealt

    def forget(self, condition: Condition) -> None:
        """Drop a condition's files."""
        for voice in VOICES:
            self._files.pop((repr(condition), voice), None)


def measurements_of(dealt: Dealt) -> Measurements:
    """Put the files of a session together as measuring does."""
    return collected([played.as_stage[stage] for (stage, _), played in dealt.items()])


def truth_of(scenario: Scenario, pool: Pool) -> Truth:
    """Difference that the work alone makes: both stages played by a machine at one gain.

    Empty where no work was done: every true difference is then 0.
    """
    work = [scenario.before.work_alone(), scenario.after.work_alone()]
    if work[0] == work[1]:
        return {}
    exact = replace(scenario, before=work[0], after=work[1])
    dealt = Pool(1, pool.seed, pool.player).deal(exact, np.random.default_rng(pool.seed))
    rows = compare_session(session_of(Path()), measurements_of(dealt)).rows
    names = zip(rows.voice, rows.note, rows.column, rows.difference, strict=True)
    truth = {(voice, note, name): float(value) for voice, note, name, value in names}
    for voice in VOICES:
        both = [collected([dealt[stage, voice].as_stage[stage]]) for stage in STAGES]
        for column in TREBLE:
            before, after = (_mean_level(one, column) for one in both)
            truth[voice, "all", column] = after - before
    return truth


def _mean_level(measured: Measurements, column: str) -> float:
    return float(np.nanmean(pluck_levels(measured, column)))
