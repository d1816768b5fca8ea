"""Resonance, place of the pickup and coils compared: by their own standard errors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import scipy.stats
from compare_frames import STRINGS, measurements, plucks, session

from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.difference.voice_differences import voice_block
from tonecompare.compare.run import compare_session
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.model import Measurements
from tonecompare.measure.resonances import SharedRelease
from tonecompare.measure.table import MeasuredSubject, MeasurementTable, Subject
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session.model import ComparisonSpec

NOT_SHOWN = "not determinable: no bump stands out of the partials' scatter"


def _voice(stage: str, **quantities: Measured) -> MeasuredSubject:
    counts = {"n_plucks": Measured(30, ""), "n_notes": Measured(6, "")}
    return MeasuredSubject(Subject("voices", stage, "bridge", "magnetic"), {**counts, **quantities})


def _measurements(*voices: MeasuredSubject) -> Measurements:
    level = {"level_dbfs": {note: [-20.0, -20.5, -19.5] for note in STRINGS}}
    base = measurements(*(plucks(stage, level) for stage in ("stock", "rewound")))
    table = MeasurementTable(voices)
    return replace(base, table=table, voices=table.to_frame("voices"))


def _resonance(hz: float, sd: float) -> dict[str, Measured]:
    return {"resonance_hz": Measured(hz, "Hz", sd)}


def _row(of: Measurements, quantity: str) -> pd.Series:
    comparisons = compare_session(
        session("stock", "rewound", comparisons=[ComparisonSpec("stock", "rewound")]), of
    )
    table = told_differences(comparisons)
    rows = table[(table["quantity"] == quantity) & (table["note"] == "all")]
    assert len(rows) == 1
    return rows.iloc[0]


def test_a_resonance_moved_is_a_ratio_with_the_interval_of_both_errors() -> None:
    before, after = _resonance(3400.0, 51.0), _resonance(2700.0, 54.0)
    row = _row(_measurements(_voice("stock", **before), _voice("rewound", **after)), "resonance_hz")
    # Closed form: ln(2700/3400) ± 1.96 sqrt(0.015² + 0.02²), z test.
    middle, se = np.log(2700.0 / 3400.0), np.hypot(0.015, 0.02)
    assert row["difference"] == pytest.approx(100.0 * np.expm1(middle))
    assert row["ci_low"] == pytest.approx(100.0 * np.expm1(middle - 1.959964 * se))
    assert row["ci_high"] == pytest.approx(100.0 * np.expm1(middle + 1.959964 * se))
    assert row["p_value"] == pytest.approx(2.0 * scipy.stats.norm.sf(-middle / se))
    assert row["before_value"] == pytest.approx(3400.0)
    assert row["verdict"] == "likely-audible"
    assert row["unit"] == "%"
    assert (row["n_before"], row["n_after"]) == (30, 30)


def test_the_same_resonance_is_no_change_where_the_errors_are_small() -> None:
    same = [_voice(stage, **_resonance(3000.0, 20.0)) for stage in ("stock", "rewound")]
    assert _row(_measurements(*same), "resonance_hz")["verdict"] == "no-change"


def test_a_side_without_resonance_says_why() -> None:
    lacking = {"resonance_hz": unmeasured("Hz", NOT_SHOWN)}
    of = _measurements(_voice("stock", **_resonance(3400.0, 51.0)), _voice("rewound", **lacking))
    row = _row(of, "resonance_hz")
    assert np.isnan(row["difference"])
    assert row["reason"] == (
        "The resonance could not be determined: after the work no bump stands out of the partials' "
        "scatter."
    )


def test_where_no_threshold_is_known_the_row_says_so() -> None:
    place = [
        _voice(
            stage,
            pickup_distance_mm=Measured(40.0 + at, "mm", 1.0),
            pickup_point=Measured(0.06, ""),
        )
        for stage, at in (("stock", 0.0), ("rewound", 1.0))
    ]
    row = _row(_measurements(*place), "pickup_distance_mm")
    assert row["difference"] == pytest.approx(1.0)
    assert "is heard is not known" in row["reason"]
    assert "would settle" not in row["reason"]


def test_the_share_stands_in_where_no_scale_length_is_known() -> None:
    voices = [
        _voice(stage, pickup_point=Measured(at, "", 0.002))
        for stage, at in (("stock", 0.06), ("rewound", 0.08))
    ]
    row = _row(_measurements(*voices), "pickup_point")
    assert row["difference"] == pytest.approx(0.02)
    assert row["verdict"] == "measurable"


def test_a_place_given_for_both_is_no_difference() -> None:
    given = [
        _voice(stage, pickup_distance_mm=Measured(at, "mm"))
        for stage, at in (("stock", 40.0), ("rewound", 45.0))
    ]
    assert len(voice_block("a", "stock", "rewound", _measurements(*given))) == 0


def test_a_control_takes_no_pickup_s_place_out() -> None:
    def guitar(name: str, mm: float, hz: float) -> MeasuredSubject:
        return _voice(
            name, pickup_distance_mm=Measured(mm, "mm", 0.5), resonance_hz=Measured(hz, "Hz", 20.0)
        )

    names = ("stock", "rewound", "other-1", "other-2")
    level = {"level_dbfs": {note: [-20.0, -20.5, -19.5] for note in STRINGS}}
    table = MeasurementTable(tuple(
        guitar(name, mm, hz) for name, mm, hz in zip(
            names, (40.0, 45.0, 30.0, 32.0), (3000.0, 3300.0, 4000.0, 4200.0), strict=True)
    ))  # fmt: skip
    base = measurements(*(plucks(stage, level) for stage in names))
    of = replace(base, table=table, voices=table.to_frame("voices"))
    spec = ComparisonSpec("stock", "rewound", "other-1", "other-2")
    rows = judge_session(session(*names, comparisons=[spec]), of).rows
    by_column = dict(zip(rows.column, rows.difference, strict=True))
    assert by_column["pickup_distance_mm"] == pytest.approx(5.0)
    assert by_column["resonance_hz"] == pytest.approx(np.log(1.1) - np.log(1.05))


def test_a_resonance_is_known_to_have_moved_where_neither_is_known_itself() -> None:
    keys = tuple((stage, "bridge", "magnetic") for stage in ("stock", "rewound"))
    # Two values 0.2 uncertain, all but 0.03 of it in common: sd of their difference is 0.03 √2.
    common = np.full((2, 2), 0.2**2 - 0.03**2) + np.eye(2) * 0.03**2
    covariance = np.zeros((4, 4))
    covariance[::2, ::2], covariance[1::2, 1::2] = common, common
    log_hz = np.log([3400.0, 2700.0])
    release = SharedRelease(
        keys, np.stack([log_hz, np.zeros(2)], axis=1), covariance, np.full(2, 8e3), converged=True
    )
    open_ended = {"resonance_hz": unmeasured("Hz", NOT_SHOWN)}
    of = _measurements(*(_voice(stage, **open_ended) for stage in ("stock", "rewound")))
    row = _row(replace(of, releases=(release,)), "resonance_hz")
    assert row["difference"] == pytest.approx(100.0 * (2700.0 / 3400.0 - 1.0))
    half = 1.959964 * 0.03 * np.sqrt(2.0)
    assert row["ci_high"] == pytest.approx(100.0 * np.expm1(np.log(2700.0 / 3400.0) + half))
    assert np.isnan(row["before_value"])
    assert (row["n_before"], row["n_after"]) == (30, 30)
    assert row["verdict"] == "likely-audible"
