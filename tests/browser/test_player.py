"""The player in a real browser: switched without gap or click, by keys, its sounds decoded."""

from __future__ import annotations

import re
import shutil
import subprocess
from html import unescape
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile as sf

from tonecompare.report.files.clips import Clip, Clips
from tonecompare.report.files.players import TOO_LARGE, SoundStore
from tonecompare.report.page.layout import environment
from tonecompare.report.words import standing_texts as player_words

CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
in_browser = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on the PATH"),
]

_PAGE = """{% from "player.html.j2" import player with context %}<body>{{ player(one) }}
{% for key, data in sounds %}<template id="{{ key }}" data-flac="{{ data }}"></template>{% endfor %}
<script>{{ script }}</script></body>"""

_DRIVE = """<script>
// Short timers hold the virtual clock back while sound is decoded in real time.
const hold = () => { if (document.title === "t") setTimeout(hold, 1); };
hold();
(async () => {
const box = document.querySelector(".player"), said = [];
const pressed = () => [...box.querySelectorAll("[aria-pressed]")].map(
  (b) => b.getAttribute("aria-pressed") === "true" ? 1 : 0).join("");
const key = (k) => box.dispatchEvent(new KeyboardEvent("keydown", { key: k, bubbles: true }));
said.push(pressed());
for (const k of ["2", "l", "1"]) { key(k); said.push(pressed()); }
key(" "); said.push(box.querySelector(".play").textContent);
key(" "); said.push(box.querySelector(".play").textContent);
const rate = 48000, ctx = new OfflineAudioContext(1, rate, rate);
const buffers = await Promise.all(box.player.sounds.map((b) => ctx.decodeAudioData(
  Uint8Array.from(atob(document.getElementById(b.dataset.sound).dataset.flac),
    (c) => c.charCodeAt(0)).buffer)));
const run = document.documentElement.graph(ctx, buffers, [[0, 1], [0, 1]], { levels: [1, 0] });
ctx.suspend(0.5).then(() => { run.set([0, 1]); ctx.resume(); });
const out = (await ctx.startRendering()).getChannelData(0);
const a = buffers[0].getChannelData(0), b = buffers[1].getChannelData(0);
let before = 0, after = 0, step = 0, least = 1;
for (let i = 0; i < rate; i++) {
  if (i < 0.49 * rate) before = Math.max(before, Math.abs(out[i] - a[i]));
  if (i > 0.52 * rate) after = Math.max(after, Math.abs(out[i] - b[i]));
  if (i) step = Math.max(step, Math.abs(out[i] - out[i - 1]));
  least = Math.min(least, out[i]);
}
said.push(before, after, step, least);
document.title = "told|" + said.join("|");
})().catch((e) => { document.title = "told|" + e; });</script></body>"""


def _clips(folder, levels):
    """Two steady sounds: nothing but the switch can step."""
    (folder / "clips").mkdir()
    made = []
    for name, level in zip(("before", "after"), levels, strict=True):
        sf.write(folder / "clips" / f"{name}.flac", np.full(48000, level), 48000, subtype="PCM_16")
        made.append(Clip(name, f"clips/{name}.flac", spans_s=((0.0, 1.0),)))
    return Clips(tuple(made), ("E2",))


def test_sounds_past_the_limit_stay_out_and_that_is_said(tmp_path):
    store = SoundStore(tmp_path, room=100)
    assert store.sides("Bridge", _clips(tmp_path, (0.5, 0.25))) == TOO_LARGE
    assert store.data == {}
    assert "clips" in TOO_LARGE


def test_the_louder_side_carries_the_gain_that_matches_it(tmp_path):
    clips = _clips(tmp_path, (0.25, 0.5))
    matched = Clip("after, turned down", "clips/after-matched.flac", -6.02)
    player = SoundStore(tmp_path).sides("Bridge", Clips((*clips.clips, matched), clips.notes))
    assert [sound.gain_db for sound in player.sounds] == [0.0, -6.02]
    assert player.match == "Equally loud (after: turned down by 6.0 dB)"


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("player")
    store = SoundStore(folder)
    one = store.sides("Bridge", _clips(folder, (0.5, 0.25)))
    laid_out = environment()
    html = laid_out.from_string(_PAGE).render(
        one=one, sounds=store.data.items(), player_words=player_words, script="SCRIPT"
    )
    script = laid_out.get_template("player.js.j2").render()
    html = html.replace("SCRIPT", script).replace("</body>", _DRIVE)
    page = folder / "page.html"
    page.write_text(f"<!DOCTYPE html><title>t</title>{html}", encoding="utf-8")
    assert CHROMIUM is not None
    dom = subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
            "--disable-background-networking", f"--user-data-dir={folder / 'profile'}",
            "--autoplay-policy=no-user-gesture-required", "--virtual-time-budget=300000",
            "--dump-dom", page.as_uri(),
        ],
        check=True, capture_output=True, text=True, timeout=60,
    ).stdout  # fmt: skip
    (title,) = re.findall(r"<title>told\|([^<]*)</title>", dom)
    parts = unescape(title).split("|")
    before, after, step, least = map(float, parts[6:])
    return SimpleNamespace(
        keys=parts[:4], play=parts[4:6], before=before, after=after, step=step, least=least
    )


class TestInBrowser:
    """Keys and samples as Chromium has them."""

    pytestmark = in_browser

    def test_keys_choose_the_sound_repeat_and_play(self, told):
        # Sound 1, sound 2, repeat.
        assert told.keys == ["100", "010", "011", "101"]
        assert told.play == ["Stop", "Play"]

    def test_switching_leaves_no_gap_and_no_click(self, told):
        # 16-bit steps are 3e-5.
        assert told.before < 1e-4
        assert told.after < 1e-4
        assert told.least > 0.249
        # From 0.5 to 0.25 over 10 ms at 48 kHz: 0.25 / 480 a sample, and no more than twice that.
        assert told.step < 2 * 0.25 / 480
