"""One picture that makes one statement, and which kind shows which difference."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tonecompare.quantities.words import PARTIALS
from tonecompare.report.difference_views import Difference
from tonecompare.report.video.slide import Slide

#: Kinds of pictures, in the order of a video.
KINDS = (
    "brightness", "hum", "response", "partials", "decay", "phrase", "blend", "cost", "guitars",
    "closing",
)  # fmt: skip


@dataclass(frozen=True)
class Statement:
    """One picture: its kind and file name, what it says, and what draws the chart below."""

    kind: str
    name: str
    title: str
    number: str
    sure: str
    comparison: str
    voice: str
    draw: Callable[[Slide], None]


def kind_of(row: Difference) -> str:
    """Return the kind of picture that shows a difference."""
    known = {"centroid_hz": "brightness", "decay_s": "decay"}
    if row.quantity in PARTIALS:
        return "partials"
    if any(noise in row.quantity for noise in ("hum", "buzz", "hiss", "noise")):
        return "hum"
    return known.get(row.quantity, "response")
