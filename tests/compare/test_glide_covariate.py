"""The level of plucks at one glide: what it takes away, and that it makes no claims by itself."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from tonecompare.compare.causes.hand.glide_strength import glide_strength
from tonecompare.compare.causes.hand.hand_spread import hand_difference
from tonecompare.compare.causes.hand.picking_strength import _taken_by_causes
from tonecompare.compare.causes.rows_to_explain import voices_of
from tonecompare.compare.difference.difference_rows import ALL_NOTES, make_rows, text
from tonecompare.compare.difference.stage_differences import sharpen, stage_block
from tonecompare.compare.difference.statistics import Estimate
from tonecompare.compare.glide_covariate import LEAST_CENTS, levels_at_one_glide
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES

NOTES, REPEATS = 6, 5


def _plucks(
    rng: np.random.Generator, *, up_db: float = 0.0, closely: float = 0.7, cents: float = 0.1
) -> pd.DataFrame:
    """Two stages of one voice; level and glide go together by the correlation ``closely``."""
    count = 2 * NOTES * REPEATS
    force, other = rng.standard_normal((2, count))
    stage = np.repeat(["before", "after"], NOTES * REPEATS)
    note = np.tile(np.repeat([f"N{i}" for i in range(NOTES)], REPEATS), 2)
    of_note = np.tile(np.repeat(rng.standard_normal(NOTES), REPEATS), 2)
    glide = closely * force + np.sqrt(1.0 - closely**2) * other
    return pd.DataFrame({
        "stage": stage, "voice": "bridge", "output": "magnetic", "note": note,
        "file": stage, "pluck": np.arange(count), "channel": 0,
        "level_dbfs": -20.0 + of_note + 0.8 * force + up_db * (stage == "after"),
        "glide_cents": cents + 0.07 * (glide + 3.0 * of_note),
    })  # fmt: skip


def _moved(plucks: pd.DataFrame, level: np.ndarray) -> float:
    after = (plucks["stage"] == "after").to_numpy()
    return float(level[after].mean() - level[~after].mean())


def test_what_the_glide_tells_leaves_the_scatter_and_the_change_stays() -> None:
    rng = np.random.default_rng(1)
    raw, steady = [], []
    for _ in range(60):
        plucks = _plucks(rng, up_db=1.0)
        level = levels_at_one_glide(plucks, "before", "after")
        assert level is not None
        raw.append(_moved(plucks, plucks["level_dbfs"].to_numpy()))
        steady.append(_moved(plucks, level))
    # What a covariate of correlation 0.7 leaves of a scatter: sqrt(1 - 0.49), within 20 %.
    assert np.std(steady) / np.std(raw) == pytest.approx(np.sqrt(0.51), rel=0.2)
    assert np.mean(steady) == pytest.approx(1.0, abs=0.07)


def test_a_glide_that_tells_nothing_is_left_alone() -> None:
    rng = np.random.default_rng(2)
    tried = [levels_at_one_glide(_plucks(rng, closely=0.0), "before", "after") for _ in range(100)]
    assert sum(level is not None for level in tried) <= 5


def test_large_glides_are_left_to_the_cause_that_takes_strength_out() -> None:
    plucks = _plucks(np.random.default_rng(3), cents=LEAST_CENTS + 0.3)
    assert levels_at_one_glide(plucks, "before", "after") is None


def test_strength_is_not_taken_out_twice_where_riffs_were_played_besides() -> None:
    """The riff glides far, the notes do not: only the notes tell, and only one of the two acts."""
    plucks = _plucks(np.random.default_rng(6))
    riff = plucks.groupby("stage").head(REPEATS).assign(note="riff")
    riff["glide_cents"] += 10.0
    both = pd.concat([plucks, riff], ignore_index=True)
    assert levels_at_one_glide(both, "before", "after") is not None
    assert glide_strength(both, before="before", after="after") is None


def test_the_table_keeps_what_was_recorded() -> None:
    plucks = _plucks(np.random.default_rng(4), up_db=1.0)
    empty = pd.DataFrame({"stage": [], "voice": [], "output": []})
    rows = stage_block("c", "before", "after", Measurements(plucks, empty, empty))
    (row,) = np.flatnonzero((rows.column == "level_dbfs") & (rows.note == ALL_NOTES))
    assert rows.adjusted_for[row] == ("glide",)
    assert rows.raw_difference[row] != rows.difference[row]
    level = plucks["level_dbfs"].to_numpy()
    assert rows.mean_after[row] - rows.mean_before[row] == pytest.approx(
        _moved(plucks, level), abs=0.2
    )
    assert rows.raw_se[row] > rows.se[row]


def test_what_the_glides_took_is_still_the_hands() -> None:
    # Picked harder after: louder by 3 dB, and every note glides by a standard deviation more.
    plucks = _plucks(np.random.default_rng(6), up_db=3.0)
    plucks.loc[plucks["stage"] == "after", "glide_cents"] += 0.07
    empty = pd.DataFrame({"stage": [], "voice": [], "output": []})
    (voice,) = voices_of(stage_block("c", "before", "after", Measurements(plucks, empty, empty)))
    recorded = hand_difference(plucks, voice, "level_dbfs")
    assert recorded is not None
    assert voice.difference("level_dbfs") < float(recorded.estimate.difference) - 0.3
    assert _taken_by_causes(plucks, voice, recorded) == pytest.approx(0.0, abs=0.15)


def test_a_level_that_a_hand_sets_anew_for_every_note_keeps_its_error() -> None:
    """Levels scatter over notes by 1 + 5 times 0.3², the rest only by its plucks."""
    rng = np.random.default_rng(5)
    quantities = [q for q in QUANTITIES if q.family in ("level", "partials", "spectrum", "shape")]
    where = [q.column for q in quantities].index("level_dbfs")
    share = np.where(np.arange(len(quantities)) == where, 0.3, 0.0)
    count, trials, claims = len(quantities), 1500, 0
    whole = np.full(count, float(NOTES * REPEATS))
    for _ in range(trials):
        off = np.sqrt(2.0 / REPEATS + 2.0 * share**2) * rng.standard_normal((NOTES, count))
        estimate = Estimate(
            off.mean(axis=0), off.std(axis=0, ddof=1) / np.sqrt(NOTES), np.full(count, NOTES - 1.0)
        )
        rows = sharpen(
            make_rows(
                "c", "bridge", "magnetic", text(ALL_NOTES, count), quantities,
                means=(np.zeros(count), off.mean(axis=0)),
                counts=(whole, whole, np.full(count, float(NOTES))),
                estimate=estimate,
                repeat_variance=2.0 / REPEATS / NOTES * rng.chisquare(48, count) / 48,
                unjudged=text("", count),
            )
        )  # fmt: skip
        claims += bool(rows.p_value[where] < 0.01)
    # 0.6 %; 1.5 % where levels borrow as all else does. One binomial standard error is 0.26 %.
    assert claims / trials < 0.01 + np.sqrt(0.01 / trials)
