"""Results into the page's view, drawing charts and cutting clips on the way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pandas as pd

from tonecompare.compare.model import Comparisons, Confound
from tonecompare.compare.worth import Step as WorthStep
from tonecompare.measure.model import Measurements
from tonecompare.report.bench_section import pickup_views, sign_views
from tonecompare.report.blend_section import blend_section
from tonecompare.report.charts.overview import overview_chart
from tonecompare.report.clips import Clips, ClipWriter
from tonecompare.report.findings import Finding
from tonecompare.report.names import unique_slugs, voice_title
from tonecompare.report.numbers import count, listed, number, with_unit
from tonecompare.report.pairs import Compared, VoiceOutput, compared, pair_of, titles_of
from tonecompare.report.phrases import confound_sentence
from tonecompare.report.pictures import Album, Picture, voice_pictures
from tonecompare.report.quantities import HEADLINE, words_for
from tonecompare.report.quiet_table import COLUMNS, quiet_rows
from tonecompare.report.response_section import equaliser_views, response_pictures
from tonecompare.report.rows import rows_of
from tonecompare.report.spread_section import spread_sections
from tonecompare.report.summary import left_out, versions
from tonecompare.report.verdict_table import VerdictTable, detail_rows, verdict_table
from tonecompare.report.view import (
    ComparisonView,
    ConfoundView,
    InputView,
    PageView,
    ProblemView,
    ThresholdView,
    VoiceView,
)
from tonecompare.report.worth_section import worth_section
from tonecompare.session.model import Session

#: Files named beside one remark; the rest are counted (all stand in summary.json).
_FILES_NAMED = 6

Step = Callable[[str], None]


def build_page(
    session: Session,
    measurements: Measurements,
    comparisons: Comparisons,
    findings: Sequence[Finding],
    *,
    worth: Sequence[WorthStep] = (),
    album: Album,
    clips: ClipWriter | None,
    step: Step,
) -> PageView:
    """Return the page's data.

    Parameters
    ----------
    session, measurements, comparisons, findings
        What the report is about.
    worth
        Steps of work with what they cost and moved.
    album
        Takes the charts.
    clips
        Cuts the clips; None for a report without.
    step
        Told what is being worked on.
    """
    builder = _Builder(session, measurements, comparisons, album, clips, step)
    return PageView(
        title=session.title,
        findings=tuple(findings),
        comparisons=builder.comparisons(),
        quiet=quiet_rows(measurements.quiet),
        quiet_headings=tuple(heading for _, heading, _ in COLUMNS),
        spreads=spread_sections(comparisons.tables),
        signs=sign_views(comparisons.bench),
        pickups=pickup_views(measurements.voices),
        blend=blend_section(measurements, album),
        worth=worth_section(worth, currency=session.worth.currency, album=album),
        left_out=tuple(
            ProblemView((item.file,), _without_file(item.reason, item.file))
            for item in left_out(session, measurements)
        ),
        problems=_problems(measurements),
        thresholds=_thresholds(comparisons),
        inputs=_inputs(measurements),
        settings=_settings(session),
        versions=tuple(versions().items()),
    )


class _Builder:
    """Builds the comparisons of a page, one after the other."""

    def __init__(
        self,
        session: Session,
        measurements: Measurements,
        comparisons: Comparisons,
        album: Album,
        clips: ClipWriter | None,
        step: Step,
    ) -> None:
        self._session, self._measurements = session, measurements
        self._results, self._album, self._clips, self._step = comparisons, album, clips, step

    def comparisons(self) -> tuple[ComparisonView, ...]:
        every = compared(self._session, self._results)
        slugs = unique_slugs(one.name for one in every)
        return tuple(self._comparison(one, slugs[one.name]) for one in every)

    def _comparison(self, one: Compared, anchor: str) -> ComparisonView:
        titles = titles_of(one.voices)
        names = {voice: _file_name(voice, titles[voice]) for voice in one.voices}
        keys = unique_slugs(names.values())
        anchors = {voice: f"{anchor}--{keys[name]}" for voice, name in names.items()}
        return ComparisonView(
            anchor=anchor,
            name=one.name,
            before=one.before,
            after=one.after,
            work=self._work(one),
            notes=self._results.notes.get(one.name, ()),
            table=verdict_table(one, titles, anchors),
            overview=self._overview(one, titles, anchor),
            confounds=self._confounds(one, found=True),
            cleared=self._confounds(one, found=False),
            drift=self._drift(one),
            voices=tuple(
                self._voice(one, voice, titles[voice], anchors[voice]) for voice in one.voices
            ),
        )

    def _work(self, one: Compared) -> tuple[str, ...]:
        """Name the work from the before stage to the after stage, following ``from`` back."""
        stages, name = self._session.stages, one.after
        items: list[str] = []
        seen: set[str] = set()
        while name in stages and name != one.before and name not in seen:
            seen.add(name)
            items[:0] = [item.what for item in stages[name].work]
            name = stages[name].from_stage or ""
        return tuple(items) if name == one.before else ()

    def _overview(
        self, one: Compared, titles: dict[VoiceOutput, str], anchor: str
    ) -> Picture | None:
        rows = [row for row in one.rows if row.quantity in HEADLINE]
        if not any(row.in_thresholds is not None for row in rows):
            return None
        self._step(f"Drawing {one.name}")
        return self._album.add(
            f"{anchor}-overview",
            lambda: overview_chart(rows, titles, title="Differences in hearing thresholds"),
            alt=f"Differences of {one.name} in hearing thresholds with their intervals, by voice. "
            "The numbers stand in the table of verdicts.",
            caption="Each difference counted in its hearing threshold, with its 95 % interval. "
            "Grey: within one threshold. Quantities without a known threshold are left out.",
            texts=tuple(titles.values()),
        )

    def _confounds(self, one: Compared, *, found: bool) -> tuple[ConfoundView, ...]:
        """Return what was found (or not) of each kind, with the voices it was looked for in."""
        kinds: dict[str, list[Confound]] = {}
        for item in self._results.confounds:
            if item.comparison == one.name and item.found == found:
                kinds.setdefault(item.kind, []).append(item)
        return tuple(
            ConfoundView(
                kind.replace("-", " "),
                listed([voice_title(item.voice) if item.voice else "all voices" for item in items]),
                tuple(confound_sentence(item) for item in items),
            )
            for kind, items in kinds.items()
        )

    def _drift(self, one: Compared) -> VerdictTable | None:
        """Return the control's own drift between the sessions, None without a control."""
        table = self._results.tables.get("control", pd.DataFrame())
        if not len(table):
            return None
        rows = tuple(row for row in rows_of(table) if row.comparison == one.name)
        if not rows:
            return None
        voices = tuple(dict.fromkeys((row.voice, row.output) for row in rows))
        control = replace(one, rows=rows, voices=voices)
        return verdict_table(control, titles_of(voices), dict.fromkeys(voices, ""))

    def _voice(self, one: Compared, voice: VoiceOutput, title: str, anchor: str) -> VoiceView:
        self._step(f"Drawing {one.name}: {title}")
        pair = pair_of(self._measurements, one, voice, title)
        pictures = voice_pictures(self._album, pair, name=anchor)
        response = response_pictures(
            self._album, self._results.responses, voice, one.name, title=title, name=anchor
        )
        clips = self._clips.voice(one, voice) if self._clips else Clips()
        return VoiceView(
            anchor=anchor,
            title=title,
            pictures=(*pictures, *response),
            details=detail_rows(one.of(voice)),
            equalisers=equaliser_views(
                self._album, self._results.equalisers, voice, one.name, name=anchor
            ),
            clips=clips,
        )


