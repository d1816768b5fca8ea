"""The first voice recorded again at the end of a stage: what it says of the session."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, quiet, session, told_notes
from scipy import stats
from simulated_tables import Scatter, simulated_session

from tonecompare.compare import compare_session
from tonecompare.compare.cause_facts import DriftFacts, HiddenByDrift
from tonecompare.compare.causes.repeat_drift import (
    ASSUMED_DF,
    Drift,
    between_recordings,
    find_drifts,
    first_recordings,
)
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.report.words.cause_words.cause_text import cause_text
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session.model import ComparisonSpec

SPEC = ComparisonSpec("stock", "rewound")
#: Mean 0, standard deviation 1 over six notes (n - 1).
SIX = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0]) / np.sqrt(6.0 / 5.0)


def _recording(
    stage: str, voice: str, *, level: float, note_db: float = 0.1
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Six notes, five plucks each (0.5 dB apart, sd), notes scattering by ``note_db``."""
    values = {
        note: [level + note_db * y + 0.5 * x for x in FIVE]
        for note, y in zip(STRINGS, SIX, strict=True)
    }
    rows = plucks(stage, {"level_dbfs": values}, voice=voice)
    return rows, quiet(stage, {"hum_dbfs": [-70.0 + 0.1 * x for x in FIVE]}, voice=voice)


def _measured(*recordings: tuple[pd.DataFrame, pd.DataFrame]) -> Measurements:
    return measurements(*(one for one, _ in recordings), quiets=[other for _, other in recordings])


def _stages(*, drift: float, work: float) -> Measurements:
    """Bridge of two stages ``work`` apart; the first stage drifts by ``drift``."""
    return _measured(
        _recording("stock", "bridge", level=-20.0, note_db=0.0),
        _recording("stock", "bridge-again", level=-20.0 + drift),
        _recording("rewound", "bridge", level=-20.0 + work),
    )


def _compare(known: Measurements) -> Comparisons:
    return compare_session(session("stock", "rewound", comparisons=[SPEC]), known)


def _drift(result: Comparisons) -> list[Confound]:
    return [one for one in result.confounds if one.kind == "drift"]


def _level(result: Comparisons) -> pd.Series:
    table = told_differences(result)
    return table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")].iloc[0]


def test_the_drift_is_again_minus_first_with_a_t_interval_over_the_notes() -> None:
    known = _stages(drift=-1.4, work=0.0)
    (level,) = [
        one for one in find_drifts(session("stock", "rewound"), known)
        if one.quantity.column == "level_dbfs"
    ]  # fmt: skip
    assert (level.stage, level.voice, level.n_notes) == ("stock", "bridge", 6)
    assert (level.n_first, level.n_again) == (30, 30)
    assert level.difference == pytest.approx(-1.4)
    # The notes scatter by 0.1 dB, which is 0.041 of their mean; but five plucks of 0.5 dB on six
    # notes and two sides leave sqrt(2 0.25 / 30) = 0.129, and less than that cannot be known.
    assert level.half == pytest.approx(stats.t.ppf(0.975, 5) * np.sqrt(0.5 / 30.0))
    assert level.wander_variance == pytest.approx(2.0 * 0.25)
    assert level.word == "moved-beyond-threshold"


def test_a_stage_that_held_still_says_how_far_at_most() -> None:
    result = _compare(_stages(drift=0.05, work=-3.0))
    (drift,) = _drift(result)
    assert not drift.found
    assert isinstance(drift.facts, DriftFacts)
    (level, *_) = drift.facts.moved
    assert (level.stage, level.voice, level.column) == ("stock", "bridge", "level_dbfs")
    # 0.05 + 2.571 * 0.129 dB.
    assert level.high == pytest.approx(0.382, abs=0.001)
    assert drift.facts.repeats == 1
    assert _level(result)["verdict"] == "likely-audible"
    assert _level(result)["adjusted_for"] == ()
    table = result.tables["drift"]
    assert set(table["voice"]) == {"bridge"}
    assert table.set_index("quantity")["drift"]["level_dbfs"] == "held"


def test_a_claim_no_larger_than_the_drift_is_confounded() -> None:
    result = _compare(_stages(drift=-1.5, work=-1.5))
    main, of_voice = _drift(result)
    assert (main.found, main.voice, main.explains) == (True, "", ())
    assert main.estimate == pytest.approx(-1.5)
    assert isinstance(main.facts, DriftFacts)
    (moved,) = main.facts.moved
    assert (moved.stage, moved.column, moved.unit) == ("stock", "level_dbfs", "dB")
    assert (moved.low, moved.high) == pytest.approx((-1.832, -1.168), abs=0.001)
    assert of_voice.facts == HiddenByDrift()
    assert (of_voice.voice, of_voice.explains) == ("bridge", ("level_dbfs",))
    level = _level(result)
    assert (level["verdict"], level["adjusted_for"]) == ("confounded", ("drift",))
    assert level["reason"] == cause_text(of_voice)


def test_a_claim_far_beyond_the_drift_stays_with_a_wider_interval() -> None:
    result = _compare(_stages(drift=-1.0, work=-9.0))
    (main,) = _drift(result)
    assert main.found
    level = _level(result)
    assert level["verdict"] == "likely-audible"
    # One repeat and the assumed wander of four: (1 - 1/60 + 4 * 0.5) / 5 by hand, 5 df.
    variance = (1.0 - 0.5 / 30.0 + 4.0 * 0.5) / 5.0
    own = (level["ci_high"] - level["ci_low"]) / 2.0 / stats.t.ppf(0.975, 5)
    df = (own**2 + variance) ** 2 / (own**4 / 5.0 + variance**2 / 5.0)
    half = stats.t.ppf(0.975, df) * np.sqrt(own**2 + variance)
    assert level["difference_adjusted"] == level["difference"]
    assert level["ci_high_adjusted"] == pytest.approx(level["difference"] + half)
    assert level["ci_low_adjusted"] == pytest.approx(level["difference"] - half)


