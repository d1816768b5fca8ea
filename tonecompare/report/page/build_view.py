"""Results into the page's view, drawing charts and cutting clips on the way."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

import pandas as pd

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import Confound
from tonecompare.compare.voices_paired import with_sides
from tonecompare.compare.worth.work_steps import Step as WorthStep
from tonecompare.language import tr
from tonecompare.measure.model import Measurements
from tonecompare.quantities.words import HEADLINE
from tonecompare.report.charts.chart_data import Compared, VoiceOutput, compared, pair_of, titles_of
from tonecompare.report.charts.draw_all import Album, Picture, voice_pictures
from tonecompare.report.charts.overview import overview_chart
from tonecompare.report.difference_views import ALL_NOTES, rows_of
from tonecompare.report.files.clips import Clips, ClipWriter
from tonecompare.report.files.players import SoundStore, placed
from tonecompare.report.files.summary import versions
from tonecompare.report.page.appendix import (
    input_views,
    left_out_views,
    notice_views,
    problem_views,
    setting_views,
    threshold_views,
)
from tonecompare.report.page.bench_section import pickup_views, sign_views
from tonecompare.report.page.blend_section import blend_section, with_players
from tonecompare.report.page.guitars.guitars_section import guitars_sections
from tonecompare.report.page.guitars.spread_section import spread_sections
from tonecompare.report.page.guitars.worth_section import worth_section
from tonecompare.report.page.quiet_table import COLUMNS, quiet_rows
from tonecompare.report.page.response_section import equaliser_views, response_pictures
from tonecompare.report.page.sheet.sheet_view import Heard, sheet_view
from tonecompare.report.page.verdict_table import (
    VerdictTable,
    detail_rows,
    note_table,
    verdict_table,
)
from tonecompare.report.page.view import (
    ComparisonView,
    ConfoundView,
    PageView,
    ProblemView,
    VoiceView,
)
from tonecompare.report.page.voices import voices_section
from tonecompare.report.words.cause_words.cause_text import cause_texts
from tonecompare.report.words.comparison_words import note_sentence
from tonecompare.report.words.finding_words.cause_names import cause_name
from tonecompare.report.words.finding_words.finding import Finding
from tonecompare.report.words.finding_words.worked_on import work_between
from tonecompare.report.words.names import comparison_title, side_title, unique_slugs, voice_title
from tonecompare.report.words.numbers import listed
from tonecompare.report.words.reason_words import told_differences
from tonecompare.report.words.report_findings import left_out
from tonecompare.session.model import Session

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
    sounds: SoundStore | None = None,
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
    sounds
        Carries the clips inside the page; None leaves them beside it.
    step
        Told what is being worked on.
    """
    builder = _Builder(session, measurements, comparisons, album, clips, step, sounds)
    sections = builder.comparisons()
    costs = worth_section(worth, comparisons, currency=session.worth.currency, album=album)
    return PageView(
        title=session.title,
        sheet=sheet_view(session, comparisons, worth=worth, costs=costs, voices=builder.heard),
        findings=tuple(findings),
        comparisons=sections,
        quiet=quiet_rows(measurements.quiet),
        quiet_headings=tuple(tr(heading) for _, heading, _ in COLUMNS),
        guitars=guitars_sections(session, measurements, comparisons, album),
        spreads=spread_sections(comparisons.tables),
        signs=sign_views(comparisons.bench),
        pickups=pickup_views(measurements.voices),
        blend=with_players(blend_section(measurements, comparisons, album, clips), sounds),
        worth=costs,
        left_out=left_out_views(left_out(session, measurements)),
        problems=remark_views(session, measurements),
        thresholds=threshold_views(comparisons),
        inputs=input_views(measurements),
        settings=setting_views(session),
        versions=tuple(versions().items()),
        sounds=tuple(sounds.data.items()) if sounds else (),
        voices=voices_section(comparisons.voices, comparisons.bench, album),
    )


