"""One long recording of all voices, played one after the other, cut where the long pauses are.

The level of 20 ms frames (mean square over the channels) that stays within 10 dB of the quiet
(its tenth percentile) is a pause. Of so many voices one fewer pauses are the cuts: the longest,
which must be 4 s or more and half as long again as the longest pause within a voice, or nothing is
cut. A voice keeps one second of the pause behind it; the rest is the quiet before the next one.

Where the player tapped three times between any two voices, the taps are the cuts, whatever the
pauses: three sounds of at most 0.3 s, 0.15 to 1.2 s apart and evenly, with 1.5 s of quiet on either
side. The taps themselves are in no file.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import soundfile as sf

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.language import tr_later
from tonecompare.session.naming import listed
from tonecompare.takes.read import head_of, not_understood

#: Pauses between voices last this long at least, and so many times the longest within a voice.
SHORTEST_PAUSE_S, TIMES_LONGER = 4.0, 1.5
_FRAME_S, _OVER_QUIET_DB, _KEPT_BEHIND_S = 0.02, 10.0, 1.0
#: Frames that a sound lasts at least: a click of the selector is none.
_FEWEST_FRAMES = 4
#: A mark is so many taps, none longer, so far apart, the longer gap against the shorter, in quiet.
_TAPS, _LONGEST_TAP_S, _TAP_GAPS_S, _EVENLY, _QUIET_AROUND_S = 3, 0.3, (0.15, 1.2), 1.8, 1.5


@dataclass(frozen=True)
class VoiceCut:
    """What one voice was given of a long recording, seconds from its start.

    ``pause_s`` is the pause before it that was cut in, 0 for the first; ``tapped`` says that it was
    cut at a mark of three taps.
    """

    voice: str
    path: Path
    start_s: float
    end_s: float
    pause_s: float
    tapped: bool = False


def _opened(path: Path, head: bytes) -> sf.SoundFile:
    try:
        return sf.SoundFile(os.fsencode(path))
    except sf.LibsndfileError as error:
        raise not_understood(path, head) from error


def cut_voices(path: Path, voices: Sequence[str], into: Path) -> tuple[VoiceCut, ...]:
    """Write one file per voice, sample for sample, in the order the voices were played.

    Parameters
    ----------
    path
        The long recording; it stays as it is.
    voices
        Names of the voices in the order they were played.
    into
        Folder for the files, each named by its voice, in the format of ``path``.

    Raises
    ------
    InputError
        When the file cannot be read (a ``RecordingError``), the pauses do not part so many voices
        (nothing is written then), or a file of a voice is there already.
    """
    head = head_of(path)
    targets = [into / f"{voice}{path.suffix.lower()}" for voice in voices]
    there = [target for target in targets if target.exists()]
    if there:
        raise InputError(
            tr_later("{file}: exists already, so nothing was written.", file=str(there[0]))
        )
    try:
        with _opened(path, head) as file:
            rate_hz, length_s = float(file.samplerate), file.frames / file.samplerate
            level_db = _levels(file)
        marks = marks_between(level_db)
        tapped = bool(marks) and len(marks) == len(voices) - 1
        if tapped:
            pauses = marks
            starts, ends = [0.0, *(end for _, end in marks)], [*(start for start, _ in marks)]
        else:
            pauses = pauses_between(level_db, len(voices), length_s=length_s)
            ends = [min(start_s + _KEPT_BEHIND_S, end_s) for start_s, end_s in pauses]
            starts = [0.0, *ends]
        ends = [*ends, length_s]
        into.mkdir(parents=True, exist_ok=True)
        spans = [
            (round(a * rate_hz), round(b * rate_hz)) for a, b in zip(starts, ends, strict=True)
        ]
        _write_all(path, targets, spans)
    except sf.LibsndfileError as error:
        raise InputError(
            tr_later("{file}: cannot be cut: {why}", file=str(path), why=str(error))
        ) from error
    lasts = [0.0, *(end_s - start_s for start_s, end_s in pauses)]
    return tuple(
        VoiceCut(voice, target, starts[k], ends[k], lasts[k], tapped and k > 0)
        for k, (voice, target) in enumerate(zip(voices, targets, strict=True))
    )


def marks_between(level_db: FloatArray) -> list[tuple[float, float]]:
    """Find every mark of three taps: from just before its first to just behind its last, seconds.

    Parameters
    ----------
    level_db
        Shape (frames,): level of each 20 ms.
    """
    sounds = _sounds(level_db, shortest=1)
    marks = []
    for first in range(len(sounds) - _TAPS + 1):
        taps = sounds[first : first + _TAPS]
        gaps = [later[0] - earlier[0] for earlier, later in pairwise(taps)]
        before = taps[0][0] - (sounds[first - 1][1] if first else -_QUIET_AROUND_S)
        rest = sounds[first + _TAPS :]
        behind = (rest[0][0] if rest else len(level_db) * _FRAME_S) - taps[-1][1]
        if (
            all(stop - start <= _LONGEST_TAP_S for start, stop in taps)
            and all(_TAP_GAPS_S[0] <= gap <= _TAP_GAPS_S[1] for gap in gaps)
            and max(gaps) <= _EVENLY * min(gaps)
            and min(before, behind) >= _QUIET_AROUND_S
        ):
            marks.append((taps[0][0] - _FRAME_S, taps[-1][1] + 5 * _FRAME_S))
    return marks


def pauses_between(
    level_db: FloatArray, voices: int, *, length_s: float
) -> list[tuple[float, float]]:
    """Find the pauses (start and end in seconds) that part so many voices, in order.

    Parameters
    ----------
    level_db
        Shape (frames,): level of each 20 ms.
    voices
        How many there are.
    length_s
        Length of the recording.

    Raises
    ------
    InputError
        When other pauses are about as long, or those there are too few or too short.
    """
    sounds = _sounds(level_db)
    found = [(one[1], other[0]) for one, other in pairwise(sounds)]
    by_length = sorted(found, key=lambda pause: pause[0] - pause[1])
    chosen, rest = sorted(by_length[: voices - 1]), by_length[voices - 1 :]
    lengths = [end - start for start, end in chosen]
    inside = max((end - start for start, end in rest), default=0.0)
    if len(chosen) < voices - 1 or (lengths and min(lengths) < SHORTEST_PAUSE_S):
        raise InputError(
            tr_later(
                "{voices} voices are asked for, but in {length_s:.0f} s too few pauses of "
                "{shortest_s:.0f} s or more lie between sounds: {found}. Damp all strings for 8 s "
                "or more between two voices, or tap three times on the damped strings between "
                "them.",
                voices=voices,
                length_s=float(length_s),
                shortest_s=float(SHORTEST_PAUSE_S),
                found=sum(length >= SHORTEST_PAUSE_S for length in lengths),
            )
        )
    if lengths and min(lengths) < TIMES_LONGER * inside:
        starts = listed(f"{start:.0f} s" for start, _ in sorted(by_length[: voices + 2]))
        raise InputError(
            tr_later(
                "The pauses do not tell where {voices} voices end: the shortest between two would "
                "be {between_s:.1f} s, the longest within one {inside_s:.1f} s (pauses at "
                "{starts}). Give the number of voices that were played, or cut the recording by "
                "hand.",
                voices=voices,
                between_s=float(min(lengths)),
                inside_s=float(inside),
                starts=starts,
            )
        )
    return chosen


def _sounds(level_db: FloatArray, shortest: int = _FEWEST_FRAMES) -> list[tuple[float, float]]:
    """Start and end in seconds of every stretch that stands over the quiet."""
    if not level_db.size:
        return []
    loud = level_db > np.percentile(level_db, 10.0) + _OVER_QUIET_DB
    edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]]).astype(np.int8)))
    stretches = edges.reshape(-1, 2)
    long_enough = stretches[np.diff(stretches, axis=1)[:, 0] >= shortest]
    return [(float(start), float(stop)) for start, stop in long_enough * _FRAME_S]


def _levels(file: sf.SoundFile) -> FloatArray:
    size = max(1, round(_FRAME_S * file.samplerate))
    power = [
        np.mean(np.square(block - block.mean(axis=0)), dtype=np.float64)
        for block in file.blocks(size, dtype="float64", always_2d=True)
        if len(block) == size
    ]
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-20)))


def _write_all(path: Path, targets: Sequence[Path], spans: Sequence[tuple[int, int]]) -> None:
    """Write spans of a file to one file each: all of them, or none when one cannot be written."""
    mark = f".{os.urandom(4).hex()}"
    beside = [target.with_name(f".{target.stem[:40]}{mark}{target.suffix}") for target in targets]
    try:
        with sf.SoundFile(path) as file:
            for fresh, (start, stop) in zip(beside, spans, strict=True):
                file.seek(start)
                _copy(file, fresh, stop)
        for fresh, target in zip(beside, targets, strict=True):
            fresh.rename(target)
    finally:
        for fresh in beside:
            fresh.unlink(missing_ok=True)


def _copy(file: sf.SoundFile, target: Path, stop: int) -> None:
    """Write the frames from where the file stands up to ``stop``."""
    form = {"format": file.format, "subtype": file.subtype}
    kind = "float64" if file.subtype in ("FLOAT", "DOUBLE") else "int32"
    frames = 0
    try:
        with sf.SoundFile(target, "x", file.samplerate, file.channels, **form) as out:
            while (left := stop - file.tell()) > 0:
                block = file.read(min(left, 1 << 20), dtype=kind, always_2d=True)
                if not len(block):
                    break
                out.write(block)
                frames += len(block)
        with sf.SoundFile(target) as written:
            whole = int(written.frames) == frames
    except (AssertionError, sf.LibsndfileError):  # soundfile asserts that all was written
        whole = False
    if not whole:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(target.parent))
