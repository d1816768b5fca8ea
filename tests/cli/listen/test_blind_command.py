"""``tonecompare blind``: a page from recordings, results put together, and told by a report."""

from __future__ import annotations

import json
import re
from hashlib import sha256
from html import unescape

import pytest
from click.testing import CliRunner

from tonecompare.cli import main


def run(*arguments):
    return CliRunner().invoke(main, [*map(str, arguments)])


@pytest.fixture
def page(pair):
    said = run("blind", pair, "--voice", "neck", "--workers", "1", "--out", "b.html")
    assert said.exit_code == 0, said.output
    html = (pair / "b.html").read_text(encoding="utf-8")
    return said, json.loads(unescape(re.search(r'<template id="test">(.*?)</template>', html)[1]))


def save(folder, test, *, right, listener):
    """Write a result as the page does, its check value worked out here."""
    trials = [["A", "A" if n < right else "B"] for n in range(test["trials"])]
    times = ["2026-01-01T10:00:00.000Z", "2026-01-01T10:20:00.000Z"]
    head = ["1", test["page"], test["id"], "abx", test["comparison"], test["voice"],
            test["output"], test["note"], listener, "16", *times]  # fmt: skip
    check = sha256("\n".join([*head, *(f"{a}:{b}" for a, b in trials)]).encode()).hexdigest()
    names = ("page", "sounds", "task", "comparison", "voice", "output", "note", "listener")
    data = dict(zip(names, head[1:9], strict=True)) | {
        "schema": 1, "made_by": "tonecompare blind", "planned": 16, "started": times[0],
        "finished": times[1], "trials": trials, "check": check,
    }  # fmt: skip
    folder.mkdir(exist_ok=True)
    (folder / f"{listener}.json").write_text(json.dumps(data), encoding="utf-8")


def test_the_page_holds_the_plucks_of_both_sides(page):
    said, test = page
    assert "neck, " in said.output
    assert "Blind test: b.html" in said.output
    assert (test["voice"], test["trials"], test["rate"]) == ("neck", 16, 44100)
    assert sorted(side for side, _ in test["sounds"]) == [0, 0, 0, 1, 1, 1]
    assert len({len(text) for _, text in test["sounds"]}) == 1


@pytest.mark.usefixtures("no_charts")
def test_results_are_put_together_and_the_report_says_heard(page, pair):
    _, test = page
    for right, listener in ((13, "one"), (12, "two"), (12, "three"), (8, "four")):
        save(pair / "heard", test, right=right, listener=listener)
    said = run("blind", "--score", *(pair / "heard").glob("*.json"))
    assert said.exit_code == 0
    assert "Heard by 3 of 4 listeners (45 of 64, p = 0.0008)." in said.output
    (pair / "heard" / "bad.json").write_text("{}")
    said = run("blind", "--score", *(pair / "heard").glob("*.json"))
    assert said.exit_code == 1
    assert "bad.json is no result of a blind test." in said.output
    told = run("report", pair, "--no-clips", "--workers", "1", "--out", "out")
    assert told.exit_code == 0, told.output
    note = f"Note {test['note']}, played equally loud: "
    sentence = f"{note}Heard by 3 of 4 listeners (45 of 64, p = 0.0008)."
    assert sentence in " ".join(told.output.split())
    html = (pair / "out" / "index.html").read_text(encoding="utf-8")
    assert "Heard by 3 of 4 listeners" in unescape(html)
    assert any(sentence in one["text"] for one in
               json.loads((pair / "out" / "summary.json").read_text())["findings"])  # fmt: skip


@pytest.mark.usefixtures("no_charts")
def test_without_a_passed_test_nothing_is_heard(page, pair):
    save(pair / "heard", page[1], right=9, listener="one")
    told = run("report", pair, "--no-clips", "--workers", "1", "--out", "out").output
    told = " ".join(told.split())
    assert "Not shown to be heard in a blind test: 1 listener, 9 of 16" in told
    assert "Heard by" not in told


def test_the_command_is_explained_and_refuses_what_it_cannot_use(pair):
    assert "blind listening test" in run("explain", "blind").output
    assert run("blind", "--score", pair / "before" / "neck.wav").exit_code == 2
    said = run("blind", pair, "--voice", "middle", "--workers", "1")
    assert said.exit_code == 2
    assert 'no voice "middle"' in said.output
    assert run("blind", pair, pair).exit_code == 2
    (pair / "mine.html").write_text("<p>mine</p>")
    said = run("blind", pair, "--out", "mine.html", "--workers", "1")
    assert said.exit_code == 2
    assert (pair / "mine.html").read_text() == "<p>mine</p>"


@pytest.mark.parametrize("kind", ["device", "link"])
def test_what_is_no_page_is_neither_read_to_its_end_nor_replaced(pair, kind):
    page = pair / "b.html"
    page.symlink_to({"device": "/dev/null", "link": "nowhere"}[kind])
    said = run("blind", pair, "--voice", "neck", "--workers", "1", "--out", page)
    assert said.exit_code == 2
    assert "is no blind test of ours" in said.output
    assert page.is_symlink()
