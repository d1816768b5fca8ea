"""Differences of the quiet from few stretches."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, quiet, session, told_notes

from tonecompare.compare import compare_session
from tonecompare.compare.check.check_results import Checked
from tonecompare.compare.check.smallest_shown import resolution
from tonecompare.compare.difference import quiet_differences
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session.model import ComparisonSpec

SPEC = ComparisonSpec("stock", "rewound")


@pytest.fixture
def _same_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out what two recordings of one state differ by, so that the rest is a closed form."""
    monkeypatch.setattr(quiet_differences, "BETWEEN_RECORDINGS_DB", 0.0)
    monkeypatch.setattr(quiet_differences, "HISS_BETWEEN_RECORDINGS_DB", 0.0)


def _compare(
    quiets: Sequence[pd.DataFrame], pluck_frames: Sequence[pd.DataFrame] = ()
) -> pd.DataFrame:
    known = session("stock", "rewound", comparisons=[SPEC])
    return told_differences(compare_session(known, measurements(*pluck_frames, quiets=quiets)))


def _row(table: pd.DataFrame, quantity: str, voice: str = "bridge") -> pd.Series:
    return table[(table["quantity"] == quantity) & (table["voice"] == voice)].iloc[0]


@pytest.mark.usefixtures("_same_recording")
def test_many_stretches_are_judged_by_their_own_scatter() -> None:
    row = _row(
        _compare(
            [
                quiet("stock", {"hum_dbfs": [-70.0 + 0.2 * x for x in FIVE]}),
                quiet("rewound", {"hum_dbfs": [-65.0 + 0.2 * x for x in FIVE]}),
            ]
        ),
        "hum_dbfs",
    )
    # Two groups of five, standard deviation 0.2: 1.4584 * 0.2 (t with 8 df).
    assert row["ci_high"] - row["difference"] == pytest.approx(0.2 * 1.4584, abs=5e-5)


@pytest.mark.usefixtures("_same_recording")
def test_few_stretches_pool_their_scatter_over_voices_and_stages() -> None:
    frames = [
        quiet(stage, {"hum_dbfs": [at - 0.1, at + 0.1]}, voice=voice)
        for stage, at in (("stock", -70.0), ("rewound", -65.0))
        for voice in ("bridge", "neck", "middle")
    ]
    row = _row(_compare(frames), "hum_dbfs")
    # Six pairs of variance 0.02 pooled: se = sqrt(0.02 (1/2 + 1/2)), t(0.975, 6) = 2.4469.
    assert row["ci_high"] - row["difference"] == pytest.approx(2.4469 * np.sqrt(0.02), abs=1e-4)
    assert row["verdict"] == "likely-audible"


@pytest.mark.usefixtures("_same_recording")
def test_scatter_is_never_less_than_half_the_stretches_own_variance() -> None:
    values = {"hum_dbfs": [-70.0, -70.001], "hum_dbfs_se": [0.5, 0.5]}
    frames = [
        quiet(stage, values, voice=voice)
        for stage in ("stock", "rewound")
        for voice in ("bridge", "neck", "middle")
    ]
    row = _row(_compare(frames), "hum_dbfs")
    # se = sqrt(0.5²/2 (1/2 + 1/2)), t(0.975, 6) = 2.4469.
    expected = 2.4469 * 0.5 / np.sqrt(2.0)
    assert row["ci_high"] - row["difference"] == pytest.approx(expected, abs=1e-3)


@pytest.mark.usefixtures("_same_recording")
def test_a_small_pool_is_weighed_with_the_stretches_own_uncertainty() -> None:
    values = {"hum_dbfs": [-70.0, -70.4], "hum_dbfs_se": [0.1, 0.1]}
    row = _row(_compare([quiet("stock", values), quiet("rewound", values)]), "hum_dbfs")
    # Two degrees of freedom of variance 0.08, two of 0.1²; t(0.975, 4) = 2.7764.
    se = np.sqrt((2.0 * 0.08 + 2.0 * 0.01) / 4.0)
    assert row["ci_high"] - row["difference"] == pytest.approx(2.7764 * se, abs=1e-4)


@pytest.mark.usefixtures("_same_recording")
def test_a_small_pool_without_own_uncertainty_stands_alone() -> None:
    values = {"hum_dbfs": [-70.0, -70.4]}
    row = _row(_compare([quiet("stock", values), quiet("rewound", values)]), "hum_dbfs")
    # t(0.975, 2) = 4.3027.
    assert row["ci_high"] - row["difference"] == pytest.approx(4.3027 * np.sqrt(0.08), abs=1e-4)


@pytest.mark.usefixtures("_same_recording")
@pytest.mark.parametrize("column", ["hum_dbfs", "hiss_dbfs"])
def test_a_single_stretch_uses_its_own_uncertainty(column: str) -> None:
    def one(at: float) -> dict[str, list[float]]:
        return {column: [at], f"{column}_se": [0.05]}

    row = _row(_compare([quiet("stock", one(-70.0)), quiet("rewound", one(-67.0))]), column)
    assert row["ci_high"] - row["difference"] == pytest.approx(
        1.959964 * np.sqrt(2.0) * 0.05, abs=1e-5
    )
    assert row["verdict"] == "likely-audible"


