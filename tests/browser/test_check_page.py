"""The page of a check in a real browser: on a phone, and its one printed page."""

from __future__ import annotations

import re

import numpy as np
import pytest
import soundfile as sf
from chromium_driven import in_browser, pages_of
from click.testing import CliRunner

from tonecompare.cli.app import main

pytestmark = in_browser

_WIDE = """(() => {
document.querySelectorAll("details").forEach((one) => { one.open = true; });
return [...document.querySelectorAll("body *")].filter(
  (e) => !e.closest(".wave") && !e.closest(".skip") && !e.closest("thead")
    && e.getBoundingClientRect().right > innerWidth + 1).map((e) => e.outerHTML.slice(0, 120));
})()"""


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """A check of many takes, each of which clips."""
    root = tmp_path_factory.mktemp("check")
    rate = 44100
    time = np.arange(3 * rate) / rate
    quiet = np.random.default_rng(1).normal(0.0, 1e-4, rate)
    for stage in ("stock", "rewound"):
        (root / "heron" / stage).mkdir(parents=True)
        for n in range(9):
            tone = np.clip(
                3.0 * np.exp(-2.0 * time) * np.sin(2 * np.pi * 110.0 * time), -0.99, 0.99
            )
            sound = np.concatenate([quiet, np.clip(tone, -0.99, 0.99), quiet])
            name = f"voice-with-a-rather-long-name-{n}.wav"
            sf.write(root / "heron" / stage / name, sound, rate, subtype="PCM_24")
    CliRunner().invoke(
        main, ["check", str(root / "heron"), "--out", str(root / "page"), "--workers", "1"]
    )
    return root / "page" / "index.html"


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_is_wider_than_the_window(checked, chromium, width):
    chromium.screen(width)
    chromium.open(checked)
    assert chromium.run(_WIDE) == []
    assert chromium.run("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_print_is_one_page(checked, chromium, paper):
    chromium.screen(1280)
    chromium.open(checked)
    assert pages_of(chromium.pdf(paper)) == 1


def test_one_fault_of_nine_files_is_said_once(checked, chromium):
    chromium.open(checked)
    heads = chromium.run(
        "[...document.querySelectorAll('.short .head')].map((one) => one.textContent)"
    )
    assert sum("clipping: 9 files" in head for head in heads) == 2


def test_marks_stand_over_the_wave_where_the_pluck_is(checked, chromium):
    chromium.screen(1280)
    chromium.open(checked)
    shares = chromium.run(
        """[...document.querySelectorAll(".take:not(details .take)")].map((take) => {
        const wave = take.querySelector(".wave").getBoundingClientRect();
        const mark = take.querySelector(".ring rect").getBoundingClientRect();
        return (mark.left - wave.left) / wave.width; })"""
    )
    # The note begins after one of five seconds.
    assert shares
    assert all(abs(share - 0.2) < 0.01 for share in shares)


def test_the_page_keeps_a_strict_policy(checked):
    html = checked.read_text(encoding="utf-8")
    assert re.search(r"default-src (?:'|&#39;)none", html)
    assert not re.search(r" style=| on\w+=|<script", html)


def test_the_policy_lets_the_recordings_play_from_where_they_lie(checked, chromium):
    chromium.open(checked)
    length_s = chromium.run(
        """new Promise((done) => {
        const audio = document.querySelector("audio");
        audio.addEventListener("loadedmetadata", () => done(audio.duration));
        audio.addEventListener("error", () => done(-1));
        audio.preload = "metadata";
        audio.load(); })"""
    )
    assert length_s == pytest.approx(5.0, abs=0.01)
