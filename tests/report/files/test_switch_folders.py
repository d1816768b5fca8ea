"""A report that replaces another: kills at every line, two runs at once, broken old ones."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import killed_switch
import pytest
from killed_switch import stands, write

from tonecompare.errors import InputError
from tonecompare.report.files.report_folder import check_replaceable, whole_or_nothing
from tonecompare.report.makers import MADE_BY


@pytest.fixture(params=["exchange", "renames"])
def deaths(request, tmp_path):
    ran = subprocess.run(
        [sys.executable, killed_switch.__file__, str(tmp_path), request.param],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return request.param, [json.loads(line) for line in ran.stdout.splitlines()]


@pytest.mark.long
def test_a_kill_at_any_line_leaves_a_whole_report_now_or_at_the_next_start(deaths):
    how, rows = deaths
    assert len(rows) > 100
    assert [ended for _, ended, *_ in rows] == [9] * (len(rows) - 1) + [0]
    now = {after for _, _, after, *_ in rows}
    assert {"earlier", "later"} <= now
    # Only between the two renames is none in place.
    assert now - {"earlier", "later"} <= ({"none"} if how == "renames" else set())
    for _, _, _, following, mine, beside in rows:
        assert following == "next"
        assert mine == "mine"
        assert beside == []


def test_an_earlier_report_left_aside_comes_back_even_when_the_next_run_fails(tmp_path):
    aside = tmp_path / ".out-earlier-abc" / "report"
    write(tmp_path / "out", "earlier")
    aside.parent.mkdir()
    (tmp_path / "out").rename(aside)
    with pytest.raises(KeyboardInterrupt), whole_or_nothing(tmp_path / "out"):
        raise KeyboardInterrupt
    assert stands(tmp_path / "out") == "earlier"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("exists", [True, False])
def test_runs_into_one_folder_at_once_both_end_well(tmp_path, exists):
    out, together = tmp_path / "out", threading.Barrier(4)
    failed: list[BaseException] = []
    if exists:
        write(out, "earlier")

    def run(name: str) -> None:
        try:
            with whole_or_nothing(out) as folder:
                (folder / "index.html").write_text(name)
                (folder / "summary.json").write_text(json.dumps({"made_by": MADE_BY}))
                together.wait(10)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=run, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert stands(out) in set("abcd")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "text",
    [
        b"[" * 100_000,
        b'{"made_by": ' + b"[" * 900 + b"]" * 900 + b"}",
        b'{"made_by": 1' + b"0" * 6000 + b"}",
        b"\xff\xfe",
        b"null",
        b'{"made_by": "\\ud800", "files": {"\\u0000": 1}, "own_sha256": ""}',
        b'{"made_by": "tonecompare report", "files": {"a": [1]}, "own_sha256": "x", "d": 1e999}',
    ],
)  # fmt: skip
def test_a_broken_old_summary_is_an_ordinary_folder_that_is_left_alone(tmp_path: Path, text):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "summary.json").write_bytes(text)
    try:
        check_replaceable(tmp_path / "out")
    except InputError:
        return
    write(tmp_path / "out", "later")
    assert stands(tmp_path / "out") == "later"


@pytest.mark.skipif(sys.platform != "linux", reason="asks Linux which file a number stands for")
def test_every_file_and_folder_is_on_the_disk_before_it_takes_its_place(tmp_path, monkeypatch):
    flushed = []
    monkeypatch.setattr(os, "fsync", lambda number: flushed.append(_name_of(number)))
    with whole_or_nothing(tmp_path / "out") as work:
        write(work, "first")
        (work / "charts").mkdir()
        for number in range(30):
            (work / "charts" / f"{number}.svg").write_text("x")
        wanted = {work, *work.rglob("*")}
    assert len(wanted) > 30
    assert wanted <= set(flushed[:-1])
    assert flushed[-1] == tmp_path


def _name_of(number):
    return Path(f"/proc/self/fd/{number}").readlink()
