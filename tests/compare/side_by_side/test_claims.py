"""How often "alike" and "farthest apart" are said where they are not so: drawn notes and plucks.

Voices differ by a chosen amount; notes scatter by 1 dB between voices and plucks of a note by 0.6
dB (what the recordings' README gives for re-plucking). Each rate is held against its own upper
limit: 95 % of binomial counts of the promised rate stay below it.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tonecompare.compare.difference.stage_pairs import NoteCell
from tonecompare.compare.difference.statistics import hodges_lehmann, moments
from tonecompare.compare.side_by_side import VoiceSound
from tonecompare.compare.side_by_side.pair_estimates import PLUCKED, MeasuredSounds
from tonecompare.compare.side_by_side.stage_voices import sound_against

RUNS, NOTES, PLUCKS = 400, 6, 4
_NEVER = np.full(2, np.nan)


def _sound(rng: np.random.Generator, offset_db: np.ndarray, notes_db: float) -> dict[str, NoteCell]:
    cells = {}
    # Ratios (decay, centroid) on their logarithms: 5 % where levels scatter by 0.6 dB.
    scale = np.array([0.08 if q.ratio else 1.0 for q in PLUCKED])
    for note in range(NOTES):
        mean = offset_db + scale * rng.normal(0.0, notes_db, offset_db.size)
        values = mean + scale * rng.normal(0.0, 0.6, (PLUCKS, offset_db.size))
        cells[f"note{note}"] = NoteCell(
            hodges_lehmann(values), *moments(values), np.full(offset_db.size, np.nan)
        )
    return cells


def _measured(rng, offsets: dict[str, np.ndarray], notes_db: float) -> MeasuredSounds:
    return MeasuredSounds(
        {VoiceSound(name, "magnetic"): _sound(rng, offset, notes_db / np.sqrt(2.0))
         for name, offset in offsets.items()},
        {}, {}, (_NEVER, _NEVER), {},
    )  # fmt: skip


def _offset(**by_column: float) -> np.ndarray:
    """Bands some 10 dB below the whole, decay 3 s; what is given is added."""
    base = {q.column: np.log(3.0) if q.ratio else -10.0 for q in PLUCKED}
    return np.array([value + by_column.get(name, 0.0) for name, value in base.items()])


def _most(rate: float) -> int:
    return int(stats.binom.ppf(0.95, RUNS, rate))


@pytest.mark.slow
def test_voices_a_whole_threshold_apart_are_called_alike_in_one_of_forty_at_most():
    rng = np.random.default_rng(11)
    offsets = {"one": _offset(), "other": _offset(level_dbfs=1.0)}
    one, other = (VoiceSound(name, "magnetic") for name in offsets)
    # Notes that hardly scatter: the level alone decides.
    said = sum(sound_against(_measured(rng, offsets, 0.05), one, other).alike for _ in range(RUNS))
    assert said <= _most(0.025)
    near = {"one": _offset(), "other": _offset(level_dbfs=0.1)}
    seen = sum(sound_against(_measured(rng, near, 0.05), one, other).alike for _ in range(50))
    assert seen > 25


@pytest.mark.slow
def test_the_interval_of_a_distance_holds_the_true_one_in_95_of_100():
    rng = np.random.default_rng(12)
    # 3 dB of level is 3 thresholds, 3 dB of a band 2: the true distance is 3.
    offsets = {"one": _offset(), "other": _offset(level_dbfs=3.0, shape_1000_db=3.0)}
    one, other = (VoiceSound(name, "magnetic") for name in offsets)
    missed = 0
    for _ in range(RUNS):
        far = sound_against(_measured(rng, offsets, 1.0), one, other).distance
        missed += not far.ci_low <= 3.0 <= far.ci_high
    assert missed <= _most(0.05)


@pytest.mark.long
@pytest.mark.slow
def test_a_ranking_against_the_loudest_holds_for_all_voices_together():
    rng = np.random.default_rng(13)
    offsets = {f"v{n}": _offset(level_dbfs=-float(n)) for n in range(6)}
    first, *others = (VoiceSound(name, "magnetic") for name in offsets)
    missed = 0
    for _ in range(RUNS):
        measured = _measured(rng, offsets, 1.0)
        pairs = [sound_against(measured, first, one, together=len(others)) for one in others]
        cells = [pair.cells["level_dbfs"] for pair in pairs]
        missed += any(
            not cell.ci_low <= -float(n) <= cell.ci_high for n, cell in enumerate(cells, start=1)
        )
    assert missed <= _most(0.05)
