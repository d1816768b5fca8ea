"""Difference in differences against an unchanged instrument."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, session, told_notes
from simulated_tables import Scatter, simulated_session

from tonecompare.compare import compare_session
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_table import to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.session.model import ComparisonSpec, Stage

SPEC = ComparisonSpec("stock", "rewound", "plover-first", "plover-second")
SIX = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0]) / np.sqrt(6.0 / 5.0)
STAGES = [
    *(Stage(name, "heron", Path(name)) for name in ("stock", "rewound")),
    *(Stage(name, "plover", Path(name)) for name in ("plover-first", "plover-second")),
]


def _levels(stage: str, at: float, *, spread: float = 0.0, voice: str = "bridge") -> pd.DataFrame:
    values = {
        note: [at + spread * y + 0.5 * x for x in FIVE]
        for note, y in zip(STRINGS, SIX, strict=True)
    }
    return plucks(stage, {"level_dbfs": values}, voice=voice)


def _compare(*frames: pd.DataFrame) -> Comparisons:
    return compare_session(session(*STAGES, comparisons=[SPEC]), measurements(*frames))


def _all(table: pd.DataFrame) -> pd.Series:
    return table[(table["note"] == "all") & (table["quantity"] == "level_dbfs")].iloc[0]


def test_drift_of_the_control_is_taken_out_with_its_uncertainty() -> None:
    result = _compare(
        _levels("stock", -20.0),
        _levels("rewound", -14.0, spread=0.3),
        _levels("plover-first", -22.0),
        _levels("plover-second", -21.0, spread=0.4),
    )
    row = _all(result.differences)
    assert row["difference"] == pytest.approx(5.0)
    assert row["raw_difference"] == pytest.approx(6.0)
    assert row["control_difference"] == pytest.approx(1.0)
    # se² = (0.3² + 0.4²)/6; Satterthwaite df = (0.09 + 0.16)²/((0.09² + 0.16²)/5) = 9.273,
    # t(0.975, 9.273) = 2.2522 (scipy.stats.t.ppf).
    assert row["ci_high"] - row["difference"] == pytest.approx(2.2522 * 0.5 / np.sqrt(6), abs=1e-4)
    assert row["raw_ci_high"] - row["raw_difference"] == pytest.approx(0.3 * 1.0494, abs=1e-4)


def test_note_rows_take_out_the_drift_over_the_notes() -> None:
    result = _compare(
        _levels("stock", -20.0),
        _levels("rewound", -14.0, spread=0.3),
        _levels("plover-first", -22.0),
        _levels("plover-second", -21.0, spread=0.4),
    )
    rows = result.differences
    note = rows[(rows["note"] == "A2") & (rows["quantity"] == "level_dbfs")].iloc[0]
    assert note["control_difference"] == pytest.approx(1.0)
    assert note["difference"] == pytest.approx(note["raw_difference"] - 1.0)


def test_a_voice_the_control_lacks_is_set_against_all_its_voices() -> None:
    result = _compare(
        _levels("stock", -20.0, voice="neck"),
        _levels("rewound", -14.0, spread=0.3, voice="neck"),
        *(_levels("plover-first", -22.0, voice=v) for v in ("bridge", "middle")),
        _levels("plover-second", -21.0, spread=0.4, voice="bridge"),
        _levels("plover-second", -19.0, spread=0.4, voice="middle"),
    )
    row = _all(result.differences)
    assert row["control_difference"] == pytest.approx(2.0)
    # Two voices averaged halve the control's variance: se² = 0.3²/6 + 0.4²/(2·6).
    assert row["ci_high"] - row["difference"] > 2.0 * np.sqrt((0.09 + 0.08) / 6)
    assert row["ci_high"] - row["difference"] < 2.3 * np.sqrt((0.09 + 0.08) / 6)


def test_the_drift_is_shown_and_named() -> None:
    result = _compare(
        _levels("stock", -20.0),
        _levels("rewound", -14.0, spread=0.3),
        _levels("plover-first", -22.0),
        _levels("plover-second", -20.5, spread=0.1),
    )
    drift = _all(result.tables["control"])
    assert (drift["before"], drift["after"]) == ("plover-first", "plover-second")
    assert drift["difference"] == pytest.approx(1.5)
    notes = told_notes(result, SPEC.name)
    assert "taken against plover" in notes
    assert "it moved in: level" in notes


def test_a_control_without_usable_drift_is_not_taken_out_and_said_so() -> None:
    one_note = {"level_dbfs": {"E2": [-22.0 + x for x in FIVE]}}
    result = _compare(
        _levels("stock", -20.0),
        _levels("rewound", -14.0, spread=0.3),
        plucks("plover-first", one_note),
        plucks("plover-second", one_note),
    )
    row = _all(result.differences)
    assert row["difference"] == pytest.approx(6.0)
    assert np.isnan(row["control_difference"])
    assert np.isnan(row["raw_difference"])
    assert "gives no usable drift" in told_notes(result, SPEC.name)


def test_without_control_the_report_says_what_could_hide() -> None:
    result = compare_session(
        session(*STAGES, comparisons=[ComparisonSpec("stock", "rewound")]),
        measurements(_levels("stock", -20.0), _levels("rewound", -14.0)),
    )
    notes = told_notes(result, "stock to rewound")
    assert "No unchanged instrument was recorded" in notes
    assert "gain" in notes
    assert len(result.tables["control"]) == 0


@pytest.mark.long
def test_session_drift_becomes_no_claim_about_the_work() -> None:
    # Every session moves the level and the brightness of both instruments: with the control no
    # report may claim it (of 25 at 5 %, more than 4 in one of a hundred), without it nearly all do.
    rng = np.random.default_rng(12)
    scatter = Scatter(
        voices=("bridge",), session={"after": {"level_dbfs": 1.5, "centroid_hz": 0.10}}
    )
    claims = {True: 0, False: 0}
    for control in claims:
        for _ in range(25):
            table = to_frame(judge_session(*simulated_session(rng, scatter, control=control)).rows)
            claims[control] += table["verdict"].isin(["likely-audible", "measurable"]).any()
    assert claims[True] <= 4
    assert claims[False] >= 22


def test_tuning_is_not_taken_against_the_control() -> None:
    cents = {"cents": {n: [x + 0.1 * y for x in FIVE] for n, y in zip(STRINGS, SIX, strict=True)}}
    result = _compare(*(plucks(stage.name, cents) for stage in STAGES))
    row = result.differences[result.differences["quantity"] == "cents"].iloc[0]
    assert np.isnan(row["control_difference"])
