"""The report's section on two-channel voices: magnetic and piezo of the same pluck."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.model import AcousticLikeness, BenchSign
from tonecompare.language import tr, tr_as, tr_later
from tonecompare.measure.flags import Flag
from tonecompare.measure.model import Measurements
from tonecompare.measure.outputs.results import BlendResult
from tonecompare.report.charts.blend import blend_map_chart, likeness_chart
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.difference_views import ALL_NOTES
from tonecompare.report.files.clips import Clips, ClipWriter
from tonecompare.report.files.players import Player, SoundStore, placed
from tonecompare.report.words.bench_words import piezo_sentence
from tonecompare.report.words.blend_words import (
    advice_sentences,
    at_bench_sentence,
    beside_sentences,
    delay_sentence,
    likeness_sentences,
    notch_sentence,
    polarity_sentence,
    quality_sentences,
    recorded_sentence,
)
from tonecompare.report.words.exchanged_outputs import (
    EXCHANGED_FLAG,
    exchanged_sentence,
    exchanged_voices,
    marked_blend,
)
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import NOT_MEASURED, is_number, plain, with_unit

#: Ratios that clips are made of.
CLIP_RATIOS = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class BlendRow:
    """One stage and two-channel voice in words."""

    stage: str
    voice: str
    cells: tuple[str, ...]
    flags: str


@dataclass(frozen=True)
class BlendVoice:
    """What is said, drawn and played of one two-channel voice at one stage."""

    title: str
    sentences: tuple[str, ...]
    pictures: tuple[Picture, ...]
    clips: Clips
    #: Says that more stands in the section of bench signs, "" when nothing does.
    at_bench: str = ""
    #: What plays the clips from inside the page, None where they lie beside it.
    player: Player | None = None
    #: Says why they are not inside, or where they lie.
    silent: str = ""


@dataclass(frozen=True)
class BlendSection:
    """What the section shows; ``sentences`` stand above the table."""

    headings: tuple[str, ...]
    rows: tuple[BlendRow, ...]
    sentences: tuple[str, ...] = ()
    voices: tuple[BlendVoice, ...] = ()


_HEADINGS = (
    tr_later("Delay of the piezo"), tr_later("Polarity as wired"), tr_later("Coherence"),
    tr_later("Piezo minus magnetic"), tr_later("Attack, magnetic"), tr_later("Attack, piezo"),
    tr_later("Fuller when"),
)  # fmt: skip

#: In place of what would be of the wrong output.
_LEFT_OUT = tr_later("left out")

_GROUND = tr_later(
    "A pickup over the string and a piezo under its end hear the same motion a quarter period "
    "apart, and at another time on every string: that their waves look unlike each other is no "
    "fault, and no delay lines them up on all strings. Delay and polarity below are those of the "
    "electronics alone, the string's own travel taken out."
)


def blend_section(
    measurements: Measurements,
    comparisons: Comparisons,
    album: Album,
    clips: ClipWriter | None = None,
) -> BlendSection | None:
    """Return the section, None when no recording has two outputs.

    Parameters
    ----------
    measurements
        Everything measured.
    comparisons
        Likenesses, recordings of blends and bench signs. What stands in the section of bench signs
        is pointed to instead of said again, and of a voice whose channels look exchanged nothing is
        said that rests on which is which.
    album
        Draws and files the charts.
    clips
        Cuts the blends at a few ratios; None for a report without clips.
    """
    signs = comparisons.bench
    table = marked_blend(measurements.blend, signs)
    if not len(table):
        return None
    over_notes = table[table["note"] == ALL_NOTES]
    rows = over_notes if len(over_notes) else table
    return BlendSection(
        tuple(map(tr, _HEADINGS)),
        tuple(_row({str(k): v for k, v in record.items()}) for record in rows.to_dict("records")),
        (tr(_GROUND),),
        voices=tuple(
            _exchanged(key, signs)
            if key in exchanged_voices(signs)
            else _voice(comparisons, album, clips, key, blend)
            for key, blend in measurements.blends.items()
        ),
    )


def _voice(
    comparisons: Comparisons,
    album: Album,
    clips: ClipWriter | None,
    key: tuple[str, str],
    blend: BlendResult,
) -> BlendVoice:
    stage, voice = key
    title = f"{voice_title(voice)}, {stage}"
    near = [one for one in comparisons.likenesses if (one.stage, one.voice) == key]
    fuller, *others = advice_sentences(blend.advice)
    both = polarity_sentence(blend.delay.polarity, blend.advice.fuller_polarity)
    sentences = [delay_sentence(blend.delay), fuller, *([both] if both else []), *others]
    sentences += [notch_sentence(notch) for notch in blend.advice.notches[:3]]
    signs = [sign for sign in comparisons.bench if (sign.stage, sign.voice) == key]
    elsewhere = [each for sign in signs for each in sign.data]
    sentences += [piezo_sentence(one) for one in blend.findings if one not in elsewhere]
    sentences += quality_sentences(blend.magnetic, blend.piezo)
    sentences += [
        recorded_sentence(one.blend, voice_title(one.recording))
        for one in comparisons.recordings_of_blends
        if (one.stage, one.voice) == key
    ]
    for one in near:
        sentences += [*likeness_sentences(one), *beside_sentences(one)]
    polarity = blend.advice.fuller_polarity or 1
    cut = Clips()
    if clips is not None:
        mixes = [(ratio, polarity) for ratio in CLIP_RATIOS] + [(0.5, -polarity)]
        cut = clips.blends(stage, voice, mixes)
    if not blend.by_note:
        sentences.append(
            tr("No pluck rang for 0.1 s, so the blend per band could not be measured.")
        )
    pictures = _pictures(album, key, blend, near)
    return BlendVoice(title, tuple(sentences), pictures, cut, at_bench_sentence(key, signs))


def _exchanged(key: tuple[str, str], signs: Sequence[BenchSign]) -> BlendVoice:
    """Return what is left to say of a voice whose channels look exchanged."""
    title = f"{voice_title(key[1])}, {key[0]}"
    return BlendVoice(title, (exchanged_sentence(),), (), Clips(), at_bench_sentence(key, signs))


def _pictures(
    album: Album, key: tuple[str, str], blend: BlendResult, near: Sequence[AcousticLikeness]
) -> tuple[Picture, ...]:
    stage, voice = key
    title = f"{voice_title(voice)}, {stage}"
    drawn = []
    if np.isfinite(blend.map.interaction_db).any():
        drawn.append(
            album.add(
                f"{stage}-{voice}-blend-map",
                lambda: blend_map_chart(blend.map, title=title),
                alt=tr(
                    "Blend map of {title}: where each ratio of piezo fills and thins over "
                    "frequency, as wired and with one output inverted.",
                    title=title,
                ),
                caption=tr(
                    "Level of the blend against the power sum of its parts, per third octave "
                    "over all notes: green fills, purple thins, lines where it does so by the dB "
                    "written on them. Dashed: both outputs contribute the same power."
                ),
                texts=(title,),
            )
        )  # fmt: skip
    for one in near:
        drawn.append(
            album.add(
                f"{stage}-{voice}-{one.reference}-likeness",
                lambda one=one: likeness_chart(one, title=title),  # type: ignore[misc]
                alt=tr(
                    "Distance of each blend of {title} from {reference}, in thresholds.",
                    title=title,
                    reference=one.reference,
                ),
                caption=tr(
                    "RMS over third octaves from 80 Hz to 8 kHz of blend minus reference, each "
                    "note's level taken out, in thresholds of {threshold}. Smaller is nearer.",
                    threshold=f"{plain(one.threshold_db)} dB",
                ),
                texts=(title, one.reference),
            )
        )  # fmt: skip
    return tuple(drawn)


def _remarks(flags: tuple[Flag, ...]) -> str:
    """Write the row's flags in words: ``delay-not-determinable`` as "delay not determinable"."""
    return ", ".join(tr(flag.text.replace("-", " ")) for flag in flags)


