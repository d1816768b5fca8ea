"""Bad input, 500 seeded cases: each is read or refused with a sentence, and none takes long."""

from __future__ import annotations

from pathlib import Path

import cases
import pytest


@pytest.mark.parametrize("first", range(0, 500, 100))
def test_each_case_is_read_or_refused_and_soon(first: int) -> None:
    ends = {number: cases.run(number) for number in range(first, first + 100)}
    wrong = {
        number: (kind, ended, took_s)
        for number, (kind, ended, took_s) in ends.items()
        if ended not in ("read", "refused") or took_s > cases.HANG_S
    }
    assert wrong == {}
    assert {kind for kind, *_ in ends.values()} == set(cases.KINDS)


def test_a_case_is_the_same_every_time() -> None:
    assert [cases.run(number)[:2] for number in range(30)] == [
        cases.run(number)[:2] for number in range(30)
    ]


def test_a_fault_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(_folder: Path, _rng: object) -> None:
        raise ZeroDivisionError("x")

    monkeypatch.setitem(cases.KINDS, "sound", broken)
    assert cases.run(0)[:2] == ("sound", "ZeroDivisionError: x")
