"""The passages of a session set beside each other: named by their music, read cell by cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.flags import UNMEASURED
from tonecompare.measure.measured import Measured, flags_of, unmeasured
from tonecompare.measure.played.measure_passage import PLAYED
from tonecompare.measure.played.passage_frames import PassageFrames
from tonecompare.measure.played.passage_glides import glide_readings, glides_of_cells
from tonecompare.measure.played.same_music import (
    align,
    cell_levels,
    passage_readings,
    same_music,
    start_offset_s,
)
from tonecompare.measure.table import MeasuredSubject
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.takes.plucks.passages import PASSAGE
from tonecompare.units import mean_square_to_dbfs

#: A passage by file, channel and number.
PassageKey = tuple[str, int, int]
_METHOD = "cells of aligned passages"
_WHOLE, _CENTROID = len(BAND_LEVELS), len(BAND_LEVELS) + 1
_FULL_SCALE_SINE = float(mean_square_to_dbfs(1.0))


def with_passages(
    subjects: Sequence[MeasuredSubject], frames: Mapping[PassageKey, PassageFrames]
) -> tuple[MeasuredSubject, ...]:
    """Return the subjects with every passage named by its music and read.

    Parameters
    ----------
    subjects
        Everything measured, passages as rows of their own.
    frames
        The passages, by file, channel and number.

    Returns
    -------
    tuple of MeasuredSubject
        ``level_dbfs``, ``centroid_hz``, the octave bands and their shapes, and where its events
        glide ``glide_cents`` of passages filled in;
        ``likeness`` is how much of the first passage of its music each holds, None for the first
        passage of all. One music is called
        "riff", several "riff A", "riff B" … in the order of the recordings.
    """
    if not frames:
        return tuple(subjects)
    played = list(dict.fromkeys((file, number) for file, _, number in frames))
    leading = {
        key: frames[min(each for each in frames if (each[0], each[2]) == key)] for key in played
    }
    groups, likeness = same_music([leading[key] for key in played])
    likeness[0] = np.nan
    firsts = list(dict.fromkeys(groups))
    names = {
        first: PASSAGE if len(firsts) == 1 else f"{PASSAGE} {_letters(place)}"
        for place, first in enumerate(firsts)
    }
    found: dict[PassageKey, _Reading] = {}
    voices = {
        (each.subject.file, each.subject.channel, each.subject.pluck): (
            each.subject.voice,
            each.subject.output,
        )
        for each in subjects
        if each.subject.kind == "plucks"
    }
    for first in firsts:
        of_group = [place for place, group in enumerate(groups) if group == first]
        model = leading[played[first]]
        maps = {place: align(model, leading[played[place]]) for place in of_group}
        by_voice: dict[tuple[str, str], list[tuple[int, PassageKey]]] = {}
        for place in of_group:
            for key in frames:
                if (key[0], key[2]) == played[place] and key in voices:
                    by_voice.setdefault(voices[key], []).append((place, key))
        for members in by_voice.values():
            cells = [cell_levels(model, frames[key], maps[place]) for place, key in members]
            readings = passage_readings(cells)
            shapes = passage_readings([each[:_WHOLE] - each[_WHOLE] for each in cells])
            glides = glide_readings(
                [
                    glides_of_cells(model, frames[key], leading[played[place]], maps[place])
                    for place, key in members
                ]
            )
            for (place, key), reading, shape, glide in zip(
                members, readings, shapes, glides, strict=True
            ):
                found[key] = _Reading(
                    names[first],
                    float(likeness[place]),
                    start_offset_s(model, leading[played[place]], maps[place]),
                    np.append(reading, shape),
                    glide,
                )
    return tuple(_read(each, found) for each in subjects)


@dataclass(frozen=True)
class _Reading:
    """What a passage reads: levels, bands, brightness and shapes; glide and its error in cents."""

    name: str
    likeness: float
    offset_s: float
    values: FloatArray
    glide: FloatArray


def _letters(place: int) -> str:
    """Count in letters: A to Z, then AA, AB."""
    head = "" if place < 26 else _letters(place // 26 - 1)
    return head + chr(ord("A") + place % 26)


def _read(subject: MeasuredSubject, found: Mapping[PassageKey, _Reading]) -> MeasuredSubject:
    of = subject.subject
    if of.kind != "plucks" or of.channel is None or of.pluck is None:
        return subject
    key = (of.file, of.channel, of.pluck)
    if key not in found:
        return subject
    reading = found[key]
    likeness, values = reading.likeness, reading.values
    read = {
        "level_dbfs": _measured(values[_WHOLE] + _FULL_SCALE_SINE, "dBFS"),
        "centroid_hz": _measured(10.0 ** (values[_CENTROID] / 10.0), "Hz"),
        **{
            column: _measured(values[place] + _FULL_SCALE_SINE, "dBFS")
            for place, column in enumerate(BAND_LEVELS)
        },
        **{
            column: _measured(values[_CENTROID + 1 + place], "dB")
            for place, column in enumerate(BAND_SHAPES)
        },
        "riff_offset_s": Measured(reading.offset_s, "s", method=_METHOD),
        "glide_cents": _glide(reading.glide),
        "likeness": Measured(likeness, "", method=_METHOD)
        if np.isfinite(likeness)
        else Measured(None, "", method=_METHOD, reason="no passage was recorded before this one"),
    }
    quantities = {**subject.quantities, **read}
    words = [flag for flag in subject.flags if flag.code != UNMEASURED]
    return MeasuredSubject(replace(of, note=reading.name), quantities, flags_of(words, quantities))


def _glide(glide: FloatArray) -> Measured:
    cents, se = (float(each) for each in glide)
    if not np.isfinite(cents):
        return unmeasured("cents", f"{PLAYED}, and they glide too little")
    return Measured(cents, "cents", se if np.isfinite(se) else None, method=_METHOD)


def _measured(value: float, unit: str) -> Measured:
    if not np.isfinite(value):
        return Measured(None, unit, method=_METHOD, reason=f"{PLAYED}, and it does not stand out")
    return Measured(float(value), unit, method=_METHOD)
