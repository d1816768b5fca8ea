"""Draws every chart of a report once and hands out the files and what the page needs of them."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable
from dataclasses import dataclass, field

from matplotlib.figure import Figure

from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.save import ChartFiles, save_chart
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.names import slug

_UNDRAWN = (
    "Some letters of a name stand as ? in this picture: no font on the computer that drew it has "
    "them."
)


#: A comparison and a voice stand in a chart's file name, each up to 48 letters.
_LONGEST_NAME = 120


@dataclass(frozen=True)
class Picture:
    """One chart as the page shows it. ``href_*`` are relative to the report folder."""

    name: str
    alt: str
    caption: str
    data_uri: str
    width: int
    height: int
    href_png: str
    href_svg: str


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
            The text in place of the picture, and the text below it.
        texts
            Names the user gave that are written in the chart.
        """
        stem = self._unique(slug(name, longest=_LONGEST_NAME))
        chart: ChartFiles = save_chart(draw())
        self.files[f"charts/{stem}.png"] = chart.png
        self.files[f"charts/{stem}.svg"] = chart.svg
        if any(drawable(text) != text for text in texts):
            caption = f"{caption} {_UNDRAWN}"
        return Picture(
            stem,
            alt,
            caption,
            "data:image/png;base64," + b64encode(chart.png).decode("ascii"),
            chart.width_px,
            chart.height_px,
            f"charts/{stem}.png",
            f"charts/{stem}.svg",
        )

    def _unique(self, stem: str) -> str:
        candidate, number = stem, 2
        while candidate in self._taken:
            candidate, number = f"{stem}-{number}", number + 1
        self._taken.add(candidate)
        return candidate


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
            "above the quiet (half of them or more; n stands in the chart). Bands: one standard "
            "deviation from pluck to pluck.",
        ),
        (
            "hum", hum_chart, f"Spectrum of the quiet of {who}, mains lines marked.",
            "The quiet with the strings damped: highest bin in each 1/36 octave. Markers stand on "
            "mains lines above what is beside them.",
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
