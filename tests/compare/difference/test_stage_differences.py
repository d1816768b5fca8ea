"""The comparison of a session on hand-made tables with known answers."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from compare_frames import FIVE, STRINGS, measurements, plucks, quiet, session, told_notes
from scipy import stats
from simulated_tables import Scatter, simulated_session

from tonecompare.compare import compare_session
from tonecompare.compare.difference.difference_table import EXTRA, to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.model import VERDICTS
from tonecompare.errors import SessionError
from tonecompare.quantities.columns import DIFFERENCES
from tonecompare.report.words.reason_words import told_differences
from tonecompare.session.model import ComparisonSpec, Stage

SPEC = ComparisonSpec("stock", "rewound")
#: Differences of the notes with mean 0 and standard deviation 1 (n - 1) over six notes.
SIX = np.array([-1.0, 1.0, -1.0, 1.0, -1.0, 1.0]) / np.sqrt(6.0 / 5.0)


def _levels(stage: str, at: float, *, by_note: object = 0.0, sd: float = 0.5) -> pd.DataFrame:
    offsets = np.broadcast_to(np.asarray(by_note, dtype=float), (6,))
    return plucks(
        stage,
        {
            "level_dbfs": {
                note: [at + offset + sd * x for x in FIVE]
                for note, offset in zip(STRINGS, offsets, strict=True)
            }
        },
    )


def _ratios(stage: str, column: str, at: float, *, scatter: float = 0.0) -> pd.DataFrame:
    values = {
        note: [at * float(np.exp(0.01 * x + scatter * y)) for x in FIVE]
        for note, y in zip(STRINGS, SIX, strict=True)
    }
    return plucks(stage, {column: values})


def _compare(before: pd.DataFrame, after: pd.DataFrame, **more: object) -> pd.DataFrame:
    result = compare_session(
        session("stock", "rewound", comparisons=[SPEC], **more), measurements(before, after)
    )
    return told_differences(result)


def _row(table: pd.DataFrame, quantity: str = "level_dbfs", note: str = "all") -> pd.Series:
    rows = table[(table["quantity"] == quantity) & (table["note"] == note)]
    assert len(rows) >= 1
    return rows.iloc[0]


def test_columns_are_the_contract_then_the_extras() -> None:
    table = _compare(_levels("stock", -20.0), _levels("rewound", -14.0))
    assert tuple(table.columns) == (*DIFFERENCES, *EXTRA, "sisters", "played")
    assert set(table["verdict"]) <= set(VERDICTS)
    assert (table["reason"].str.len() > 20).all()
    assert table["reason"].str.endswith(".").all()


def test_closed_form_of_the_row_over_the_notes() -> None:
    # Six note differences of mean 3 and standard deviation 0.2: t(0.975, 5)/sqrt(6) = 1.0494.
    table = _compare(_levels("stock", -20.0), _levels("rewound", -17.0, by_note=0.2 * SIX))
    row = _row(table)
    assert row["difference"] == pytest.approx(3.0)
    assert row["ci_high"] - row["difference"] == pytest.approx(0.2 * 1.0494, abs=2e-5)
    assert (row["before_value"], row["after_value"]) == pytest.approx((-20.0, -17.0))
    assert (row["n_before"], row["n_after"], row["n_notes"]) == (30, 30, 6)
    assert (row["hearing_threshold"], row["unit"]) == (1.0, "dB")


def test_closed_form_of_a_note_row() -> None:
    # Two groups of five of standard deviation 0.5: half-width 1.4584 * 0.5 (t with 8 df).
    row = _row(_compare(_levels("stock", -20.0), _levels("rewound", -14.0)), note="A2")
    assert row["difference"] == pytest.approx(6.0)
    assert row["ci_high"] - row["difference"] == pytest.approx(0.5 * 1.4584, abs=5e-5)
    assert (row["n_before"], row["n_after"], row["n_notes"]) == (5, 5, 1)


def test_notes_weigh_the_same_whatever_their_plucks() -> None:
    before = plucks(
        "stock", {"level_dbfs": {"E2": [0.0] * 2 + [0.1], "A2": [0.0, 0.1], "D3": [0.0, 0.1]}}
    )
    after = plucks(
        "rewound", {"level_dbfs": {"E2": [9.0, 9.1] * 10, "A2": [0.0, 0.1], "D3": [0.0, 0.1]}}
    )
    assert _row(_compare(before, after))["difference"] == pytest.approx(3.0, abs=0.03)


def test_a_big_change_is_likely_audible_and_a_small_one_measurable() -> None:
    scatter = 0.05 * SIX
    big = _row(_compare(_levels("stock", -20.0), _levels("rewound", -14.0, by_note=scatter)))
    small = _row(_compare(_levels("stock", -20.0), _levels("rewound", -19.3, by_note=scatter)))
    assert (big["verdict"], small["verdict"]) == ("likely-audible", "measurable")
    assert "more than twice the hearing threshold of 1 dB: likely audible." in big["reason"]
    assert "within the hearing threshold of 1 dB: not expected to be audible." in small["reason"]


def test_between_one_and_two_thresholds_may_be_audible() -> None:
    row = _row(_compare(_levels("stock", -20.0), _levels("rewound", -18.5, by_note=0.05 * SIX)))
    assert row["verdict"] == "measurable"
    assert row["reason"].endswith("it may be audible in direct comparison.")


def test_nothing_changed_is_no_change_when_the_interval_shows_it() -> None:
    row = _row(_compare(_levels("stock", -20.0), _levels("rewound", -20.0, by_note=0.3 * SIX)))
    assert row["verdict"] == "no-change"
    assert row["reason"].startswith("The whole interval lies within the hearing threshold")


def test_too_wide_an_interval_is_undecided_and_says_what_would_settle_it() -> None:
    row = _row(_compare(_levels("stock", -20.0), _levels("rewound", -19.5, by_note=1.5 * SIX)))
    assert row["verdict"] == "undecided"
    assert "−1.1 to +2.1 dB" in row["reason"]
    assert "more note" in row["reason"]


def test_a_note_alone_claims_nothing_where_the_notes_do_not_show_it() -> None:
    opposite = [6.0, -6.0, 6.0, -6.0, 6.0, -6.0]
    table = _compare(_levels("stock", -20.0), _levels("rewound", -20.0, by_note=opposite))
    assert set(table.loc[table["quantity"] == "level_dbfs", "verdict"]) == {"undecided"}
    assert "one note alone can be the picking place" in _row(table, note="E2")["reason"]


def test_one_notes_interval_knows_that_the_hand_is_set_anew() -> None:
    values = {"level_dbfs": {"E2": [-20.0 + x for x in FIVE]}}
    values["centroid_hz"] = {"E2": [900.0 * float(np.exp(0.01 * x)) for x in FIVE]}
    row = _row(_compare(plucks("stock", values), plucks("rewound", values)))
    bright = _row(_compare(plucks("stock", values), plucks("rewound", values)), "centroid_hz")
    # Welch's interval of five plucks a side; what strength moves scatters by 1 + 5 * 0.3² times it.
    half = stats.t.ppf(0.975, 8) * np.std(FIVE, ddof=1) * np.sqrt(2.0 / 5.0)
    assert row["ci_high"] - row["difference"] == pytest.approx(half * np.sqrt(1.45))
    assert np.log1p(bright["ci_high"] / 100.0) == pytest.approx(0.01 * half)


def test_one_note_says_nothing_over_the_notes() -> None:
    before = plucks("stock", {"level_dbfs": {"E2": [-20.0 + x for x in FIVE]}})
    after = plucks("rewound", {"level_dbfs": {"E2": [-10.0 + x for x in FIVE]}})
    row = _row(_compare(before, after))
    assert row["verdict"] == "undecided"
    assert "Record at least 3 notes" in row["reason"]
    assert np.isfinite(row["ci_low"])
    assert np.isnan(row["p_adjusted"])


def test_two_notes_are_judged_by_their_scatter_with_one_degree_of_freedom() -> None:
    before = plucks("stock", {"level_dbfs": {n: [-20.0 + x for x in FIVE] for n in ("E2", "A2")}})
    after = plucks(
        "rewound",
        {"level_dbfs": {"E2": [-13.0 + x for x in FIVE], "A2": [-15.0 + x for x in FIVE]}},
    )
    row = _row(_compare(before, after))
    # t(0.975, 1) = 12.706; standard error of 7 and 5 is 1.
    assert row["ci_high"] - row["difference"] == pytest.approx(12.706, abs=1e-3)
    assert row["verdict"] == "undecided"


def test_one_pluck_per_note_still_speaks_over_the_notes() -> None:
    before = plucks("stock", {"level_dbfs": {note: [-20.0] for note in STRINGS}})
    after = plucks(
        "rewound",
        {"level_dbfs": {n: [-14.0 + x] for n, x in zip(STRINGS, 0.1 * SIX, strict=True)}},
    )
    table = _compare(before, after)
    assert _row(table)["verdict"] == "likely-audible"
    assert "Record at least 3 plucks" in _row(table, note="E2")["reason"]


def test_measured_on_one_side_only() -> None:
    before = plucks(
        "stock", {"decay_s": {n: [5.0, 5.1] for n in STRINGS}, "level_dbfs": {"E2": [1.0]}}
    )
    after = plucks("rewound", {"level_dbfs": {n: [1.0, 1.1] for n in STRINGS}})
    row = _row(_compare(before, after), "decay_s")
    assert np.isnan(row["difference"])
    assert row["verdict"] == "undecided"
    assert row["reason"].startswith("Could not be measured on both sides")
    assert row["before_value"] == pytest.approx(5.05, abs=1e-3)


def test_copies_of_one_pluck_are_no_repeats() -> None:
    before = plucks("stock", {"level_dbfs": {n: [-20.0] * 3 for n in STRINGS}})
    after = plucks("rewound", {"level_dbfs": {n: [-15.0] * 3 for n in STRINGS}})
    row = _row(_compare(before, after))
    assert row["verdict"] == "undecided"
    assert "copies of one pluck" in row["reason"]


def test_a_stage_against_itself_has_not_changed() -> None:
    frame = _levels("stock", -20.0, by_note=SIX)
    row = _row(_compare(frame, frame.assign(stage="rewound")))
    assert (row["difference"], row["verdict"]) == (0.0, "no-change")


def test_centroid_stands_in_percent_and_in_cents() -> None:
    table = _compare(
        _ratios("stock", "centroid_hz", 800.0),
        _ratios("rewound", "centroid_hz", 1600.0, scatter=0.01),
    )
    rows = table[(table["note"] == "all") & (table["quantity"] == "centroid_hz")]
    assert list(rows["unit"]) == ["%", "cents"]
    assert rows["difference"].to_numpy() == pytest.approx([100.0, 1200.0])
    assert rows["before_value"].to_numpy() == pytest.approx([800.0, 800.0])
    assert rows["p_adjusted"].nunique() == 1


def test_decay_thresholds_differ_up_and_down() -> None:
    before = _ratios("stock", "decay_s", 5.0)
    down = _row(_compare(before, _ratios("rewound", "decay_s", 3.5, scatter=0.01)), "decay_s")
    up = _row(_compare(before, _ratios("rewound", "decay_s", 6.5, scatter=0.01)), "decay_s")
    assert (down["hearing_threshold"], up["hearing_threshold"]) == pytest.approx((25.0, 40.0))
    assert down["difference"] == pytest.approx(-30.0)
    assert (down["threshold_low"], down["threshold_high"]) == pytest.approx((-25.0, 40.0))


def test_tuning_and_picking_place_are_never_the_work() -> None:
    values = {n: [20.0 + x for x in FIVE] for n in STRINGS}
    shifted = {n: [0.3 + 0.001 * x for x in FIVE] for n in STRINGS}
    before = plucks(
        "stock",
        {
            "cents": {n: list(FIVE) for n in STRINGS},
            "pluck_point": {n: [0.2 + 0.001 * x for x in FIVE] for n in STRINGS},
        },
    )
    scattered = {n: [v + 0.01 * y for v in values[n]] for n, y in zip(STRINGS, SIX, strict=True)}
    moved = {n: [v + 1e-4 * y for v in shifted[n]] for n, y in zip(STRINGS, SIX, strict=True)}
    after = plucks("rewound", {"cents": scattered, "pluck_point": moved})
    table = _compare(before, after)
    for quantity, word in (("cents", "tuning"), ("pluck_point", "playing")):
        row = _row(table, quantity)
        assert row["verdict"] == "confounded"
        assert word in row["reason"]


def test_thresholds_of_the_session_are_used() -> None:
    before, after = _levels("stock", -20.0), _levels("rewound", -20.0, by_note=0.3 * SIX)
    row = _row(_compare(before, after, hearing_thresholds={"level": 0.1}))
    assert (row["hearing_threshold"], row["verdict"]) == (0.1, "undecided")
    with pytest.raises(SessionError, match="loud"):
        _compare(before, after, hearing_thresholds={"loud": 0.1})


def test_without_comparisons_each_stage_is_set_against_its_origin() -> None:
    stages = [
        Stage("stock", "heron", Path("stock")),
        Stage("rewound", "heron", Path("rewound"), "stock"),
    ]
    result = compare_session(
        session(*stages), measurements(_levels("stock", -20.0), _levels("rewound", -14.0))
    )
    assert set(result.differences["comparison"]) == {"stock to rewound"}


def test_nothing_measured_gives_an_empty_table_and_a_note() -> None:
    result = compare_session(session("stock", "rewound", comparisons=[SPEC]), measurements())
    assert len(result.differences) == 0
    assert tuple(result.differences.columns) == (*DIFFERENCES, *EXTRA)
    notes = told_notes(result, SPEC.name)
    assert "Stage stock has no measured recording" in notes


def test_no_comparison_at_all() -> None:
    result = compare_session(session("stock"), measurements(_levels("stock", -20.0)))
    assert len(result.differences) == 0
    assert result.notes == {}


def test_inputs_stay_as_they_are() -> None:
    known, measured = simulated_session(np.random.default_rng(1), Scatter(voices=("bridge",)))
    before = measured.plucks.copy(deep=True), measured.quiet.copy(deep=True)
    compare_session(known, measured)
    pd.testing.assert_frame_equal(measured.plucks, before[0])
    pd.testing.assert_frame_equal(measured.quiet, before[1])


def test_judging_a_whole_session_takes_well_under_a_second() -> None:
    known, measured = simulated_session(np.random.default_rng(1), Scatter(), control=True)
    judge_session(known, measured)
    start = time.process_time()
    table = to_frame(judge_session(known, measured).rows)
    assert len(table) > 1000
    assert time.process_time() - start < 0.5


def test_quiet_rows_stand_beside_the_plucks() -> None:
    result = compare_session(
        session("stock", "rewound", comparisons=[SPEC]),
        measurements(
            _levels("stock", -20.0),
            _levels("rewound", -20.0),
            quiets=[
                quiet("stock", {"hum_dbfs": [-70.0, -70.2, -69.8]}),
                quiet("rewound", {"hum_dbfs": [-80.0, -80.2, -79.8]}),
            ],
        ),
    )
    row = _row(told_differences(result), "hum_dbfs")
    assert row["difference"] == pytest.approx(-10.0)
    assert (row["verdict"], row["n_before"], row["n_notes"]) == ("likely-audible", 3, 0)
    assert "quiet stretches" in row["reason"]


def test_quantities_of_two_voices_lend_no_scatter_to_each_other() -> None:
    # Partials of two pickups lie note by note as their places say, levels all alike: the level's
    # own t over the notes is then the whole of its test.
    def voice(name: str, level: float, share: float) -> pd.DataFrame:
        columns = {"level_dbfs": [level + 0.1 * share * x for x in SIX]}
        for partial in range(1, 13):
            rolled = np.roll(SIX, partial) * (1.0 + 0.1 * partial)
            columns[f"h{partial:02d}_db"] = [-20.0 + 15.0 * share * x for x in rolled]
        values = {
            column: {
                note: [at + 0.5 * x for x in FIVE] for note, at in zip(STRINGS, notes, strict=True)
            }
            for column, notes in columns.items()
        }
        return plucks("stock", values, voice=name)

    spec = ComparisonSpec("stock/neck", "stock/bridge")
    table = told_differences(
        compare_session(
            session("stock", comparisons=[spec]),
            measurements(voice("neck", -20.0, 0.0), voice("bridge", -18.0, 1.0)),
        )
    )
    over_notes = stats.ttest_1samp(2.0 + 0.1 * SIX, 0.0)
    assert _row(table)["p_value"] == pytest.approx(over_notes.pvalue, rel=1e-6)
