"""Guitars, or stages of one, side by side: voices in rows, guitars in columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.guitars.side_by_side import GuitarGroup, VoiceBeside, guitar_groups
from tonecompare.language import tr, tr_later
from tonecompare.measure.model import Measurements
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import words_for
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.charts.guitars import BesideRow, guitars_chart
from tonecompare.report.difference_views import Difference
from tonecompare.report.page.verdict_table import (
    VerdictCell,
    cell_of,
    family_cell,
    own_value,
)
from tonecompare.report.words.guitar_words.guitars_told import (
    chart_title,
    group_sentences,
    outside_sentence,
)
from tonecompare.report.words.guitar_words.step_words import NOISES
from tonecompare.report.words.names import unique_slugs, voice_title
from tonecompare.report.words.reason_words import told_rows
from tonecompare.session.model import ComparisonSpec, Session

#: What the table shows of each voice, in this order; "" stands for the bands together.
SHOWN = ("level_dbfs", "", "resonance_hz", "decay_s", "hum_dbfs", "buzz_dbfs", "signal_to_hum_db")
#: What the chart shows, the strongest verdict of each.
CHARTED = {
    tr_later("Level"): ("level_dbfs",),
    tr_later("Tone"): (*BAND_SHAPES, "resonance_hz", "centroid_hz"),
    tr_later("Decay"): ("decay_s",),
    tr_later("Noise"): NOISES,
}
_NOT_THERE = tr_later("no such voice recorded")

#: Differences over all notes by comparison, voice and output.
_Found = Mapping[tuple[str, str], list[Difference]]


@dataclass(frozen=True)
class GuitarsRow:
    """One quantity of one voice; a cell per stage, the first that has the voice with its value."""

    voice: str
    quantity: str
    cells: tuple[VerdictCell, ...]


@dataclass(frozen=True)
class GuitarsSection:
    """One group of guitars or stages."""

    anchor: str
    heading: str
    sentences: tuple[str, ...]
    stages: tuple[str, ...]
    rows: tuple[GuitarsRow, ...]
    picture: Picture | None


def guitars_sections(
    session: Session, measurements: Measurements, comparisons: Comparisons, album: Album
) -> tuple[GuitarsSection, ...]:
    """Return a section per group of three or more guitars or stages.

    Parameters
    ----------
    session, measurements, comparisons
        What was recorded, measured and compared.
    album
        Draws and files the charts.
    """
    groups = guitar_groups(session, measurements)
    if not groups:
        return ()
    found: dict[tuple[str, str], list[Difference]] = {}
    for each in (comparisons, comparisons.further):
        for row in told_rows(each) if each is not None else ():
            found.setdefault((row.comparison, row.voice), []).append(row)
    spread = comparisons.tables.get("guitars", pd.DataFrame()).to_dict("records")
    anchors = unique_slugs(f"guitars {group.first}" for group in groups)
    sections = []
    for group in groups:
        against = {
            stage: [
                row
                for each in group.voices
                for row in found.get((ComparisonSpec(group.first, stage).name, each.voice), ())
            ]
            for stage in group.stages[1:]
        }
        outside = outside_sentence(
            [{str(key): value for key, value in row.items()} for row in spread], group.stages
        )
        sections.append(
            GuitarsSection(
                anchor=anchors[f"guitars {group.first}"],
                heading=tr("Side by side: {stages}", stages=", ".join(group.stages)),
                sentences=(*group_sentences(group, against), *([outside] if outside else [])),
                stages=group.stages,
                rows=tuple(_rows(group, found)),
                picture=_picture(group, found, against, album),
            )
        )
    return tuple(sections)


def _outputs(each: VoiceBeside, found: _Found) -> list[str]:
    rows = [row for other in each.others for row in found.get(_key(each, other), ())]
    return list(dict.fromkeys(row.output for row in rows))


def _key(each: VoiceBeside, other: str) -> tuple[str, str]:
    return ComparisonSpec(each.reference, other).name, each.voice


def _rows(group: GuitarGroup, found: _Found) -> Iterator[GuitarsRow]:
    for each in group.voices:
        outputs = _outputs(each, found)
        for output in outputs:
            title = voice_title(each.voice, output=output, several_outputs=len(outputs) > 1)
            against = {
                other: [row for row in found.get(_key(each, other), ()) if row.output == output]
                for other in each.others
            }
            for name in SHOWN:
                cells = _row(group, each, name, against)
                if cells is not None:
                    label = words_for(name).label if name else tr("Bands")
                    yield GuitarsRow(title, label, cells)


def _row(
    group: GuitarGroup,
    each: VoiceBeside,
    quantity: str,
    against: Mapping[str, Sequence[Difference]],
) -> tuple[VerdictCell, ...] | None:
    """Return one row's cells; None where no stage has the quantity."""
    cells = {
        other: family_cell(rows, BAND_SHAPES)
        if not quantity
        else cell_of(next((row for row in rows if row.quantity == quantity), None))
        for other, rows in against.items()
    }
    if all(cell.kind in ("missing", "empty") for cell in cells.values()):
        return None
    own = ""
    for rows in against.values():
        for row in rows:
            if row.quantity == quantity and row.before_value is not None:
                own = own or own_value(row, row.before_value)
    return tuple(
        VerdictCell("missing", words=own or "–")
        if stage == each.reference
        else cells.get(stage, VerdictCell("missing", words=tr(_NOT_THERE)))
        for stage in group.stages
    )


def _picture(
    group: GuitarGroup, found: _Found, against: Mapping[str, Sequence[Difference]], album: Album
) -> Picture | None:
    rows = []
    for each in group.voices:
        outputs = _outputs(each, found)
        for output in outputs:
            title = voice_title(each.voice, output=output, several_outputs=len(outputs) > 1)
            if each.reference != group.first:
                title = tr("{voice}, against {stage}", voice=title, stage=each.reference)
            for other in each.others:
                charted = _charted(
                    [row for row in found.get(_key(each, other), ()) if row.output == output]
                )
                if any(row is not None for row in charted.values()):
                    rows.append(BesideRow(title, other, charted))
    if not rows:
        return None
    return album.add(
        f"guitars-{group.first}",
        lambda: guitars_chart(rows, title=chart_title(group, against)),
        alt=tr(
            "Differences of {stages} from {first}, voice by voice, in hearing thresholds. "
            "The numbers stand in the table.",
            stages=", ".join(group.stages[1:]),
            first=group.first,
        ),
        caption=tr(
            "Every voice against {first}, counted in hearing thresholds, with 95 % "
            "intervals: left less, right more. Grey: within one threshold. Tone: the band, "
            "brightness or resonance that differs most surely; noise: hum, buzz or hiss.",
            first=group.first,
        ),
        texts=(*group.stages, *(row.voice for row in rows)),
    )


def _charted(rows: Sequence[Difference]) -> dict[str, Difference | None]:
    """Return what each column of the chart shows: the surest of the strongest verdict."""
    shown: dict[str, Difference | None] = {}
    for name, quantities in CHARTED.items():
        known = [
            row
            for row in rows
            if row.quantity in quantities and row.in_thresholds is not None and row.matters
        ]
        shown[name] = max(known, key=lambda row: row.telling, default=None)
    return shown
