"""Bad input, 500 seeded cases: each is read or refused with a sentence, and none takes long."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import cases
import pytest
from nonsense import in_table


@pytest.mark.parametrize("first", [0, 250])
def test_each_case_is_read_or_refused_and_soon(first: int) -> None:
    ends = {number: cases.run(number) for number in range(first, first + 250)}
    wrong = {
        number: (kind, ended, took_s)
        for number, (kind, ended, took_s) in ends.items()
        if ended not in ("read", "refused") or took_s > cases.HANG_S
    }
    assert wrong == {}
    assert (cases.WHOLE in {kind for kind, *_ in ends.values()}) == (first > 0)
    for kind in cases.KINDS:  # behind every parser something comes through, and not everything
        assert {end for each, end, _ in ends.values() if each == kind} == {"read", "refused"}


def test_a_case_is_the_same_every_time() -> None:
    assert [cases.run(number)[:2] for number in range(24)] == [
        cases.run(number)[:2] for number in range(24)
    ]


def test_a_fault_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_arguments: object) -> None:
        raise ZeroDivisionError("x")

    monkeypatch.setitem(cases.KINDS, "sound", broken)
    assert cases.run(0)[:2] == ("sound", "ZeroDivisionError: x")
    monkeypatch.undo()
    monkeypatch.setattr("tonecompare.front.run.refuse_nothing_measured", broken)
    read = next(n for n in range(500) if cases.run(n)[1].startswith("measure: exit 3"))
    assert cases.kind_of(read) == "sound"


@pytest.mark.parametrize(
    ("table", "kinds"),
    [
        ("file,level_dbfs,flags\nnan,-3.2,\n", []),
        ("file,level_dbfs,flags\na,nan,odd\n", ["non-finite"]),
        ("file,level_dbfs,flags\na,-inf,\n", ["non-finite"]),
        ("file,level_dbfs,flags\na,999,\n", ["nonsense"]),
        ("file,level_dbfs,flags\na,999,clipped\n", []),
        ("file,ring_s,decay_s,flags\na,1,7,\n", ["nonsense"]),
        ("difference,ci_low,ci_high\n1,2,3\n", ["nonsense"]),
        ("difference,ci_low\n1\n", ["nonsense"]),
    ],
)
def test_what_cannot_be_is_seen_in_a_table(table: str, kinds: list[str]) -> None:
    assert [kind for kind, _ in in_table(table)] == kinds


def test_the_command_that_runs_many_stands_alone(tmp_path: Path) -> None:
    """As the developers' page has it, with no path set."""
    bare = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    ran = subprocess.run(
        [sys.executable, cases.__file__, "2", "7"],
        cwd=tmp_path, env=bare, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "cases 7 to 8" in ran.stdout, ran.stderr
