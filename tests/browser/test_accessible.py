"""WCAG 2.2 AA as axe-core finds it, and the contrast of every text worked out where it cannot.

axe-core is fetched from npm into the tests' own folder; without npm or the registry this skips.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tarfile

import pytest
from chromium_driven import in_browser

pytestmark = in_browser

_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
_OPEN = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"
_AXE = f"""axe.run(document, {{
  runOnly: {{type: "tag", values: {json.dumps(_TAGS)}}},
}}).then((found) => ({{
  passes: found.passes.length,
  broken: found.violations.map((v) => v.id + ": " + v.nodes[0].html.slice(0, 160)),
  open: found.incomplete.map((v) => v.id),
}}))"""
#: Every text with its colours: [text, letters' colour, ground's colours from the inside out,
#: whether it counts as large].
_TEXTS = """[...document.querySelectorAll("body *")].filter((e) => e.getClientRects().length
  && !["SCRIPT", "STYLE"].includes(e.tagName)
  && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim())).map((e) => {
  const grounds = [], look = getComputedStyle(e), size = parseFloat(look.fontSize);
  for (let at = e; at; at = at.parentElement) grounds.push(getComputedStyle(at).backgroundColor);
  return [e.textContent.trim().slice(0, 40),
    e.namespaceURI.endsWith("svg") ? look.fill : look.color, grounds,
    size >= 24 || (size >= 18.66 && Number(look.fontWeight) >= 700)];
})"""
_SCREENS = [(width, dark) for width in (390, 1280, 1920) for dark in (False, True)]


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    folder = tmp_path_factory.mktemp("axe")
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("no npm on the PATH")
    made = subprocess.run(
        [npm, "pack", "axe-core@4", "--silent", "--cache", folder / "cache"],
        cwd=folder, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    packed = sorted(folder.glob("axe-core-*.tgz"))
    if made.returncode or not packed:
        pytest.skip("npm could not fetch axe-core")
    with tarfile.open(packed[0]) as archive:
        member = archive.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode("utf-8")


def _linear(level):
    """WCAG 2.2, relative luminance: one sRGB channel of 0 to 255 made linear."""
    share = level / 255.0
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _luminance(colour):
    return sum(k * _linear(c) for k, c in zip((0.2126, 0.7152, 0.0722), colour, strict=True))


def _contrast(one, other):
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter above."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _rgba(css):
    *colour, alpha = (*map(float, re.findall(r"[\d.]+", css)), 1.0)[:4]
    return colour, alpha


def _ground(layers):
    """Lay backgrounds over each other, the page's own last; the canvas below is white."""
    colour = [255.0] * 3
    for layer in reversed(layers):
        over, alpha = _rgba(layer)
        colour = [alpha * a + (1.0 - alpha) * b for a, b in zip(over, colour, strict=True)]
    return colour


def test_contrast_as_published():
    # WCAG 2.2: black on white is 21:1; #777 on white is 4.48:1 (just short of AA).
    assert _contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert _contrast((0x77,) * 3, (255,) * 3) == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize(("width", "dark"), _SCREENS)
def test_no_violation_of_wcag(written, chromium, axe, width, dark):
    chromium.screen(width, dark=dark)
    chromium.open(written / "index.html")
    chromium.run(_OPEN)
    chromium.run(axe + "; true")
    found = chromium.run(_AXE)
    assert found["broken"] == []
    assert found["passes"] > 15
    # What the engine leaves open is contrast only, and that is worked out below.
    assert set(found["open"]) <= {"color-contrast"}


@pytest.mark.parametrize(("width", "dark"), _SCREENS)
def test_every_text_has_contrast(written, chromium, width, dark):
    chromium.screen(width, dark=dark)
    chromium.open(written / "index.html")
    chromium.run(_OPEN)
    texts = chromium.run(_TEXTS)
    assert len(texts) > 200
    faint = [
        (text, round(ratio, 2))
        for text, ink, layers, large in texts
        if (ratio := _contrast(_rgba(ink)[0], _ground(layers))) < (3.0 if large else 4.5)
    ]
    assert faint == []
