"""The voices of every stage side by side, for the page: sentences, one chart, tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from tonecompare.compare.model import BenchSign
from tonecompare.compare.side_by_side import SoundDifference, StageVoices, VoicePair, VoiceSound
from tonecompare.language import tr, tr_later
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES, BANDS
from tonecompare.quantities.words import words_for
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.charts.voices import voices_chart
from tonecompare.report.words.names import unique_slugs
from tonecompare.report.words.numbers import NOT_MEASURED, number, signed_parts, with_unit
from tonecompare.report.words.voice_words import (
    NEEDS_ONE_GAIN,
    chart_title,
    sound_titles,
    stage_sentences,
    tone_told,
)

#: Columns of the table against the loudest, with their headings.
_AGAINST = (
    ("level_dbfs", tr_later("Level")), ("centroid_hz", tr_later("Brightness")),
    ("resonance_hz", tr_later("Resonance")), ("hum_dbfs", tr_later("Hum")),
    ("signal_to_hum_db", tr_later("Signal to hum")), ("decay_s", tr_later("Decay")),
)  # fmt: skip
#: Columns of the tables of pairs, beside tone and distance.
_OF_PAIRS = ("level_dbfs", "centroid_hz", "hum_dbfs", "signal_to_hum_db", "decay_s")


@dataclass(frozen=True)
class SoundCell:
    """A value and, below it, its interval ("" without); ``words`` instead of a value."""

    value: str
    interval: str = ""
    words: str = ""


@dataclass(frozen=True)
class SoundRow:
    """One voice, or one against another."""

    title: str
    cells: tuple[SoundCell, ...]


@dataclass(frozen=True)
class SoundTable:
    """One table with what it shows."""

    heading: str
    text: str
    first: str
    columns: tuple[str, ...]
    rows: tuple[SoundRow, ...]


@dataclass(frozen=True)
class StageVoicesView:
    """One stage."""

    anchor: str
    stage: str
    sentences: tuple[str, ...]
    picture: Picture
    tables: tuple[SoundTable, ...]


@dataclass(frozen=True)
class VoicesSection:
    """The section; with several stages their tables are folded away."""

    stages: tuple[StageVoicesView, ...]
    caution: str = NEEDS_ONE_GAIN

    @property
    def several(self) -> bool:
        """Whether there is more than one stage."""
        return len(self.stages) > 1


def voices_section(
    stages: Sequence[StageVoices], bench: Sequence[BenchSign], album: Album
) -> VoicesSection | None:
    """Return the section; None where no stage has two sounds.

    Parameters
    ----------
    stages
        The voices of each stage.
    bench
        What the takes show at the bench, the coils' mismatch among it.
    album
        Draws and files the charts.
    """
    if not stages:
        return None
    anchors = unique_slugs(stage.stage for stage in stages)
    return VoicesSection(
        tuple(_stage(one, f"voices-{anchors[one.stage]}", bench, album) for one in stages)
    )


def _stage(
    voices: StageVoices,
    anchor: str,
    bench: Iterable[BenchSign],
    album: Album,
) -> StageVoicesView:
    titles = sound_titles(voices)
    loudest = titles[voices.loudest]
    names = tuple(titles.values())
    picture = album.add(
        anchor,
        lambda: voices_chart(voices, titles, title=chart_title(voices, titles), texts=names),
        alt=tr(
            "Level, octave bands and hum of {voices} against {loudest}. The numbers stand in the "
            "tables.",
            voices=", ".join(names),
            loudest=loudest,
        ),
        caption=tr(
            "Every voice against {loudest}. Lines: intervals that hold for all voices "
            "together (95 %). Bars up: more of that octave band than it, level taken out; hollow "
            "bars are not shown to differ.",
            loudest=loudest,
        ),
        texts=(*names, voices.stage),
    )
    return StageVoicesView(
        anchor, voices.stage, stage_sentences(voices, titles, bench), picture,
        tuple(table for table in _tables(voices, titles) if table.rows),
    )  # fmt: skip


def _tables(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[SoundTable]:
    loudest = titles[voices.loudest]
    cells = {pair.sound: pair.cells for pair in voices.against_loudest}
    yield SoundTable(
        tr("Against {loudest}", loudest=loudest),
        tr(
            "{loudest} in its own units, the others by how much they differ from it, note by note, "
            "with intervals that hold for all voices together (95 %).",
            loudest=loudest,
        ),
        tr("Voice"),
        tuple(tr(heading) for _, heading in _AGAINST),
        tuple(
            SoundRow(
                titles[one],
                tuple(
                    _own(voices, one, name)
                    if one == voices.loudest
                    else _cell(cells[one][name], own=_own(voices, one, name).value)
                    for name, _ in _AGAINST
                ),
            )
            for one in voices.sounds
        ),
    )
    yield SoundTable(
        tr("Octave bands against {loudest}", loudest=loudest),
        tr(
            "Each band against all bands together, so that level is taken out; a dash where "
            "neither voice has anything of the band."
        ),
        tr("Voice"),
        _band_headings(),
        _band_rows(voices.against_loudest, BAND_SHAPES, lambda pair: titles[pair.sound]),
    )

    def name(pair: VoicePair) -> str:
        return tr("{voice} against {other}", voice=titles[pair.sound], other=titles[pair.against])

    headings = dict(_AGAINST)
    of_pairs = (tr(headings[one]) for one in _OF_PAIRS[1:])
    columns = (tr("Level"), tr("Tone"), *of_pairs, tr("Distance"))
    what = tr("Distance: the largest multiple of a hearing threshold over level and bands.")
    for heading, text, pairs in (
        (tr("Split against full"), tr("One coil against both, each pair for itself (95 %)."),
         voices.splits),
        (tr("Neighbouring positions"),
         tr("Each position against the one before it, from the bridge."),
         voices.neighbours),
        (tr("Magnetic, piezo and blend"), tr("Each channel's own gain is in the levels."),
         voices.outputs),
    ):  # fmt: skip
        yield SoundTable(
            heading,
            f"{text} {what}",
            tr("Voices"),
            columns,
            tuple(SoundRow(name(pair), _pair_cells(pair)) for pair in pairs),
        )
        if pairs is voices.splits:
            yield SoundTable(
                tr("Split against full, band by band"),
                tr("By how much each octave band is louder or softer, level left in."),
                tr("Voices"),
                _band_headings(),
                _band_rows(pairs, BAND_LEVELS, name),
            )


def _band_headings() -> tuple[str, ...]:
    return tuple(band.frequency for band in BANDS)


def _band_rows(
    pairs: Iterable[VoicePair], columns: Sequence[str], name: Callable[[VoicePair], str]
) -> tuple[SoundRow, ...]:
    return tuple(
        SoundRow(
            name(pair),
            tuple(
                SoundCell("–") if pair.cells[shape].weak else _cell(pair.cells[column])
                for column, shape in zip(columns, BAND_SHAPES, strict=True)
            ),
        )
        for pair in pairs
    )


def _pair_cells(pair: VoicePair) -> tuple[SoundCell, ...]:
    level, *others = (_cell(pair.cells[name]) for name in _OF_PAIRS)
    tone = SoundCell("", words=tone_told(pair.cells) or tr("no band shown to differ"))
    return (level, tone, *others, _distance(pair))


def _distance(pair: VoicePair) -> SoundCell:
    far = pair.distance
    if far is None:
        return SoundCell(tr(NOT_MEASURED))
    low = number(far.ci_low, 1)
    if far.bounded:
        return SoundCell(
            number(far.value, 1), tr("{low} to {high}", low=low, high=number(far.ci_high, 1))
        )
    return SoundCell(number(far.value, 1), tr("{low} or more", low=low))


def _cell(cell: SoundDifference, *, own: str = "") -> SoundCell:
    if cell.difference is None:
        return SoundCell(own or tr(NOT_MEASURED))
    value, interval = signed_parts(cell.difference, cell.ci_low, cell.ci_high, cell.unit)
    return SoundCell(value, interval)


def _own(voices: StageVoices, one: VoiceSound, name: str) -> SoundCell:
    value = voices.values.get((one, name))
    if value is None:
        return SoundCell(tr(NOT_MEASURED))
    return SoundCell(with_unit(value, words_for(name).unit))
