"""What plays and shows when: whole frames of sound and picture, before and after in turn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.measure.model import PhraseCurve
from tonecompare.report.sounds.aligned import AlignedSound
from tonecompare.report.sounds.cuts import LEAD_S
from tonecompare.report.sounds.selection import SoundPair
from tonecompare.report.sounds.wave_file import whole_numbers

#: Frames a second; the first that divides the sample rate into whole samples.
_FRAME_RATES = (30, 25, 24)
#: Longest a sound plays, silence after each, how long the words stand.
LONGEST_S, GAP_S, WORDS_S = 3.0, 0.3, 5.0
#: How often sides are heard in turn; phrases longer than this once each.
TURNS, _LONG_S = 4, 5.0
_WINDOW_S = 0.085
LOW_HZ, HIGH_HZ = 50.0, 10_000.0
COLUMNS, PARTIALS = 96, 12
_FLOOR_DB = -120.0


@dataclass(frozen=True)
class Levels:
    """Levels of one sound frame by frame, in dB: spectrum (frames, columns) and partials."""

    spectrum_db: FloatArray
    partials_db: FloatArray


@dataclass(frozen=True)
class Scene:
    """One pair of sounds, heard in turn, and the finding in words after it.

    ``values`` are the clips' own samples (24 bit); each turn lasts ``turn_frames`` frames, the
    words ``word_frames``.
    """

    title: str
    note: str
    sides: tuple[str, str]
    words: str
    values: tuple[NDArray[np.int32], NDArray[np.int32]]
    levels: tuple[Levels, Levels]
    turn_frames: int
    word_frames: int
    turns: int = TURNS
    #: Of a riff how it runs on both sides, in the time of the first passage of its music.
    phrase: tuple[PhraseCurve, PhraseCurve] | None = None

    @property
    def frames(self) -> int:
        """All frames of the scene."""
        return self.turns * self.turn_frames + self.word_frames

    def side_at(self, frame: int) -> int | None:
        """Return which side plays in a frame of the scene, None while the words stand."""
        turn = frame // self.turn_frames
        return turn % 2 if turn < self.turns else None


@dataclass(frozen=True)
class FilmPlan:
    """All scenes with one rate of samples and of frames."""

    scenes: tuple[Scene, ...]
    rate_hz: int
    fps: int

    @property
    def frame_samples(self) -> int:
        """Samples a frame lasts, a whole number."""
        return self.rate_hz // self.fps

    @property
    def frames(self) -> int:
        """All frames."""
        return sum(scene.frames for scene in self.scenes)

    def sound(self) -> NDArray[np.int32]:
        """Return the whole sound: each clip's samples where its turn begins, silence between."""
        out = np.zeros(self.frames * self.frame_samples, dtype=np.int32)
        at = 0
        for scene in self.scenes:
            for turn in range(scene.turns):
                values = scene.values[turn % 2]
                start = (at + turn * scene.turn_frames) * self.frame_samples
                out[start : start + values.size] = values
            at += scene.frames
        return out


def frame_rate(rate_hz: int) -> int:
    """Return the frame rate whose frames are whole numbers of samples.

    Raises
    ------
    InputError
        When there is none.
    """
    for fps in _FRAME_RATES:
        if rate_hz % fps == 0:
            return fps
    raise InputError(
        tr(
            "A film needs a sample rate that 30, 25 or 24 frames a second divide, not {rate} Hz.",
            rate=rate_hz,
        )
    )


def scene_of(
    pair: SoundPair,
    sounds: Sequence[AlignedSound],
    *,
    loudness_lkfs: float,
    fps: int,
    title: str,
    words: str,
    phrases: Mapping[tuple[str, int, int], PhraseCurve],
) -> Scene:
    """Return the scene of one pair of aligned sounds, at one loudness."""
    rate = round(sounds[0].rate_hz)
    values = [whole_numbers(sound.at(loudness_lkfs)) for sound in sounds[:2]]
    samples = rate // fps
    turn_frames = -(-(values[0].size + round(GAP_S * rate)) // samples)
    levels = [
        levels_of(one / 2.0**23, rate, samples, turn_frames, sound.cut.f0_hz)
        for one, sound in zip(values, sounds, strict=False)
    ]
    return Scene(
        title,
        pair.note,
        pair.sides,
        words,
        (values[0], values[1]),
        (levels[0], levels[1]),
        turn_frames,
        round(WORDS_S * fps),
        TURNS if turn_frames <= _LONG_S * fps else 2,
        _phrase(pair, phrases),
    )


def _phrase(
    pair: SoundPair, phrases: Mapping[tuple[str, int, int], PhraseCurve]
) -> tuple[PhraseCurve, PhraseCurve] | None:
    cuts = (pair.before[0], pair.after[0])
    found = [phrases.get((cut.file, cut.channel, cut.pluck)) for cut in cuts]
    return None if found[0] is None or found[1] is None else (found[0], found[1])


def phrase_time_s(curve: PhraseCurve, sounding_s: float) -> float:
    """Return where in the phrase a sound is, ``sounding_s`` after its excerpt began."""
    known = np.isfinite(curve.own_s)
    own_s = sounding_s - LEAD_S + curve.offset_s
    return float(np.interp(own_s, curve.own_s[known], curve.time_s[known]))


def levels_of(
    samples: FloatArray, rate_hz: int, frame_samples: int, frames: int, f0_hz: float
) -> Levels:
    """Return spectrum and partials around the middle of each frame.

    A Hann window of 85 ms; each column holds the strongest line of its part of a logarithmic axis,
    each partial the strongest within 3 % of its place (dB re a full-scale sine).
    """
    count = 2 ** round(np.log2(_WINDOW_S * rate_hz))
    window = np.hanning(count)
    padded = np.pad(samples, (count // 2, count + frames * frame_samples))
    starts = np.arange(frames) * frame_samples + frame_samples // 2
    pieces = np.lib.stride_tricks.sliding_window_view(padded, count)[starts]
    lines = np.abs(np.fft.rfft(pieces * window, axis=1)) * (2.0 / window.sum())
    lines_db = 20.0 * np.log10(np.maximum(lines, 10.0 ** (_FLOOR_DB / 20.0)))
    step = rate_hz / count
    edges = np.geomspace(LOW_HZ, min(HIGH_HZ, 0.45 * rate_hz), COLUMNS + 1) / step
    spectrum = np.stack([_strongest(lines_db, low, high) for low, high in pairwise(edges)], 1)
    if not f0_hz > 0:
        return Levels(spectrum, np.zeros((frames, 0)))
    places = [n * f0_hz / step for n in range(1, PARTIALS + 1) if n * f0_hz < 0.45 * rate_hz]
    partials = [_strongest(lines_db, 0.97 * place, 1.03 * place) for place in places]
    return Levels(spectrum, np.stack(partials, 1))


def _strongest(lines_db: FloatArray, low: float, high: float) -> FloatArray:
    first = int(np.floor(low))
    last = max(int(np.ceil(high)), first + 1)
    return np.asarray(lines_db[:, first : last + 1].max(axis=1))
