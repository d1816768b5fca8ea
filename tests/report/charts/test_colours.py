"""Contrast of every colour that carries meaning, by the formula of WCAG 2.2."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from tonecompare.report.charts.canvas import style
from tonecompare.report.page.layout import environment


def _luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 definition (linearised sRGB)."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


#: Colours that carry meaning as lines or markers.
_LINES = (style.BLUE, style.VERMILLION, style.GREEN, style.PURPLE, style.BLACK)


def test_the_formula_gives_the_published_values():
    # WCAG 2.2: white on black 21:1; #767676 is the lightest grey to pass 4.5:1, #777777 fails.
    assert _contrast("#ffffff", "#000000") == pytest.approx(21.0)
    assert _contrast("#767676", "#ffffff") >= 4.5
    assert _contrast("#777777", "#ffffff") < 4.5


@pytest.mark.parametrize("colour", _LINES)
def test_lines_keep_three_to_one(colour):
    assert _contrast(colour, style.BACKGROUND) >= 3.0


@pytest.mark.parametrize("colour", [style.INK, style.MUTED])
def test_text_keeps_four_and_a_half_to_one(colour):
    assert _contrast(colour, style.BACKGROUND) >= 4.5


def test_line_colours_are_those_of_okabe_and_ito():
    # Okabe & Ito 2008: RGB of blue, vermillion, bluish green, reddish purple, black.
    published = {(0, 114, 178), (213, 94, 0), (0, 158, 115), (204, 121, 167), (0, 0, 0)}
    ours = {tuple(int(colour[place : place + 2], 16) for place in (1, 3, 5)) for colour in _LINES}
    assert ours == published


def test_sides_differ_in_more_than_colour():
    for one, other in combinations((style.BEFORE, style.AFTER), 2):
        assert one.dashes != other.dashes
        assert one.marker != other.marker


def _css() -> str:
    return environment().get_template("style.css.j2").render()


def _variables(scheme: str) -> dict[str, str]:
    """The page's colours by name; those of the dark scheme stand in its own rule."""
    light, dark = _css().split("prefers-color-scheme: dark", 1)
    text = light if scheme == "light" else dark.split("* {", 1)[0]
    found = re.findall(r"--([\w-]+): (#[0-9a-f]{3}(?:[0-9a-f]{3})?);", text)
    return {
        name: colour if len(colour) == 7 else "#" + "".join(2 * c for c in colour[1:])
        for name, colour in found
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_on_the_page_keeps_its_contrast_on_every_background(scheme):
    variables = _variables(scheme)
    grounds = [variables["paper"], variables["shade"]]
    grounds += [colour for name, colour in variables.items() if name.endswith("-wash")]
    assert len(grounds) == 5
    for name in ("ink", "muted"):
        assert min(_contrast(variables[name], ground) for ground in grounds) >= 4.5
    assert _contrast(variables["link"], variables["paper"]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_marks_on_the_page_keep_three_to_one_on_their_background(scheme):
    css, variables = _css(), _variables(scheme)
    grounds = dict(re.findall(r"td\.([\w-]+) \{ background: var\(--([\w-]+)\)", css))
    marks = re.findall(r"\.([\w-]+) \.mark \{ color: var\(--([\w-]+)\)", css)
    assert len(marks) == 4
    for verdict, colour in marks:
        ground = variables[grounds.get(verdict, "paper")]
        assert _contrast(variables[colour], ground) >= 3.0


def _chart_css(after: str) -> dict[str, str]:
    css = environment().get_template("charts.css.j2").render()
    block = css[css.index("--c-", css.index(after)) :].partition("}")[0]
    return dict(re.findall(r"--c-([\w]+): (#[0-9a-f]{6})", block))


def test_a_page_recolours_every_colour_of_a_drawing():
    css = environment().get_template("charts.css.j2").render()
    light = _chart_css(".drawn")
    drawn = {*_LINES, style.MUTED, style.GRID, style.BACKGROUND}
    for colour in (each.lower() for each in drawn):
        for what in ("fill", "stroke"):
            (name,) = re.findall(rf'\[{what}="{colour}"\] {{ {what}: var\(--c-(\w+)\)', css)
            assert name in light


@pytest.mark.parametrize("scheme", [".drawn", "dark", ":has(image)"])
def test_drawings_keep_their_contrast_light_and_dark(scheme):
    colours = _chart_css(scheme)
    ground = colours["ground"]
    for name in ("ink", "muted"):
        assert _contrast(colours[name], ground) >= 4.5
    for name in ("blue", "vermillion", "green", "purple", "shade"):
        assert _contrast(colours[name], ground) >= 3.0