def _row(record: dict[str, Any]) -> BlendRow:
    flags: tuple[Flag, ...] = record["flags"]
    cells: tuple[str, ...] = (
        _value(record, "delay_us", "µs", uncertainty="delay_se_us"),
        _word(record, "polarity", {1: tr_as("polarity", "same"), -1: tr_as("polarity", "opposite")},
              tr("not determinable")),
        _value(record, "coherence", ""),
        _value(record, "level_difference_db", "dB", signed=True),
        _value(record, "transient_magnetic_db", "dB"),
        _value(record, "transient_piezo_db", "dB"),
        _word(
            record, "fuller_polarity", {1: tr("left as it is"), -1: tr("one is inverted")},
            tr("either way"),
        ),
    )  # fmt: skip
    if EXCHANGED_FLAG in flags:
        # Only the coherence does not ask which channel is which.
        out = tr(_LEFT_OUT)
        cells = (out, out, cells[2], *([out] * 4))
    stage, voice = str(record["stage"]), voice_title(str(record["voice"]))
    return BlendRow(stage, voice, cells, _remarks(flags))


def _value(
    record: dict[str, Any], name: str, unit: str, *, uncertainty: str = "", signed: bool = False
) -> str:
    value = record.get(name)
    if not is_number(value):
        return tr(NOT_MEASURED)
    spread = record.get(uncertainty) if uncertainty else None
    return with_unit(
        float(value), unit, uncertainty=float(spread) if is_number(spread) else None, signed=signed
    )


def _word(record: dict[str, Any], name: str, words: dict[int, str], otherwise: str) -> str:
    value = record.get(name)
    return words.get(int(value), otherwise) if is_number(value) else otherwise


def with_players(section: BlendSection | None, sounds: SoundStore | None) -> BlendSection | None:
    """Return the section on blends with a player for each of its voices."""
    if section is None:
        return None
    voices = []
    for voice in section.voices:
        carry = sounds.blends if sounds else None
        player, silent = placed(carry, voice.title, voice.clips)
        voices.append(replace(voice, player=player, silent=silent))
    return replace(section, voices=tuple(voices))
