"""What the page does under a hand: put in order, opened, chosen, looped; sounds that miss."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
import soundfile as sf
from chromium_driven import in_browser
from markupsafe import Markup

from tonecompare.report.files.clips import Clip, Clips
from tonecompare.report.files.players import SoundStore
from tonecompare.report.page.layout import environment
from tonecompare.report.words import standing_texts as player_words

pytestmark = in_browser

RATE_HZ = 48000
_PAGE = """<!DOCTYPE html><html lang="en"><title>t</title><body>
{% from "player.html.j2" import listen with context %}
<div class="choose-one"><p class="choice" hidden><label>Sound <select><option>A</option>
<option>B</option></select></label></p>
{% for voice in voices %}<div class="hearing">{{ listen(voice, "") }}</div>{% endfor %}</div>
{% for key, data in sounds %}<template id="{{ key }}" data-flac="{{ data }}"></template>{% endfor %}
<script>{{ script }}</script></body></html>"""
_PLAYING = "[...document.querySelectorAll('.player')].map((one) => one.classList.contains('on'))"
#: A loop of a quarter of a second, rendered for a second: smallest and largest step of it.
_LOOP = """(async () => {
const rate = 48000, ctx = new OfflineAudioContext(1, rate, rate);
const player = document.querySelector(".player").player;
const buffers = await Promise.all(player.sounds.map((b) => ctx.decodeAudioData(
  Uint8Array.from(atob(document.getElementById(b.dataset.sound).dataset.flac),
    (c) => c.charCodeAt(0)).buffer)));
const spans = [[0, 0.25], [0, 0.25]];
document.documentElement.graph(ctx, buffers, spans, { levels: [1, 0], loop: true });
const out = (await ctx.startRendering()).getChannelData(0);
let step = 0;
for (let i = 1; i < rate; i += 1) step = Math.max(step, Math.abs(out[i] - out[i - 1]));
return [Math.min(...out), step];
})()"""


@pytest.fixture
def tab(written, chromium):
    chromium.screen(1280)
    chromium.open(written / "index.html")
    return chromium


def _voice(folder, name, *, store=None, there=True):
    """A voice with two steady sounds, inside the page or beside it."""
    (folder / "clips").mkdir(exist_ok=True)
    made = []
    for side, level in (("before", 0.5), ("after", 0.25)):
        href = f"clips/{name}-{side}.flac"
        if there:
            sf.write(folder / href, np.full(RATE_HZ, level), RATE_HZ, subtype="PCM_16")
        made.append(Clip(side, href, spans_s=((0.0, 1.0),)))
    clips = Clips(tuple(made), ("E2",))
    player = None if store is None else store.sides(name, clips)
    return SimpleNamespace(title=name, clips=clips, player=player, silent="Beside.")


def _page(folder, voices, sounds=()):
    laid_out = environment()
    script = "\n".join(
        laid_out.get_template(name).render() for name in ("player.js.j2", "page.js.j2")
    )
    html = laid_out.from_string(_PAGE).render(
        voices=voices, sounds=sounds, player_words=player_words, script=Markup(script)
    )
    path = folder / "page.html"
    path.write_text(html, encoding="utf-8")
    return path


@pytest.fixture
def players(tmp_path, chromium):
    store = SoundStore(tmp_path)
    voices = [_voice(tmp_path, name, store=store) for name in ("A", "B")]
    chromium.screen(1280)
    chromium.open(_page(tmp_path, voices, store.data.items()))
    return chromium


def test_a_table_is_put_in_order_by_its_heading_and_back(tab):
    tab.run("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    names = (
        "[...document.querySelectorAll('[aria-label^=\"All quantities of\"] tbody')[0].rows]"
        ".map((row) => row.cells[0].textContent)"
    )
    press = (
        "(() => { const head = document.querySelector('[aria-label^=\"All quantities of\"] th');"
        "head.querySelector('button').click(); return head.getAttribute('aria-sort'); })()"
    )
    assert tab.run(press) == "ascending"
    up = tab.run(names)
    assert up == sorted(up, key=str.lower)
    assert tab.run(press) == "descending"
    assert tab.run(names) == up[::-1]


def test_numbers_are_ordered_as_numbers(tab):
    values = tab.run("""(() => {
      const box = document.querySelector('[aria-label^="Measured quiet"]');
      box.querySelectorAll("th button")[3].click();
      return [...box.querySelectorAll("tbody tr")].map((row) => row.cells[3].textContent);
    })()""")
    sizes = [float(value.replace("\N{MINUS SIGN}", "-").split()[0]) for value in values]
    assert sizes == sorted(sizes)
    assert min(sizes) < -70 < max(sizes)


def test_a_link_opens_what_it_leads_to(tab):
    anchor = tab.run(
        "(() => { const link = document.querySelector('.glance tbody a'); link.click();"
        "return link.hash.slice(1); })()"
    )
    shown = f"document.getElementById({anchor!r}).getClientRects().length"
    assert tab.run(f"new Promise((done) => setTimeout(() => done({shown}), 50))") > 0


def test_every_section_is_reached_by_the_navigation(tab):
    missing = tab.run(
        "[...document.querySelectorAll('nav a')].filter("
        "(link) => !document.getElementById(link.hash.slice(1))).length"
    )
    assert missing == 0
    assert tab.run("document.querySelectorAll('nav a').length") >= 7


def test_print_everything_opens_all_and_closes_it_again(tab):
    opened = tab.run("""(() => {
      let seen = null;
      window.print = () => { seen = document.querySelectorAll("details:not([open])").length; };
      const before = document.querySelectorAll("details:not([open])").length;
      document.querySelector('[data-print="all"]').click();
      return [before, seen, document.querySelectorAll("details:not([open])").length];
    })()""")
    assert opened[0] > 5
    assert opened == [opened[0], 0, opened[0]]


def test_print_this_sheet_prints_the_sheet_alone_and_comes_back(tab):
    assert tab.run("""(() => {
      let seen = null;
      const on = () => document.documentElement.classList.contains("sheet-only");
      window.print = () => { seen = on(); dispatchEvent(new Event("afterprint")); };
      document.querySelector('[data-print="sheet"]').click();
      return [seen, on()];
    })()""") == [True, False]


def test_only_one_sounds_at_a_time(players):
    players.run("document.querySelectorAll('.play')[0].click()")
    assert players.run(_PLAYING) == [True, False]
    players.run("document.querySelectorAll('.play')[1].click()")
    assert players.run(_PLAYING) == [False, True]


def test_choosing_another_sound_stops_the_one_that_plays(players):
    hidden = "[...document.querySelectorAll('.hearing')].map((one) => one.hidden)"
    assert players.run(hidden) == [False, True]
    players.run("document.querySelectorAll('.play')[0].click()")
    players.run(
        "(() => { const s = document.querySelector('.choice select'); s.selectedIndex = 1;"
        "s.dispatchEvent(new Event('change')); })()"
    )
    assert players.run(hidden) == [True, False]
    assert players.run(_PLAYING) == [False, False]


def test_keys_alone_play_switch_and_repeat(players):
    pressed = (
        "[...document.querySelector('.player').querySelectorAll('[aria-pressed]')]"
        ".map((one) => one.getAttribute('aria-pressed') === 'true')"
    )
    players.run("document.querySelector('.player').focus()")
    players.press(" ", " ")
    assert players.run(_PLAYING) == [True, False]
    players.press("2", "2")
    players.press("l", "l")
    assert players.run(pressed) == [False, True, True]
    players.press(" ", " ")
    assert players.run(_PLAYING) == [False, False]


def test_a_loop_has_no_gap_at_its_seam(players):
    least, step = players.run(_LOOP)
    # A steady 0.5 in 16 bit: nothing may dip or step where the loop starts again.
    assert least > 0.4999
    assert step < 1e-4


def test_a_sound_that_is_missing_is_said(tmp_path, chromium):
    chromium.screen(1280)
    chromium.open(_page(tmp_path, [_voice(tmp_path, "A", there=False)]))
    said = """new Promise((done) => setTimeout(() => done(
      [...document.querySelectorAll(".gone")].map((one) => [one.hidden, one.textContent.trim()])
    ), 300))"""
    assert chromium.run(said) == [[False, player_words.MISSING]] * 2
    assert chromium.run("[...document.querySelectorAll('audio')].every((one) => one.hidden)")
