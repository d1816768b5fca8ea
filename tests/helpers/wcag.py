"""WCAG 2.2 AA as axe-core finds it, and the contrast of every text worked out where it cannot.

axe-core is fetched from npm into a folder of the tests; without npm or the registry its tests skip.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import tarfile
from collections.abc import Sequence
from pathlib import Path

import pytest
from chromium_driven import Tab

SCREENS = [(width, dark) for width in (390, 1280, 1920) for dark in (False, True)]
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


def fetched_axe(folder: Path) -> str:
    """Return the text of axe-core."""
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


def _linear(level: float) -> float:
    """WCAG 2.2, relative luminance: one sRGB channel of 0 to 255 made linear."""
    share = level / 255.0
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def _luminance(colour: Sequence[float]) -> float:
    return sum(k * _linear(c) for k, c in zip((0.2126, 0.7152, 0.0722), colour, strict=True))


def contrast(one: Sequence[float], other: Sequence[float]) -> float:
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter above."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _rgba(css: str) -> tuple[list[float], float]:
    *colour, alpha = (*map(float, re.findall(r"[\d.]+", css)), 1.0)[:4]
    return colour, alpha


def _ground(layers: Sequence[str]) -> list[float]:
    """Lay backgrounds over each other, the page's own last; the canvas below is white."""
    colour = [255.0] * 3
    for layer in reversed(layers):
        over, alpha = _rgba(layer)
        colour = [alpha * a + (1.0 - alpha) * b for a, b in zip(over, colour, strict=True)]
    return colour


def violations(page: Tab, axe: str) -> list[str]:
    """Return what axe-core finds on the open page, every detail opened.

    What the engine leaves open may be contrast only, which ``faint_texts`` works out.
    """
    page.run(_OPEN)
    page.run(axe + "; true")
    found = page.run(_AXE)
    assert found["passes"] > 10
    return [*found["broken"], *(one for one in found["open"] if one != "color-contrast")]


def faint_texts(page: Tab) -> list[tuple[str, float]]:
    """Return every text of the open page, every detail opened, that has too little contrast."""
    page.run(_OPEN)
    texts = page.run(_TEXTS)
    assert len(texts) > 8
    return [
        (text, round(ratio, 2))
        for text, ink, layers, large in texts
        if (ratio := contrast(_rgba(ink)[0], _ground(layers))) < (3.0 if large else 4.5)
    ]
