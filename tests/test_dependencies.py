"""Versions are bounded on both sides, and an audit that could not be made is no clean bill."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest
from dependency_audit import judged, main

PROJECT = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))[
    "project"
]
EXTRAS = PROJECT["optional-dependencies"]


@pytest.mark.parametrize("wanted", [*PROJECT["dependencies"], *EXTRAS["film"], *EXTRAS["cluster"]])
def test_every_dependency_has_a_least_version_and_an_end(wanted):
    assert re.fullmatch(r"[\w-]+>=\d+(\.\d+)*,<\d+", wanted)


def test_what_only_tests_need_is_not_installed_with_the_program():
    name = re.compile(r"^[\w-]+")
    run = {name.match(one)[0] for one in PROJECT["dependencies"]}
    tests = {name.match(one)[0] for one in EXTRAS["test"]}
    assert not run & tests


def _answer(*entries):
    return json.dumps({"dependencies": list(entries), "fixes": []})


CLEAN = {"name": "numpy", "version": "2.4.6", "vulns": []}
SKIPPED = {"name": "scipy", "skip_reason": "Dependency not found"}
FAULTY = {
    "name": "pillow",
    "version": "9.0",
    "vulns": [{"id": "PYSEC-1", "fix_versions": ["9.1"]}],
}
NOT_OURS = {**FAULTY, "name": "setuptools"}


@pytest.mark.parametrize(
    ("answer", "said", "code"),
    [
        ("", "not audited: the vulnerability service cannot be reached", 0),
        (_answer(SKIPPED), "not audited: the vulnerability service cannot be reached", 0),
        (_answer(CLEAN, SKIPPED, NOT_OURS), "1 dependencies audited, 1 could not be", 0),
        (_answer(CLEAN, FAULTY, SKIPPED), "pillow 9.0: PYSEC-1, mended in 9.1", 1),
    ],
)
def test_an_audit_says_what_it_knows(answer, said, code):
    lines, found = judged(answer)
    assert said in lines[0]
    assert (len(lines), found) == (1, code)


def test_an_audit_without_its_program_says_so(capsys):
    assert main("/no/such/program", ".") == 0
    assert capsys.readouterr().out.startswith("Dependencies not audited")