def remark_views(session: Session, measurements: Measurements) -> tuple[ProblemView, ...]:
    """Return what is to be said of the session and of its files."""
    return (*notice_views(session), *problem_views(measurements))


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
        sounds: SoundStore | None,
    ) -> None:
        self._session, self._measurements = with_sides(session, measurements)
        self._sounds = sounds
        self._results, self._album, self._clips, self._step = comparisons, album, clips, step
        every = rows_of(told_differences(comparisons), note=None)
        self._notes = [row for row in every if row.note != ALL_NOTES]
        self._order = _pitch_order(measurements.plucks)
        #: Sounds of the voices so far, by comparison and voice.
        self.heard: dict[tuple[str, VoiceOutput], Heard] = {}

    def comparisons(self) -> tuple[ComparisonView, ...]:
        every = compared(self._session, self._results)
        slugs = unique_slugs(one.name for one in every)
        return tuple(self._comparison(one, slugs[one.name]) for one in every)

    def _comparison(self, one: Compared, anchor: str) -> ComparisonView:
        titles = titles_of(one.voices)
        outputs = Counter(name for name, _ in one.voices)
        names = {
            (name, output): f"{name} {output}" if outputs[name] > 1 else name
            for name, output in one.voices
        }
        keys = unique_slugs(names.values())
        anchors = {voice: f"{anchor}--{keys[name]}" for voice, name in names.items()}
        return ComparisonView(
            anchor=anchor,
            name=one.name,
            before=one.labels[0],
            after=one.labels[1],
            between_voices=one.between_voices,
            sisters=one.sisters,
            title=_title(one),
            work=work_between(self._session, one.before, one.after),
            notes=tuple(note_sentence(n) for n in self._results.notes.get(one.name, ())),
            table=verdict_table(one, titles, anchors),
            overview=self._overview(one, titles, anchor),
            confounds=self._confounds(one, found=True),
            cleared=self._confounds(one, found=False),
            drift=self._drift(one),
            voices=tuple(
                self._voice(one, voice, titles[voice], anchors[voice]) for voice in one.voices
            ),
        )

    def _overview(
        self, one: Compared, titles: dict[VoiceOutput, str], anchor: str
    ) -> Picture | None:
        rows = [row for row in one.rows if row.quantity in HEADLINE]
        if not any(row.in_thresholds is not None for row in rows):
            return None
        names = _title(one)
        self._step(tr("Drawing {what}", what=names))
        return self._album.add(
            f"{anchor}-overview",
            lambda: overview_chart(rows, titles, title=tr("Differences in hearing thresholds")),
            alt=tr(
                "Differences of {names} in hearing thresholds with their intervals, by voice. "
                "The numbers stand in the table of verdicts.",
                names=names,
            ),
            caption=tr(
                "Each difference counted in its hearing threshold, with its 95 % interval. "
                "Grey: within one threshold. Quantities without a known threshold are left out."
            ),
            texts=tuple(titles.values()),
        )

    def _confounds(self, one: Compared, *, found: bool) -> tuple[ConfoundView, ...]:
        """Return what was found (or not) of each kind, with the voices it was looked for in."""
        kinds: dict[str, list[Confound]] = {}
        for item in self._results.confounds:
            left_open = isinstance(item.facts, StrengthFacts) and item.facts.alone
            if item.comparison == one.name and item.found == found and not left_open:
                kinds.setdefault(item.kind, []).append(item)
        return tuple(
            ConfoundView(
                cause_name(kind),
                listed(list(dict.fromkeys(map(_place, items)))),
                cause_texts(items),
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
        self._step(tr("Drawing {what}", what=f"{_title(one)}: {title}"))
        pair = pair_of(self._measurements, one, voice, title)
        pictures = voice_pictures(self._album, pair, name=anchor)
        response = response_pictures(
            self._album, self._results.responses, voice, one.name, title=title, name=anchor
        )
        clips = self._clips.voice(one, voice) if self._clips else Clips()
        player, silent = placed(self._sounds.sides if self._sounds else None, title, clips)
        self.heard[one.name, voice] = Heard(title, clips, player, silent)
        return VoiceView(
            anchor=anchor,
            title=title,
            pictures=pictures,
            responses=response,
            details=detail_rows(one.of(voice)),
            by_note=note_table(
                [row for row in self._notes if row.comparison == one.name], voice, self._order
            ),
            equalisers=equaliser_views(
                self._album, self._results.equalisers, voice, one.name, name=anchor
            ),
            clips=clips,
            player=player,
            silent=silent,
        )


def _pitch_order(plucks: pd.DataFrame) -> dict[str, float]:
    """Return the middle pitch of each note, to put notes in order."""
    if not len(plucks):
        return {}
    pitch = pd.to_numeric(plucks["f0_hz"], errors="coerce")
    return {str(note): float(hz) for note, hz in pitch.groupby(plucks["note"]).median().items()}


def _place(item: Confound) -> str:
    return voice_title(item.voice) if item.voice else tr("all voices")


def _title(one: Compared) -> str:
    if one.between_voices:
        return side_title(one.before, one.after)
    return comparison_title(one.before, one.after)