def _file_name(voice: VoiceOutput, title: str) -> str:
    """Return what a voice's files are named after: its output only where the title names it."""
    return " ".join(voice) if title.endswith(f"({voice[1]})") else voice[0]


def _problems(measurements: Measurements) -> tuple[ProblemView, ...]:
    """Return each remark once, with the files it was made on."""
    files: dict[str, list[str]] = {}
    for record in measurements.files:
        for problem in record.problems:
            files.setdefault(_without_file(problem, record.file), []).append(record.file)
    return tuple(
        ProblemView(tuple(names[:_FILES_NAMED]), sentence, max(len(names) - _FILES_NAMED, 0))
        for sentence, names in files.items()
    )


def _without_file(sentence: str, file: str) -> str:
    """Drop the file's name from the front of a sentence that stands beside it anyway."""
    head, found, rest = sentence.partition(": ")
    if found and (head == file or head.endswith(f"/{file}")):
        sentence = rest
    return sentence[:1].upper() + sentence[1:]


def _thresholds(comparisons: Comparisons) -> tuple[ThresholdView, ...]:
    table = comparisons.tables.get("thresholds", pd.DataFrame())
    views: dict[tuple[str, str], ThresholdView] = {}
    for record in table.to_dict("records"):
        if str(record["quantity"]) not in HEADLINE and "partial" not in str(record["label"]):
            continue
        below, above, unit = float(record["below"]), float(record["above"]), str(record["unit"])
        limit = (
            f"{number(above, 2 if above < 1 else 0)} {unit}"
            if below == above
            else f"{number(-below, 0)} to {number(above, 0, signed=True)} {unit}"
        )
        label = words_for(str(record["quantity"])).label
        key = (limit, str(record["source"]))
        if key in views:
            known = views[key]
            if known.label.count(",") < 3 and not label.startswith(("Partial", "Decay of")):
                views[key] = replace(known, label=f"{known.label}, {label}")
            continue
        label = {"h01_db": "One partial"}.get(str(record["quantity"]), label)
        views[key] = ThresholdView(label, limit, str(record["source"]), str(record["sure"]))
    return tuple(views.values())


def _inputs(measurements: Measurements) -> tuple[InputView, ...]:
    return tuple(
        InputView(
            record.file,
            record.stage,
            record.voice,
            f"{number(record.rate_hz / 1000.0, 1)} kHz, {record.subtype.replace('_', ' ')}, "
            f"{count(record.channels, 'channel')}, {with_unit(record.length_s, 's')}",
            record.n_plucks,
            record.sha256,
        )
        for record in measurements.files
    )


def _settings(session: Session) -> tuple[tuple[str, str], ...]:
    mains = "found in each recording" if session.mains_hz is None else with_unit(
        session.mains_hz, "Hz", uncertainty=0.05
    )  # fmt: skip
    changed = ", ".join(f"{name} {value:g}" for name, value in session.hearing_thresholds.items())
    return (
        ("Mains frequency", mains),
        ("Tuning reference", with_unit(session.a4_hz, "Hz", uncertainty=0.5)),
        ("Hearing thresholds changed", changed or "none"),
    )
