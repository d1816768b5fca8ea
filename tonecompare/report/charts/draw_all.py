"""Draws every chart of a report once and hands out the files and what the page needs of them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup
from matplotlib.figure import Figure

from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.read_table import ReadTable, read_table
from tonecompare.report.charts.canvas.reading import ReadPanel, panels_of, reading_json
from tonecompare.report.charts.canvas.svg import svg_of
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.names import slug

#: What a picture alone says of its language, and a page need not.
_NAMESPACES = re.compile(r' xmlns(:xlink)?="[^"]*"')
_UNDRAWN = (
    "Some letters of a name stand as ? in this picture: no font on the computer that drew it has "
    "them."
)


#: A comparison and a voice stand in a chart's file name, each up to 48 letters.
_LONGEST_NAME = 120


@dataclass(frozen=True)
class Picture:
    """One chart as the page shows it.

    ``svg`` is the drawing itself, ``reading`` what its lines hold, as JSON ("" where there is
    nothing to read), ``table`` a few of these values for whoever does not see the drawing. ``href``
    is relative to the report folder.
    """

    name: str
    alt: str
    caption: str
    svg: Markup
    reading: Markup
    table: ReadTable | None
    href: str


@dataclass
class Album:
    """Collects charts as they are drawn; ``files`` maps a path in the report to its bytes."""

    files: dict[str, bytes] = field(default_factory=dict)
    _taken: set[str] = field(default_factory=set)

    def add(
        self,
        name: str,
        draw: Callable[[], Figure],
        *,
        alt: str,
        caption: str,
        texts: tuple[str, ...],
    ) -> Picture:
        """Draw one chart, file it under a safe and unique name, and describe it for the page.

        Parameters
        ----------
        name
            What the file is to be called; made safe here.
        draw
            Makes the figure.
        alt, caption
            The text in place of the picture, which what the chart says is put before, and the text
            below it.
        texts
            Names the user gave that are written in the chart.
        """
        stem = self._unique(slug(name, longest=_LONGEST_NAME))
        figure = draw()
        says = str(figure.get_label())
        alt = f"{says}. {alt}" if says else alt
        drawn = svg_of(figure, f"c{len(self._taken)}", alt)
        panels = panels_of(figure)
        self.files[f"charts/{stem}.svg"] = drawn.encode("utf-8")
        if any(drawable(text) != text for text in texts):
            caption = f"{caption} {_UNDRAWN}"
        return Picture(
            stem, alt, caption, Markup(_NAMESPACES.sub("", drawn)), _data(panels),
            read_table(panels), f"charts/{stem}.svg",
        )  # fmt: skip

    def _unique(self, stem: str) -> str:
        candidate, number = stem, 2
        while candidate in self._taken:
            candidate, number = f"{stem}-{number}", number + 1
        self._taken.add(candidate)
        return candidate


def _data(panels: Sequence[ReadPanel]) -> Markup:
    """Return what can be read off a chart as JSON that may stand in a script element."""
    found = reading_json(panels)
    if not found:
        return Markup()
    text = json.dumps(found, ensure_ascii=True, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c").replace("&", "\\u0026"))


def voice_pictures(album: Album, pair: ChartPair, *, name: str) -> tuple[Picture, ...]:
    """Draw the four charts of one voice."""
    from tonecompare.report.charts.decay import decay_chart
    from tonecompare.report.charts.hum import hum_chart
    from tonecompare.report.charts.partials import partials_chart
    from tonecompare.report.charts.spectrum import spectrum_chart

    who = f"{pair.title}, {pair.before_label} and {pair.after_label}"
    drawn = (
        (
            "spectrum", spectrum_chart, f"Averaged spectrum of {who}, with the difference below.",
            "Average of the notes both stages share, each weighing the same, summed over 1/3 "
            "octave, the quiet subtracted. Bands: one standard deviation from pluck to pluck; "
            "below, their difference with its 95 % interval over notes.",
        ),
        (
            "partials", partials_chart, f"Levels of the partials of {who}.",
            "Level of each partial against all partials together, mean over notes; bars: one "
            "standard deviation from pluck to pluck.",
        ),
        (
            "decay", decay_chart, f"Decay curves of {who}.",
            "Backward-integrated energy after the onset, mean over the notes that ring longest "
            "above the quiet (half of them or more). Bands: one standard "
            "deviation from pluck to pluck.",
        ),
        (
            "hum", hum_chart, f"Spectrum of the quiet of {who}, the mains lines.",
            "The quiet with the strings damped: the strongest multiples of the mains frequency "
            "that stand above what is beside them.",
        ),
    )  # fmt: skip
    return tuple(
        album.add(
            f"{name}-{kind}",
            lambda draw=draw: draw(pair),  # type: ignore[misc]
            alt=alt,
            caption=caption,
            texts=pair.titles(),
        )
        for kind, draw, alt, caption in drawn
    )