@pytest.mark.parametrize(("column", "between"), [("hum_dbfs", 0.2), ("hiss_dbfs", 0.05)])
def test_two_recordings_of_one_state_differ_by_more_than_their_stretches(
    column: str, between: float
) -> None:
    def steady(at: float) -> dict[str, list[float]]:
        return {column: [at] * 4, f"{column}_se": [0.001] * 4}

    row = _row(_compare([quiet("stock", steady(-70.0)), quiet("rewound", steady(-69.9))]), column)
    half = 1.959964 * np.sqrt(2.0) * between
    assert row["ci_high"] - row["difference"] == pytest.approx(half, rel=0.01)


def test_a_single_stretch_without_uncertainty_is_undecided_with_the_reason() -> None:
    row = _row(
        _compare([quiet("stock", {"hum_dbfs": [-70.0]}), quiet("rewound", {"hum_dbfs": [-50.0]})]),
        "hum_dbfs",
    )
    assert row["difference"] == pytest.approx(20.0)
    assert row["verdict"] == "undecided"
    assert "two or more quiet stretches" in row["reason"]
    assert np.isnan(row["ci_low"])


def test_what_one_stretch_cannot_show_is_said() -> None:
    values = {"hum_dbfs": [-70.0], "hum_dbfs_se": [0.1]}
    result = compare_session(
        session("stock", "rewound", comparisons=[SPEC]),
        measurements(quiets=[quiet("stock", values), quiet("rewound", values)]),
    )
    assert "not what moves between stretches" in told_notes(result, SPEC.name)


@pytest.mark.parametrize("quantity", ["hum_dbfs", "hiss_dbfs"])
def test_a_check_promises_no_less_hum_than_the_comparison_can_show(quantity: str) -> None:
    values = {quantity: [-70.0], f"{quantity}_se": [0.05]}
    frames = [quiet("stock", values), quiet("rewound", values)]
    row = _row(_compare(frames), quantity)
    checked = Checked(session("stock"), (), measurements(quiets=frames))
    shown = {each.quantity: each.smallest for each in resolution(checked, "stock")}[quantity]
    # Four of five such changes are shown: 1.960 + 0.842 standard errors, the half width has 1.960.
    assert shown is not None
    assert shown / row["ci_high"] == pytest.approx((1.95996 + 0.84162) / 1.95996, rel=1e-4)


@pytest.mark.usefixtures("_same_recording")
def test_signal_to_hum_carries_the_plucks_uncertainty() -> None:
    values = {"signal_to_hum_db": [50.0 + 0.01 * x for x in FIVE]}
    frames = [quiet("stock", values), quiet("rewound", values)]
    levels = [
        plucks(
            stage,
            {
                "level_dbfs": {
                    n: [k * s * (-1.0) ** i + x for x in FIVE] for i, n in enumerate(STRINGS)
                }
            },
        )
        for stage, s, k in (("stock", 0.0, 0.0), ("rewound", 1.0, 1.0))
    ]
    along = _row(_compare(frames, levels), "signal_to_hum_db")
    level = _row(_compare(frames, levels), "level_dbfs")
    assert along["ci_high"] == pytest.approx(level["ci_high"], rel=0.01)


def test_signal_to_hum_claims_nothing_where_no_signal_is_shared_or_known() -> None:
    values = {"hum_dbfs": [-70.0 + 0.01 * x for x in FIVE]}
    frames = [
        quiet(stage, {**values, "signal_to_hum_db": [at + 0.01 * x for x in FIVE]})
        for stage, at in (("stock", 50.0), ("rewound", 43.0))
    ]
    for before, after in (("E2", "A2"), ("E2", "E2")):
        levels = [
            plucks(stage, {"level_dbfs": {note: [level]}})
            for stage, note, level in (("stock", before, -20.0), ("rewound", after, -27.0))
        ]
        assert _row(_compare(frames, levels), "signal_to_hum_db")["verdict"] == "undecided"


@pytest.mark.usefixtures("_same_recording")
def test_signal_to_hum_is_that_of_the_notes_both_stages_have() -> None:
    """Three soft notes more at the second stage lower the median level by 7 dB; nothing changed."""
    values = {"hum_dbfs": [-70.0 + 0.01 * x for x in FIVE]}
    frames = [
        quiet(stage, {**values, "signal_to_hum_db": [at + 0.01 * x for x in FIVE]})
        for stage, at in (("stock", 50.0), ("rewound", 43.0))
    ]
    notes = {name: [-20.0 + 0.1 * x for x in FIVE] for name in STRINGS[:3]}
    more = {name: [-34.0 + 0.1 * x for x in FIVE] for name in STRINGS[3:]}
    levels = [
        plucks("stock", {"level_dbfs": notes}), plucks("rewound", {"level_dbfs": notes | more})
    ]  # fmt: skip
    row = _row(_compare(frames, levels), "signal_to_hum_db")
    assert row["difference"] == pytest.approx(0.0, abs=1e-9)
    assert row["verdict"] != "likely-audible"


def test_voices_without_a_partner_are_left_out() -> None:
    frames = [
        quiet("stock", {"hum_dbfs": [-70.0] * 2}, voice="neck"),
        quiet("rewound", {"hum_dbfs": [-70.0] * 2}),
    ]
    assert len(_compare(frames)) == 0
