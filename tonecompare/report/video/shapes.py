"""Screens and papers that charts are drawn for, and the looks they are drawn in."""

from __future__ import annotations

from dataclasses import dataclass

from tonecompare.report.charts.canvas.style import AFTER, BACKGROUND, BEFORE, GRID, INK, MUTED


@dataclass(frozen=True)
class Screen:
    """A screen in pixels, or a paper in hundredths of an inch (``vector``)."""

    name: str
    width: int
    height: int
    vector: tuple[str, ...] = ()

    @property
    def letter(self) -> float:
        """Height of the smallest letters: a thirtieth of the height, legible on a phone."""
        return self.height / 30.0


SHAPES = {
    shape.name: shape
    for shape in (
        Screen("video", 1920, 1080),
        Screen("portrait", 1080, 1920),
        Screen("square", 1080, 1080),
        Screen("print", 1600, 1000, ("pdf", "svg")),
        Screen("page", 900, 750, ("svg",)),
    )
}
#: Left free at each edge, as a share: everything stands inside what every screen shows.
MARGIN = 0.1


@dataclass(frozen=True)
class Look:
    """Colours of one look; ``halo`` is drawn around letters and lines, "" for none."""

    name: str
    background: str
    ink: str
    muted: str
    rule: str
    before: str
    after: str
    halo: str = ""


#: On dark grounds the light blue and the orange of Okabe & Ito keep 3:1 and more.
LOOKS = {
    look.name: look
    for look in (
        Look("light", BACKGROUND, INK, MUTED, GRID, BEFORE.colour, AFTER.colour),
        Look("dark", "#14161A", "#F5F5F3", "#BDBDBD", "#3A3D42", "#56B4E9", "#E69F00"),
        Look("transparent", "none", "#FFFFFF", "#E6E6E6", "#9A9A9A", "#56B4E9", "#E69F00",
             "#000000"),
    )
}  # fmt: skip
