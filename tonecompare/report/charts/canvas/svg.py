"""A figure as small, plain SVG that a page can hold in its text.

Letters stay letters, drawn in the font of whoever shows the picture; colours are attributes, not
styles, so that a page with a strict policy shows them and its style sheet can set others for the
dark; what is in the picture has no name but what the page asks for by it (a series), so that
several pictures stand in one page. The picture has a light ground of its own.
"""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree

import matplotlib as mpl
from matplotlib.figure import Figure

from tonecompare.report.charts.canvas.style import FONT_STACK, INK

_SVG, _XLINK = "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"
_HREF = f"{{{_XLINK}}}href"
_NUMBER = re.compile(r"-?\d+\.\d+")
_LONG_PATH = re.compile(r"\s*([MLCQzZ])\s*")
_FONT = re.compile(r"^(?:(?:normal|italic) )?(?:(\d+|bold|normal) )?([\d.]+)px ")
_USED = re.compile(r"#([\w-]+)")
#: Names that a page asks for begin so.
SERIES = "series-"

ElementTree.register_namespace("", _SVG)
ElementTree.register_namespace("xlink", _XLINK)


def svg_of(figure: Figure, name: str, alt: str = "") -> str:
    """Return a figure as SVG.

    Parameters
    ----------
    figure
        Artists whose ``gid`` begins with ``series-`` keep it, as a class.
    name
        Begins every id inside the picture; unlike in every picture of a page.
    alt
        The text in place of the picture.

    Returns
    -------
    str
        One ``svg`` element, the same text from run to run.
    """
    written = io.BytesIO()
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams["svg.hashsalt"] = "tonecompare"
        mpl.rcParams["svg.fonttype"] = "none"
        figure.savefig(written, format="svg", metadata=dict.fromkeys(("Date", "Creator")))
    root = ElementTree.fromstring(written.getvalue())
    _plain(root)
    _named(root, name)
    width, height = root.attrib["viewBox"].split()[2:]
    root.attrib = {
        "viewBox": root.attrib["viewBox"], "width": width, "height": height, "role": "img",
        "aria-label": alt, "color": INK, "fill": "currentColor", "font-family": FONT_STACK,
        "stroke-linejoin": "round", "stroke-linecap": "butt",
    }  # fmt: skip
    return ElementTree.tostring(root, encoding="unicode")


def _plain(element: ElementTree.Element) -> None:
    """Drop what says nothing, turn styles into attributes, and shorten numbers, all through."""
    kept: list[ElementTree.Element] = []
    for child in element:
        tag = child.tag.removeprefix(f"{{{_SVG}}}")
        if tag in ("metadata", "style"):
            continue
        _plain(child)
        _restyle(child)
        if tag in ("g", "defs") and not len(child):
            continue
        if tag == "g" and not child.attrib:
            kept.extend(child)
        else:
            kept.append(child)
        child.tail = None
    element[:] = kept
    if element.tag.removeprefix(f"{{{_SVG}}}") != "text":
        element.text = None


def _restyle(element: ElementTree.Element) -> None:
    named = element.attrib.pop("id", "")
    if named.startswith(SERIES):
        element.set("class", named)
    elif named and element.tag.endswith(("path", "clipPath", "image")):
        element.set("id", named)
    style = element.attrib.pop("style", "")
    for part in filter(None, (each.strip() for each in style.split(";"))):
        prop, value = (each.strip() for each in part.split(":", 1))
        if prop == "font":
            font = _FONT.match(value)
            assert font is not None, value
            element.set("font-size", font[2])
            if font[1]:
                element.set("font-weight", font[1])
        elif prop == "font-size":
            element.set(prop, value.removesuffix("px"))
        elif prop != "font-family":
            element.set(prop, "currentColor" if value == INK.lower() else value)
    if element.get("transform", "").startswith("rotate(-0 "):
        del element.attrib["transform"]
    for key in ("d", "x", "y", "width", "height", "transform"):
        if key in element.attrib:
            element.set(key, _short(element.attrib[key]))


def _short(text: str) -> str:
    shorter = _NUMBER.sub(lambda found: f"{float(found[0]):.2f}".rstrip("0").rstrip("."), text)
    return _LONG_PATH.sub(r"\1", shorter).strip()


def _named(root: ElementTree.Element, name: str) -> None:
    """Give every id that something points to a short name of this picture, drop the others."""
    used: dict[str, str] = {}
    every = list(root.iter())
    for element in every:
        for value in (element.get(_HREF, ""), element.get("clip-path", "")):
            if not value.startswith("data:") and (found := _USED.search(value)):
                used.setdefault(found[1], f"{name}-{len(used) + 1}")
    by_id = {element.get("id"): element for element in every}
    for element in every:
        marked = by_id.get(element.get(_HREF, "#")[1:])
        for key in ("fill", "stroke"):
            if marked is not None and key in element.attrib:
                # A style sheet reaches what uses a marker, not the marker.
                marked.attrib.pop(key, None)
    for element in every:
        here = element.attrib.pop("id", "")
        if here in used:
            element.set("id", used[here])
        for key in (_HREF, "clip-path"):
            value = element.get(key, "")
            if value and not value.startswith("data:"):
                element.set(key, _USED.sub(lambda found: f"#{used[found[1]]}", value))
