"""Every chart of a report: collected, drawn in as many processes as wished, filed."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup
from matplotlib.figure import Figure

from tonecompare.language import in_language, language, tr, tr_later
from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.read_table import ReadTable, read_table
from tonecompare.report.charts.canvas.reading import ReadPanel, panels_of, reading_json
from tonecompare.report.charts.canvas.svg import svg_of
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.names import slug

#: What a picture alone says of its language, and a page need not.
_NAMESPACES = re.compile(r' xmlns(:xlink)?="[^"]*"')
_UNDRAWN = tr_later(
    "Some letters of a name stand as ? in this picture: no font on the computer that drew it has "
    "them."
)
#: A process of its own starts in the time it takes to draw so many charts.
_WORTH_A_WORKER = 24
#: So many charts are drawn between two words on how far that has come.
_TOLD_EVERY = 20
#: A comparison and a voice stand in a chart's file name, each up to 48 letters.
_LONGEST_NAME = 120


@dataclass(frozen=True)
class Drawn:
    """What drawing a chart gave: SVG, what it says, and what can be read off it."""

    svg: str
    says: str
    reading: str
    table: ReadTable | None


class Drawing:
    """A chart that is drawn when it is first looked at, or before, by :meth:`Album.draw`."""

    def __init__(self, draw: Callable[[], Figure], prefix: str, alt: str) -> None:
        self._work = (draw, prefix, alt)
        self._drawn: Drawn | None = None

    @property
    def work(self) -> tuple[Callable[[], Figure], str, str] | None:
        """What is still to be done, None once it is drawn."""
        return self._work if self._drawn is None else None

    def keep(self, drawn: Drawn) -> None:
        """Take what was drawn elsewhere."""
        self._drawn = drawn

    @property
    def done(self) -> Drawn:
        """The drawn chart."""
        if self._drawn is None:
            self._drawn = _drawn(*self._work)
        return self._drawn


def _drawn_in(code: str, draw: Callable[[], Figure], prefix: str, alt: str) -> Drawn:
    """Draw in a process of its own, which knows nothing of the language spoken here."""
    with in_language(code):
        return _drawn(draw, prefix, alt)


def _drawn(draw: Callable[[], Figure], prefix: str, alt: str) -> Drawn:
    figure = draw()
    says = str(figure.get_label())
    panels = panels_of(figure)
    svg = svg_of(figure, prefix, _told(says, alt))
    return Drawn(svg, says, _data(panels), read_table(panels))


def _told(says: str, alt: str) -> str:
    return f"{says}. {alt}" if says else alt


@dataclass(frozen=True)
class Picture:
    """One chart as the page shows it. ``href`` is relative to the report folder."""

    name: str
    topic: str
    caption: str
    href: str
    drawing: Drawing

    @property
    def alt(self) -> str:
        """The text in place of the picture: what it says, then what it shows."""
        return _told(self.drawing.done.says, self.topic)

    @property
    def svg(self) -> Markup:
        """The drawing itself, to stand in a page."""
        return Markup(_NAMESPACES.sub("", self.drawing.done.svg))

    @property
    def reading(self) -> Markup:
        """What its lines hold, as JSON for a script element; "" where nothing can be read."""
        return Markup(self.drawing.done.reading)

    @property
    def table(self) -> ReadTable | None:
        """A few of these values, for whoever does not see the drawing."""
        return self.drawing.done.table


@dataclass
class Album:
    """Collects charts; ``files`` maps a path in the report to its bytes."""

    files: dict[str, bytes] = field(default_factory=dict)
    _pictures: dict[str, Picture] = field(default_factory=dict)

    def add(
        self,
        name: str,
        draw: Callable[[], Figure],
        *,
        alt: str,
        caption: str,
        texts: tuple[str, ...],
    ) -> Picture:
        """Take one chart, under a safe and unique name, described for the page.

        Parameters
        ----------
        name
            What the file is to be called; made safe here.
        draw
            Makes the figure, in another process perhaps.
        alt, caption
            The text in place of the picture, which what the chart says is put before, and the text
            below it.
        texts
            Names the user gave that are written in the chart.
        """
        stem = self._unique(slug(name, longest=_LONGEST_NAME))
        if any(drawable(text) != text for text in texts):
            caption = f"{caption} {tr(_UNDRAWN)}"
        drawing = Drawing(draw, f"c{len(self._pictures) + 1}", alt)
        picture = Picture(stem, alt, caption, f"charts/{stem}.svg", drawing)
        self._pictures[stem] = picture
        return picture

    def draw(self, workers: int = 1, *, told: Callable[[int, int], None] | None = None) -> None:
        """Draw what is not drawn yet and file it; the bytes do not hang on ``workers``.

        ``told`` is called with how many of how many are drawn, now and then.
        """
        waiting = [each.drawing for each in self._pictures.values() if each.drawing.work]
        workers = min(workers, len(waiting) // _WORTH_A_WORKER)
        jobs = [one.work for one in waiting if one.work]
        drawn = (_drawn(*job) for job in jobs)
        if workers > 1:
            import joblib

            parallel = joblib.Parallel(n_jobs=workers, return_as="generator")
            # Jobs are asked for from a thread, and there another language may be spoken.
            here = language()
            drawn = parallel(joblib.delayed(_drawn_in)(here, *job) for job in jobs)
        for done, (one, chart) in enumerate(zip(waiting, drawn, strict=True), start=1):
            one.keep(chart)
            if told is not None and done % _TOLD_EVERY == 0:
                told(done, len(jobs))
        for picture in self._pictures.values():
            self.files[picture.href] = picture.drawing.done.svg.encode("utf-8", "replace")

    def _unique(self, stem: str) -> str:
        candidate, number = stem, 2
        while candidate in self._pictures:
            candidate, number = f"{stem}-{number}", number + 1
        return candidate


def _data(panels: Sequence[ReadPanel]) -> str:
    """Return what can be read off a chart as JSON that may stand in a script element."""
    found = reading_json(panels)
    if not found:
        return ""
    text = json.dumps(found, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("&", "\\u0026")


def voice_pictures(album: Album, pair: ChartPair, *, name: str) -> tuple[Picture, ...]:
    """Draw the charts of one voice: four, of a riff the phrase for what no riff shows."""
    from tonecompare.report.charts.hum import hum_chart
    from tonecompare.report.charts.in_time.decay import decay_chart
    from tonecompare.report.charts.in_time.phrase import phrase_chart
    from tonecompare.report.charts.partials import partials_chart
    from tonecompare.report.charts.spectrum import spectrum_chart

    who = tr(
        "{voice}, {before} and {after}",
        voice=pair.title,
        before=pair.before_label,
        after=pair.after_label,
    )
    drawn: tuple[tuple[str, Callable[[ChartPair], Figure], str, str], ...] = (
        (
            "spectrum", spectrum_chart,
            tr("Averaged spectrum of {voice}, with the difference below.", voice=who),
            tr("Average of the notes both stages share, each weighing the same, summed over 1/3 "
            "octave, the quiet subtracted. Bands: one standard deviation from one repeat to the "
            "next; below, their difference with its 95 % interval over notes."),
        ),
        (
            "partials", partials_chart, tr("Levels of the partials of {voice}.", voice=who),
            tr("Level of each partial against all partials together, mean over notes; bars: one "
            "standard deviation from one repeat to the next."),
        ),
        (
            "decay", decay_chart, tr("Decay curves of {voice}.", voice=who),
            tr("Backward-integrated energy after the onset, mean over the notes that ring longest "
            "above the quiet (half of them or more). Bands: one standard "
            "deviation from one repeat to the next."),
        ),
        (
            "hum", hum_chart, tr("Spectrum of the quiet of {voice}, the mains lines.", voice=who),
            tr("The quiet with the strings damped: the strongest multiples of the mains frequency "
            "that stand above what is beside them."),
        ),
    )  # fmt: skip
    if pair.phrase_before:
        phrase = (
            "phrase", phrase_chart,
            tr("Level and brightness through the phrase, {voice}.", voice=who),
            tr("Repeats laid over each other note by note, in the time of the first one recorded; "
            "upright lines: notes and chords begin. Means, bands one standard deviation from one "
            "repeat to the next; gaps where other notes were played or nothing sounds."),
        )  # fmt: skip
        shown = {"spectrum", "hum", *(("partials", "decay") if pair.single_notes else ())}
        drawn = (phrase, *(one for one in drawn if one[0] in shown))
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
