"""``compare`` and ``report`` on good recordings: the files, the last line, the numbers."""

from __future__ import annotations

import json

import pandas as pd
import pytest

from tonecompare.measure.columns import DIFFERENCES, MEASUREMENTS, QUIET


def test_compare_writes_a_report_and_says_where(run, pair):
    result = run("compare", "before", "after", "--no-clips")
    assert result.exit_code == 0, result.stderr
    assert result.stdout.splitlines()[-1] == "Report: reports/before to after/index.html"
    folder = pair / "reports" / "before to after"
    for name, columns in (
        ("measurements.csv", MEASUREMENTS),
        ("quiet.csv", QUIET),
        ("differences.csv", DIFFERENCES),
    ):
        assert tuple(pd.read_csv(folder / name).columns[: len(columns)]) == columns
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    assert summary["schema"]
    assert not (folder / "clips").exists()
    differences = pd.read_csv(folder / "differences.csv").set_index(["voice", "note", "quantity"])
    level = differences.loc[("neck", "all", "level_dbfs")]
    # after/neck was made with half the gain: 20 lg 0.5 = -6.02 dB.
    assert level["difference"] == pytest.approx(-6.02, abs=0.6)
    assert level["ci_low"] < -6.02 < level["ci_high"]


def test_report_of_a_session_folder_matches_compare(run, pair):
    assert run("compare", "before", "after", "--no-clips", "--out", "one").exit_code == 0
    result = run("report", ".", "--no-clips", "--out", "two")
    assert result.exit_code == 0, result.stderr
    one, two = (pd.read_csv(pair / name / "measurements.csv") for name in ("one", "two"))
    numbers = one.select_dtypes("number").columns
    order = ["stage", "voice", "pluck"]
    one, two = (each.sort_values(order, ignore_index=True) for each in (one, two))
    pd.testing.assert_frame_equal(one[numbers], two[numbers])


def test_workers_do_not_change_the_numbers(run, pair):
    texts = [
        run("measure", "before/neck.wav", "after/neck.wav", "--csv", workers=n).stdout
        for n in (1, 2)
    ]
    assert texts[0] == texts[1]
    assert texts[0].count("\n") == 13
    assert pair.exists()


def test_progress_is_shown_when_asked_for(run, pair):
    result = run("compare", "before", "after", "--no-clips", "--progress", "--out", "out")
    steps = result.stderr.splitlines()
    assert steps[0].startswith("Measured 1 of 4")
    assert "Comparing" in steps
    assert steps[-1] == "Writing"
    assert pair.exists()
