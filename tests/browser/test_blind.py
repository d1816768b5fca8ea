"""The blind page taken in a browser: by one who hears, one who guesses and one who cheats."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tonecompare.report.blind.blind_page import BlindTest, blind_html
from tonecompare.report.blind.results import read_results

CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on the PATH"),
]
RUNS = 300

_DRIVE = (Path(__file__).parent / "blind_listeners.js").read_text(encoding="utf-8")


def made_test(task, *, trials=16, shift=0.2):
    rng = np.random.default_rng(3)
    sides = tuple(
        tuple(0.1 * rng.normal(size=240) + mean for _ in range(3)) for mean in (0.0, shift)
    )
    return BlindTest(task, trials, "a to b", "bridge", "magnetic", "E2", 48000.0, sides)


def dump(page, folder):
    assert CHROMIUM is not None
    return subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
            "--disable-background-networking", f"--user-data-dir={folder / 'profile'}",
            "--autoplay-policy=no-user-gesture-required", "--virtual-time-budget=300000",
            "--dump-dom", page.as_uri(),
        ],
        check=True, capture_output=True, text=True, timeout=90,
    ).stdout  # fmt: skip


def taken(folder, listener, *, task="abx", runs=0, seed=1, fake=True):
    html = blind_html(made_test(task))
    body = re.search(r"<body>(.*?)<script>", html, re.S)[1]
    script = re.search(r"<script>(.*?)</script>", html, re.S)[1]
    drive = (
        _DRIVE.replace("SEED", str(seed)).replace("FAKE", str(fake).lower())
        .replace("LISTENER", json.dumps(listener)).replace("RUNS", str(runs))
        .replace("BODY", json.dumps(body).replace("</", "<\\/"))
        .replace("SCRIPT", json.dumps(script).replace("</", "<\\/"))
    )  # fmt: skip
    page = folder / "page.html"
    html = html.replace("Content-Security-Policy", "none")
    html = html.replace("<style>", f"<script>{drive}</script><style>", 1)
    page.write_text(html, encoding="utf-8")
    (title,) = re.findall(r"<title>told\|([^<]*)</title>", dump(page, folder))
    told = json.loads(unescape(title))
    assert "error" not in told, told["error"]
    return told


@pytest.mark.parametrize("task", ["abx", "triangle"])
def test_a_listener_who_hears_passes_by_keys_alone(tmp_path, task):
    told = taken(tmp_path, "hears", task=task, fake=False)
    assert told["first"]["said"].startswith("16 of 16 right.")
    assert told["first"]["said"].endswith("You heard a difference.")
    assert told["drawn"] > 16
    # The page's own check value is the one worked out here (hashlib).
    path = tmp_path / told["first"]["name"]
    path.write_text(told["first"]["result"], encoding="utf-8")
    (result,), refused = read_results([path])
    assert refused == ()
    assert (result.answers.right, result.answers.trials, result.answers.task) == (16, 16, task)


@pytest.mark.long
@pytest.mark.parametrize(
    ("task", "needed", "level"), [("abx", 12, 0.0384), ("triangle", 9, 0.0500)]
)
def test_guessing_passes_as_often_as_said(tmp_path, task, needed, level):
    told = taken(tmp_path, "guesses", task=task, runs=RUNS, seed=20)
    chance = 1 / 2 if task == "abx" else 1 / 3
    assert stats.binom.sf(needed - 1, 16, chance) == pytest.approx(level, abs=2e-4)
    passed = sum(right >= needed for right in told["right"])
    low, high = stats.binom.ppf([0.0005, 0.9995], RUNS, level)
    assert low <= passed <= high
    every = sum(told["right"])
    low, high = stats.binom.ppf([0.0005, 0.9995], 16 * RUNS, chance)
    assert low <= every <= high
    # Right answers are as often A as B (as C), and tell nothing of the next.
    answers = told["answers"]
    labels = sorted(set(answers))
    counts = [answers.count(one) for one in labels]
    assert stats.chisquare(counts).pvalue > 0.001
    pairs = [[answers[i : i + 2] for i in range(len(answers) - 1)].count(a + b)
             for a in labels for b in labels]  # fmt: skip
    assert stats.chisquare(pairs).pvalue > 0.001


@pytest.mark.parametrize("task", ["abx", "triangle"])
def test_page_sizes_names_and_order_tell_a_cheat_nothing(tmp_path, task):
    told = taken(tmp_path, "cheats", task=task, runs=RUNS // 3, seed=5)
    # Whatever is asked, everything but the sound is the same to the last letter.
    assert told["seen"] == 1
    chance = 1 / 2 if task == "abx" else 1 / 3
    low, high = stats.binom.ppf([0.0005, 0.9995], 16 * len(told["right"]), chance)
    assert low <= sum(told["right"]) <= high


def test_the_page_starts_under_its_own_policy(tmp_path):
    page = tmp_path / "page.html"
    page.write_text(blind_html(made_test("abx")), encoding="utf-8")
    dom = dump(page, tmp_path)
    # The script ran: the first step shows and the sounds are out of the page.
    assert '<section id="start">' in dom
    assert '<template id="test">' not in dom


_GAPLESS = """<script>
addEventListener("DOMContentLoaded", async () => {
  const rate = 48000, ctx = new OfflineAudioContext(1, rate, rate);
  const run = document.documentElement.inStep(
    ctx, [new Float32Array(rate).fill(0.5), new Float32Array(rate).fill(0.25)], rate, 0);
  ctx.suspend(0.5).then(() => { run.set(1); ctx.resume(); });
  const out = (await ctx.startRendering()).getChannelData(0);
  let least = 1, step = 0;
  for (let i = 0.06 * rate; i < rate; i += 1) {
    least = Math.min(least, out[i]); step = Math.max(step, Math.abs(out[i] - out[i - 1])); }
  document.title = ["told", least, step, out[0.49 * rate], out[0.52 * rate]].join("|");
});</script>"""


def test_switching_leaves_no_gap_and_no_click(tmp_path):
    page = tmp_path / "page.html"
    html = blind_html(made_test("abx")).replace("Content-Security-Policy", "none")
    page.write_text(html.replace("<style>", _GAPLESS + "<style>", 1), encoding="utf-8")
    (title,) = re.findall(r"<title>told\|([^<]*)</title>", dump(page, tmp_path))
    least, step, before, after = map(float, title.split("|"))
    assert (before, after) == (0.5, 0.25)
    assert least >= 0.2499
    # From 0.5 to 0.25 over 10 ms: 0.25 / 480 a sample, and no more than twice that.
    assert step < 2 * 0.25 / 480