def test_a_single_note_is_widened_from_its_own_plucks() -> None:
    result = _compare(_stages(drift=-1.0, work=-9.0))
    table = result.differences
    note = table[(table["note"] == "E2") & (table["quantity"] == "level_dbfs")].iloc[0]
    # Five plucks a side scatter alike: eight degrees of freedom; the drift's as in the test above.
    variance = (1.0 - 0.5 / 30.0 + 4.0 * 0.5) / 5.0
    own = (note["ci_high"] - note["ci_low"]) / 2.0 / stats.t.ppf(0.975, 8)
    df = (own**2 + variance) ** 2 / (own**4 / 8.0 + variance**2 / 5.0)
    half = stats.t.ppf(0.975, df) * np.sqrt(own**2 + variance)
    assert note["ci_high_adjusted"] - note["difference"] == pytest.approx(half)


def test_what_the_repeat_does_not_show_is_not_called_allowed_for() -> None:
    """The repeat shows level alone: no interval of another quantity of that hand is a wider one."""
    known = _stages(drift=-1.0, work=-9.0)
    first = known.plucks["voice"] == "bridge"
    steps = known.plucks["level_dbfs"] * np.log(2.0) / 30.0
    brightness = np.where(first, 1000.0 * np.exp(steps), np.nan)
    known = replace(known, plucks=known.plucks.assign(centroid_hz=brightness))
    result = _compare(known)
    (main,) = _drift(result)
    assert main.found
    table = told_differences(result)
    row = table[(table["note"] == "all") & (table["quantity"] == "centroid_hz")].iloc[0]
    assert np.isfinite(row["ci_high"])
    assert np.isnan(row["ci_high_adjusted"])


def test_verdicts_of_no_change_and_of_audibility_need_the_wider_interval() -> None:
    same = _level(_compare(_stages(drift=-1.5, work=0.1)))
    assert same["verdict"] == "undecided"
    assert "drifted while it was recorded" in same["reason"]
    assert _level(_compare(_stages(drift=0.0, work=0.1)))["verdict"] == "no-change"
    # 3.0 ± 0.3 dB is beyond the threshold of 1 dB; what drift adds reaches below it.
    more = _level(_compare(_stages(drift=-1.2, work=3.0)))
    assert more["ci_low"] > 1.0
    assert 0.0 < more["ci_low_adjusted"] < 1.0
    assert more["verdict"] == "measurable"


def test_a_repeat_is_no_voice_of_its_own() -> None:
    both = _measured(
        *(
            _recording(stage, voice, level=level)
            for stage, level in (("stock", -20.0), ("rewound", -23.0))
            for voice in ("bridge", "bridge-again")
        )
    )
    result = _compare(both)
    assert set(result.differences["voice"]) == {"bridge"}
    assert {one.voice for one in result.responses} <= {"bridge"}
    assert "bridge-again" not in told_notes(result, SPEC.name)
    assert set(first_recordings(both).plucks["voice"]) == {"bridge"}
    assert set(first_recordings(both).quiet["voice"]) == {"bridge"}


def test_a_repeat_without_a_first_recording_is_kept() -> None:
    alone = _measured(_recording("stock", "bridge-again", level=-20.0))
    assert first_recordings(alone) is alone
    assert find_drifts(session("stock"), alone) == ()


def test_two_stages_give_two_repeats() -> None:
    def one(stage: str, size: float) -> Drift:
        known = replace(_stages(drift=size, work=0.0))
        drifts = find_drifts(session("stock", "rewound"), known)
        found = next(each for each in drifts if each.quantity.column == "level_dbfs")
        return replace(found, stage=stage)

    variance, df = between_recordings([one("stock", 2.0), one("rewound", -1.0)])
    assert df == 2 + ASSUMED_DF
    assert variance == pytest.approx((4.0 + 1.0 - 2.0 * 0.5 / 30.0 + 4.0 * 0.5) / 6.0)


def _sessions(seed: int, *, count: int, wander: float) -> list[Comparisons]:
    """Reports in which nothing was done but whole recordings wander by ``wander`` dB of level."""
    rng = np.random.default_rng(seed)
    results = []
    for _ in range(count):
        scatter = Scatter(voices=("bridge", "neck", "bridge-again"))
        known, tables = simulated_session(rng, scatter)
        frame = tables.plucks.copy()
        for _, rows in frame.groupby(["stage", "voice"]).groups.items():
            frame.loc[rows, "level_dbfs"] += wander * rng.standard_normal()
        results.append(compare_session(known, replace(tables, plucks=frame)))
    return results


def _claims_level(result: Comparisons) -> bool:
    rows = result.differences
    rows = rows[(rows["note"] == "all") & (rows["quantity"] == "level_dbfs")]
    return bool(rows["verdict"].isin(["likely-audible", "measurable"]).any())


@pytest.mark.long
@pytest.mark.slow
def test_recordings_that_wander_are_seldom_taken_for_work() -> None:
    # 1 dB of wander: without a repeat such reports nearly all claim a change of level.
    results = _sessions(5, count=12, wander=1.0)
    assert sum(any(c.found for c in _drift(result)) for result in results) >= 10
    assert sum(_claims_level(result) for result in results) <= 4


@pytest.mark.long
@pytest.mark.slow
def test_no_drift_is_found_where_nothing_wanders() -> None:
    results = _sessions(6, count=12, wander=0.0)
    assert sum(any(c.found for c in _drift(result)) for result in results) <= 3
