"""``compare`` and ``report`` on good recordings: the files, the last line, the numbers."""

from __future__ import annotations

import json
import shutil

import pandas as pd
import pytest

from tonecompare.quantities.columns import BLEND, DIFFERENCES, MEASUREMENTS, QUIET


def test_compare_writes_a_report_and_says_where(compared):
    folder, result = compared
    assert result.exit_code == 0, result.stderr
    assert result.stdout.splitlines()[-1] == f"Report: {folder / 'out' / 'index.html'}"
    for name, columns in (
        ("measurements.csv", MEASUREMENTS),
        ("quiet.csv", QUIET),
        ("differences.csv", DIFFERENCES),
        ("blend.csv", BLEND),
    ):
        assert tuple(pd.read_csv(folder / "out" / name).columns[: len(columns)]) == columns
    summary = json.loads((folder / "out" / "summary.json").read_text(encoding="utf-8"))
    assert summary["schema"]
    assert not (folder / "out" / "clips").exists()


def test_compare_finds_the_level_that_was_halved_and_nothing_else_in_it(compared):
    differences = pd.read_csv(compared[0] / "out" / "differences.csv")
    rows = {
        (row["voice"], row["quantity"]): row
        for row in differences[differences["note"] == "all"].to_dict("records")
    }
    level = rows["neck", "level_dbfs"]
    # after/neck was made with half the gain: 20 lg 0.5 = -6.02 dB.
    assert level["difference"] == pytest.approx(-6.02, abs=0.6)
    assert level["ci_low"] < -6.02 < level["ci_high"]
    # The same decay times went into both: within the hearing threshold of 25 %.
    decay = rows["bridge", "decay_s"]
    assert abs(decay["difference"]) < 2
    assert decay["verdict"] in ("no-change", "undecided")


def test_the_findings_of_the_page_are_shown_on_the_terminal_too(compared):
    folder, result = compared
    summary = json.loads((folder / "out" / "summary.json").read_text(encoding="utf-8"))
    shown = " ".join(result.stdout.split())
    assert summary["findings"]
    for finding in summary["findings"]:
        assert f"* {' '.join(finding['text'].split())}" in shown


@pytest.mark.usefixtures("no_charts")
def test_a_recording_left_out_is_said_on_terminal_page_and_summary_alike(pair, run):
    for side in ("before", "after"):
        (pair / side / "piezo.wav").write_bytes(b"")
    result = run("compare", "before", "after", "--out", "out", "--no-clips")
    said = [one["text"] for one in json.loads((pair / "out/summary.json").read_text())["findings"]]
    assert "2 recordings left out; named below with the reason." in said
    shown = " ".join(result.stdout.split())
    for text in said:
        assert f"* {' '.join(text.split())}" in shown
    assert result.stdout.count("\n* ") + result.stdout.startswith("* ") == len(said)


def test_progress_is_shown_when_asked_for(compared):
    steps = compared[1].stderr.splitlines()
    assert steps[0].startswith("Measured 1 of 4")
    assert "Comparing" in steps
    assert steps[steps.index("Comparing") :].index("Writing")


def test_the_terminal_shows_findings_then_where_and_what_to_type_next(compared):
    folder, result = compared
    assert result.stdout.startswith("* ")
    assert result.stderr.splitlines()[-1].startswith("Next: tonecompare explain ")
    assert max(map(len, result.stdout.splitlines()[:-1])) <= 80
    said = result.output
    assert said.index("* ") < said.index("Report: ") < said.index("Next: ")
    assert folder.exists()


def test_report_of_a_session_replaces_an_older_one_and_measures_the_same(run, pair, compared):
    before = pd.read_csv(compared[0] / "out" / "measurements.csv")
    shutil.copytree(compared[0] / "out", pair / "out")
    (pair / "out" / "index.html").write_text("old")
    (pair / "out" / "charts" / "old.svg").write_text("old")
    result = run("report", ".", "--no-clips", "--out", "out")
    assert result.exit_code == 0, result.stderr
    assert sorted(path.name for path in pair.iterdir()) == ["after", "before", "out"]
    assert (pair / "out" / "index.html").read_text(encoding="utf-8") != "old"
    assert (pair / "out" / "charts" / "old.svg").read_text(encoding="utf-8") == "old"
    assert (pair / "out" / "index.edited.html").read_text(encoding="utf-8") == "old"
    assert "index.html was changed since it was written" in result.stderr
    numbers = before.select_dtypes("number").columns
    order = ["stage", "voice", "pluck"]
    one, two = (
        each.sort_values(order, ignore_index=True)
        for each in (before, pd.read_csv(pair / "out" / "measurements.csv"))
    )
    pd.testing.assert_frame_equal(one[numbers], two[numbers])


@pytest.mark.usefixtures("measured_anew")
def test_workers_do_not_change_the_numbers(run, pair):
    texts = [
        run("measure", "before/neck.wav", "after/neck.wav", "--csv", workers=n).stdout
        for n in (1, 2)
    ]
    assert texts[0] == texts[1]
    assert texts[0].count("\n") == 13
    assert pair.exists()
