"""Charts read with a pointer and the keys, in a real browser: the script sees events and layout."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from chromium_driven import in_browser

pytestmark = in_browser

#: Every chart shows, whatever it stands in; ``said`` is what the first of a kind tells.
_OPEN = """document.querySelectorAll("details").forEach((one) => { one.open = true; });
const figure = [...document.querySelectorAll("figure.drawn")].find(
  (one) => one.querySelector("svg").getAttribute("aria-label").includes("Averaged spectrum"));
const drawing = figure.querySelector(".drawing");
const said = () => figure.querySelector(".reads").textContent;
const [upper, lower] = JSON.parse(figure.querySelector("script").textContent);
const key = (name) => drawing.dispatchEvent(
  new KeyboardEvent("keydown", { key: name, bubbles: true }));
const at = (panel, share) => {
  const area = drawing.getBoundingClientRect();
  drawing.dispatchEvent(new PointerEvent("pointermove", { bubbles: true,
    clientX: area.left + area.width * (panel.box[0] + share * (panel.box[1] - panel.box[0])),
    clientY: area.top + area.height * (panel.box[2] + panel.box[3]) / 2 }));
};"""


@pytest.fixture(scope="module")
def tell(written, chromium):
    """Return what a script says with a chart of a spectrum before it."""
    chromium.screen(390)
    chromium.open(written / "index.html")
    return lambda script: chromium.run(f"(() => {{ {_OPEN} {script} }})()")


def test_the_value_under_a_finger_is_that_of_the_data(tell):
    found = tell("at(upper, 0.5); return [upper, said()];")
    panel, said = found
    low, high = panel["ends"]
    middle = (low * high) ** 0.5
    for line in panel["lines"]:
        n = min(range(len(line["x"])), key=lambda n: abs(line["x"][n] / middle - 1.0))
        value = f"{line['y'][n]:.1f}".replace("-", "\N{MINUS SIGN}")
        assert f"{line['name']} {value} dB" in said


def test_keys_move_along_and_between_the_panels(tell):
    first, second, last, below = tell("""key("Home"); const told = [said()];
      key("ArrowRight"); told.push(said()); key("End"); told.push(said());
      key("ArrowDown"); told.push(said()); return told;""")
    places = [re.match(r"([\d.]+) (k?)Hz", text) for text in (first, second, last)]
    hz = [float(place[1]) * (1000.0 if place[2] else 1.0) for place in places]
    assert hz[0] < hz[1] < hz[2]
    assert "change" not in last
    assert "change" in below


def test_a_hidden_line_is_neither_drawn_nor_told(tell):
    shown, hidden, back = tell("""at(upper, 0.5); const told = [said()];
      const button = figure.querySelector(".choice button");
      const name = button.textContent;
      const drawn = () => [...drawing.querySelectorAll(".series-before")]
        .some((part) => part.getBoundingClientRect().width > 0);
      const state = () => [said().includes(name), drawn(), button.getAttribute("aria-pressed")];
      const told3 = [state()]; button.click(); told3.push(state());
      button.click(); told3.push(state()); return told3;""")
    assert shown == back == [True, True, "true"]
    assert hidden == [False, False, "false"]


def test_pictures_hold_no_script_and_the_page_runs_only_its_own(written):
    html = (written / "index.html").read_text(encoding="utf-8")
    drawings = re.findall(r'<div class="drawing">(.*?)</div>', html, re.DOTALL)
    assert len(drawings) == 16
    assert not any(re.search(r"<script|style=| on\w+=", drawing) for drawing in drawings)
    data = re.findall(r'<script type="application/json">(.*?)</script>', html, re.DOTALL)
    assert all(json.loads(text) for text in data)
    files = list((Path(written) / "charts").glob("*.svg"))
    assert len(files) == 16
    assert not any("<script" in file.read_text(encoding="utf-8") for file in files)
