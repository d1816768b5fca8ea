"""Several guitars in one report: three bare folders, and sisters that session.toml describes.

Levels are what the takes were made with: half the gain is 20 lg 0.5 = -6.02 dB.
"""

from __future__ import annotations

import html
import re
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from small_takes import stage

SESSION = """
title = "Sisters"
{guitars}
[stages.a]
instrument = "one"
[stages.b]
instrument = "two"
[stages.c]
instrument = "three"
[stages.done]
instrument = "four"
from = "a"
work = [{{ what = "new pickup", parts_cost = 60, hours = 2 }}, {{ what = "set-up", hours = 1 }}]
[worth]
currency = "EUR"
hourly_rate = 30
"""


@pytest.fixture(scope="module")
def folders(tmp_path_factory) -> Path:
    root = tmp_path_factory.mktemp("guitars")
    stage(root / "a", {"neck": {}}, seed=1)
    stage(root / "b", {"neck": {"gain": 0.19}}, seed=3)
    stage(root / "c", {"neck": {"gain": 0.21}}, seed=5)
    stage(root / "done", {"neck": {"gain": 0.1}, "piezo": {"slope": 0.5}}, seed=7)
    return root


def _words(page: Path) -> str:
    text = re.sub(r"data:[a-z/]+;base64,[\w+/=]+", "", page.read_text(encoding="utf-8"))
    text = html.unescape(re.sub(r"<[^>]+>", " ", text))
    return " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.mark.usefixtures("no_charts")
def test_three_folders_are_three_guitars_side_by_side(folders, tmp_path, run):
    names = [folders / name for name in ("a", "b", "done")]
    result = run("compare", *names, "--out", tmp_path / "out", "--no-clips")
    assert result.exit_code == 0, result.output
    said = _words(tmp_path / "out" / "index.html")
    assert "Side by side: a, b, done" in said
    assert "Nobody said whether these are stages of one guitar or several guitars." in said
    table = said.partition("Side by side: a, b, done")[2]
    # The neck's level against the first guitar: 20 lg 0.95 = -0.4 dB, and -6 dB.
    assert re.search(r"Neck: Level −[\d.]+ dBFS −0\.\d dB .* −(5\.[5-9]|6\.\d) dB", table)
    assert "Not at a, only at done: Piezo." in table
    assert (tmp_path / "out" / "charts" / "guitars-a.svg").stat().st_size > 5_000


@pytest.fixture
def sisters(folders, tmp_path) -> Path:
    shutil.copytree(folders, tmp_path / "session")
    guitars = "".join(
        f'[instruments.{n}]\nmodel = "tern"\n' for n in ("one", "two", "three", "four")
    )
    (tmp_path / "session" / "session.toml").write_text(
        SESSION.format(guitars=guitars), encoding="utf-8"
    )
    return tmp_path / "session"


@pytest.mark.usefixtures("no_charts")
def test_sisters_of_a_session(sisters, tmp_path, run):
    result = run("report", sisters, "--out", tmp_path / "out", "--no-clips")
    assert result.exit_code == 0, result.output
    assert "than its sister" in " ".join(result.output.split())
    said = _words(tmp_path / "out" / "index.html")
    assert "two guitars of one model differ before anyone touches them" in said
    # Three unmodified ones at 0, -0.4 and +0.4 dB: one more is expected within about 2 dB.
    assert "Outside of what the 3 unmodified guitars let one expect of one more: done Neck" in said
    assert re.search(r"−[56]\.\d dB from their mean, [\d.]+ times as far", said)
    worth = said.partition("Was it worth it What")[2]
    # b and c are compared with a beside what the session names; the table has their numbers too.
    table = pd.read_csv(tmp_path / "out" / "differences.csv")
    assert list(dict.fromkeys(table["comparison"])) == ["a to done", "a to b", "a to c"]
    levels = table[(table["quantity"] == "level_dbfs") & (table["note"] == "all")]
    np.testing.assert_allclose(levels["difference"], [-6.0, -0.45, 0.42], atol=0.4)
    # 60 + 3 h at 30.
    assert "60 EUR parts, 3 h, 150 EUR in all" in worth
    assert "New: 1 voice that a does not have, Piezo." in worth
    assert "done is another guitar than a" in worth
    assert "2 pieces of work lie between the two recordings" in worth
    assert "equaliser" not in worth.partition("Recordings left out")[0].partition("Limits")[0]
