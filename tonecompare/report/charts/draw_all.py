"""Every chart of a report: collected, drawn in as many processes as wished, filed."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property

from markupsafe import Markup
from matplotlib.figure import Figure

from tonecompare.language import in_language, language, tr, tr_later
from tonecompare.report.charts.canvas.fonts import drawable
from tonecompare.report.charts.canvas.read_table import ReadTable, read_table
from tonecompare.report.charts.canvas.reading import ReadPanel, panels_of, reading_json
from tonecompare.report.charts.canvas.svg import svg_of
from tonecompare.report.charts.pair import ChartPair
from tonecompare.report.words.names import slug
from tonecompare.workers.processes import processes, start_at_once

#: What a picture alone says of its language, and a page need not.
_NAMESPACES = re.compile(r' xmlns(:xlink)?="[^"]*"')
_UNDRAWN = tr_later(
    "Some letters of a name stand as ? in this picture: no font on the computer that drew it has "
    "them."
)
#: A process that starts anew is ready in the time it takes to draw so many charts.
_WORTH_A_START = 24
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
    """A chart that is drawn when it is first looked at, unless another process has begun it."""

    def __init__(self, draw: Callable[[], Figure], prefix: str, alt: str) -> None:
        self._work = (draw, prefix, alt)
        self._elsewhere: Future[Drawn] | None = None

    def hand_out(self, others: Executor) -> None:
        """Have it drawn by another process, in the language that is spoken here."""
        from joblib import wrap_non_picklable_objects

        # Charts are functions within functions, which no process finds by their names.
        draw, *rest = self._work
        self._elsewhere = others.submit(
            _drawn_in, language(), wrap_non_picklable_objects(draw, keep_wrapper=False), *rest
        )

    @cached_property
    def done(self) -> Drawn:
        """The drawn chart."""
        if self._elsewhere is None or self._elsewhere.cancel():
            return _drawn(*self._work)
        return self._elsewhere.result()


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
    """Collects charts; ``files`` maps a path in the report to its bytes.

    ``others`` are processes that begin to draw as soon as there is something to be drawn; the
    first ``here`` charts are not for them.
    """

    others: Executor | None = None
    here: int = 0
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
        if self.others is not None and len(self._pictures) >= self.here:
            drawing.hand_out(self.others)
        picture = Picture(stem, alt, caption, f"charts/{stem}.svg", drawing)
        self._pictures[stem] = picture
        return picture

    def draw(self, *, told: Callable[[int, int], None] | None = None) -> None:
        """Draw what is not drawn yet, beside the others, and file it.

        ``told`` is called with how many of how many are drawn, now and then.
        """
        every = list(self._pictures.values())
        # The last first: the others began with the first.
        for done, picture in enumerate(reversed(every), start=1):
            self.files[picture.href] = picture.drawing.done.svg.encode("utf-8", "replace")
            if told is not None and done % _TOLD_EVERY == 0:
                told(done, len(every))

    def _unique(self, stem: str) -> str:
        candidate, number = stem, 2
        while candidate in self._pictures:
            candidate, number = f"{stem}-{number}", number + 1
        return candidate


@contextmanager
def album(workers: int) -> Iterator[Album]:
    """Give an album in which so many processes draw, this one among them."""
    if workers < 2:
        yield Album()
        return
    here = 0 if start_at_once() else _WORTH_A_START
    with processes(workers - 1) as others:
        yield Album(others, here)


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
            tr("How the notes die away: the energy still to come, against that at the onset; mean "
            "over the notes that ring longest above the quiet (half of them or more). Bands: one "
            "standard deviation from one repeat to the next."),
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
