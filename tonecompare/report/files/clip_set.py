"""A folder of clips to use elsewhere: aligned, equally loud, alone and in turn, with cue times."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
import soundfile as sf
from numpy.typing import NDArray

from tonecompare.errors import RecordingError, message_of
from tonecompare.language import tr
from tonecompare.measure.model import FileRecord
from tonecompare.report.files.csv_tables import csv_text
from tonecompare.report.files.report_folder import whole_or_nothing
from tonecompare.report.makers import MADE_BY_CLIPS
from tonecompare.report.sounds.aligned import AlignedSound, SoundReader, common_loudness
from tonecompare.report.sounds.flac_rate import HIGHEST_FLAC_HZ, for_flac
from tonecompare.report.sounds.loudness import true_peak_db
from tonecompare.report.sounds.selection import SoundPair
from tonecompare.report.sounds.wave_file import Cue, wave_bytes, web_vtt, whole_numbers
from tonecompare.report.words.listening_words.clip_words import (
    clip_comment,
    clip_stem,
    clip_title,
    cue_label,
    sequence_comment,
)

#: Long enough for a note to ring.
LONGEST_S = 8.0
GAP_S = 0.25
CLIP_COLUMNS = (
    "comparison", "voice", "output", "note", "side", "file", "source", "channel", "pluck",
    "onset_s", "length_s", "gain_db", "loudness_lkfs", "true_peak_dbtp", "shift_ms", "aligned_by",
)  # fmt: skip
CUE_COLUMNS = ("file", "label", "start_s", "end_s", "start_sample", "rate_hz")


@dataclass(frozen=True)
class ClipSet:
    """How many pairs were written, how loud, and which could not be."""

    pairs: int
    loudness_lkfs: float
    left_out: tuple[str, ...]


def write_clip_set(
    pairs: Sequence[SoundPair],
    root: Path,
    out: Path,
    *,
    files: Sequence[FileRecord] = (),
    progress: Callable[[int, int, str], None] | None = None,
    notice: Callable[[str], None] | None = None,
) -> ClipSet:
    """Write the clips of a selection to the folder ``out``, whole or not at all.

    Each pair as WAV (24 bit, markers and tags inside) and FLAC (24 bit, tags inside), each side
    alone and both in turn (A B A B), all of one fixed-window loudness. ``clips.csv`` says what was
    done to each, ``cues.csv`` and a ``.vtt`` per sequence where each part begins. A pair of which
    a file was changed after it was measured (``files``) is left out.

    Raises
    ------
    InputError
        When ``out`` holds something else.
    """
    reader = SoundReader(root, files)
    ready: list[SoundPair] = []
    levels: list[AlignedSound] = []
    left_out = []
    for number, pair in enumerate(pairs, start=1):
        try:
            # Samples are not kept: with many voices they would fill the memory.
            sounds = reader.aligned((*pair.before, *pair.after))
            levels += [replace(sound, samples=np.zeros(0)) for sound in sounds]
            ready.append(pair)
        except (RecordingError, ValueError) as error:
            left_out.append(_left_out(pair, error))
        if progress is not None:
            progress(number, 2 * len(pairs), tr("cut {what}", what=f"{pair.voice} {pair.note}"))
    loudness = common_loudness(levels)
    clips: list[dict[str, object]] = []
    cues: list[dict[str, object]] = []
    with whole_or_nothing(out, by=MADE_BY_CLIPS, notice=notice) as folder:
        for number, pair in enumerate(ready, start=1):
            try:
                sounds = reader.aligned((*pair.before, *pair.after))
            except RecordingError as error:  # changed since it was read a moment ago
                left_out.append(_left_out(pair, error))
                continue
            rows, places = _write_pair(folder, pair, sounds, loudness)
            clips += rows
            cues += places
            if progress is not None:
                what = tr("wrote {what}", what=f"{pair.voice} {pair.note}")
                progress(len(pairs) + number, 2 * len(pairs), what)
        for name, found, columns in (
            ("clips.csv", clips, CLIP_COLUMNS),
            ("cues.csv", cues, CUE_COLUMNS),
        ):
            text = csv_text(pd.DataFrame(found, columns=list(columns)), columns)
            (folder / name).write_bytes(text.encode("utf-8", "replace"))
        summary = {"made_by": MADE_BY_CLIPS, "schema": 1, "loudness_lkfs": round(loudness, 3)}
        (folder / "summary.json").write_text(json.dumps(summary), encoding="utf-8")
    return ClipSet(len(pairs) - len(left_out), loudness, tuple(left_out))


def _left_out(pair: SoundPair, error: Exception) -> str:
    return f"{pair.comparison}, {pair.voice}, {pair.note}: {message_of(error)}"


def sequence(
    sides: Sequence[NDArray[np.int32]], labels: Sequence[str], rate_hz: float
) -> tuple[NDArray[np.int32], tuple[Cue, ...]]:
    """Return two sounds in turn, A B A B, with a gap between them, and where each begins."""
    gap = np.zeros(round(GAP_S * rate_hz), dtype=np.int32)
    parts: list[NDArray[np.int32]] = []
    cues, at = [], 0
    for number in range(4):
        side = sides[number % 2]
        cues.append(Cue(labels[number % 2], at, side.size))
        parts += [side, gap]
        at += side.size + gap.size
    return np.concatenate(parts[:-1]), tuple(cues)


def _write_pair(
    folder: Path, pair: SoundPair, sounds: Sequence[AlignedSound], loudness: float
) -> tuple[list[dict[str, object]], list[dict[str, object]]]:
    stem = clip_stem(pair.comparison, pair.voice, pair.output, pair.note)
    rate = round(sounds[0].rate_hz)
    rows, whole, gains = [], [], []
    for name, side, sound in zip(("before", "after"), pair.sides, sounds, strict=True):
        samples = sound.at(loudness)
        gain_db = loudness - sound.loudness_lkfs if np.isfinite(sound.loudness_lkfs) else 0.0
        values = whole_numbers(samples)
        peak = true_peak_db(values / 2.0**23)
        comment = clip_comment(
            gain_db=gain_db,
            loudness_lkfs=loudness,
            peak_dbtp=peak,
            source=sound.cut.file,
            onset_s=sound.cut.onset_s,
        )
        title = clip_title(pair.comparison, pair.voice, pair.note, side)
        _write(folder / f"{stem}-{name}", values, rate, title, comment)
        whole.append(values)
        gains.append(gain_db)
        rows.append(
            {
                "comparison": pair.comparison, "voice": pair.voice, "output": pair.output,
                "note": pair.note, "side": side, "file": f"{stem}-{name}.wav",
                "source": sound.cut.file, "channel": sound.cut.channel, "pluck": sound.cut.pluck,
                "onset_s": sound.cut.onset_s, "length_s": values.size / rate, "gain_db": gain_db,
                "loudness_lkfs": loudness, "true_peak_dbtp": peak,
                "shift_ms": 1e3 * sound.shift_s,
                "aligned_by": "attack" if sound.by_attack else "onset",
            }
        )  # fmt: skip
    labels = [cue_label(letter, side) for letter, side in zip("AB", pair.sides, strict=True)]
    together, cues = sequence(whole, labels, rate)
    title = clip_title(pair.comparison, pair.voice, pair.note, "A B A B")
    comment = sequence_comment(*pair.sides, (gains[0], gains[1]))
    _write(folder / f"{stem}-abab", together, rate, title, comment, cues)
    (folder / f"{stem}-abab.vtt").write_text(web_vtt(cues, rate), encoding="utf-8")
    places: list[dict[str, object]] = [
        {
            "file": f"{stem}-abab.wav", "label": cue.label, "start_s": cue.start / rate,
            "end_s": (cue.start + cue.length) / rate, "start_sample": cue.start, "rate_hz": rate,
        }
        for cue in cues
    ]  # fmt: skip
    return rows, places


def _write(
    stem: Path,
    values: NDArray[np.int32],
    rate: int,
    title: str,
    comment: str,
    cues: Sequence[Cue] = (),
) -> None:
    tags = {"INAM": title, "ICMT": comment, "ISFT": MADE_BY_CLIPS}
    stem.with_name(f"{stem.name}.wav").write_bytes(wave_bytes(values, rate, cues=cues, tags=tags))
    path = stem.with_name(f"{stem.name}.flac")
    if rate > HIGHEST_FLAC_HZ:
        halved, rate_hz = for_flac(values / 2.0**23, rate)
        values, rate = whole_numbers(halved), round(rate_hz)
    with sf.SoundFile(path, "w", samplerate=rate, channels=1, subtype="PCM_24") as file:
        # Halves of characters, which names that are no UTF-8 hold, cannot be in a tag.
        file.title, file.comment = (
            text.encode("utf-8", "replace").decode() for text in (title, comment)
        )
        file.write(values * 256)
