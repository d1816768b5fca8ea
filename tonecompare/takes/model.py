"""A take: one audio file cut into quiet stretches and plucks. Frozen data, no file access."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.takes.extremes import Extremes, frame_size


@dataclass(frozen=True)
class Audio:
    """Samples of one file at its native rate, channels kept.

    ``samples`` has shape (channels, n), float64, full scale 1.0.
    """

    path: Path
    samples: FloatArray
    rate_hz: float
    subtype: str
    sha256: str
    #: What is wrong with the file itself: flag words, and a sentence each for the user.
    flags: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def length_s(self) -> float:
        """Length in seconds."""
        return float(self.samples.shape[1] / self.rate_hz)

    @cached_property
    def offset(self) -> FloatArray:
        """Mean of each channel, shape (channels,): how far the recording sits off zero."""
        return np.asarray(self.samples.mean(axis=1), dtype=np.float64)

    @cached_property
    def extremes(self) -> Extremes:
        """Lowest and highest values of blocks of half a hop."""
        return Extremes.of(self.samples, frame_size(self.rate_hz) // 8)


@dataclass(frozen=True)
class Quiet:
    """A stretch with the strings damped, in seconds from the start of the file."""

    start_s: float
    length_s: float


@dataclass(frozen=True)
class Pluck:
    """One note event cut from a file. Times are seconds from the start of the file."""

    #: 1, 2, … within the file.
    number: int
    #: First sample of the string's motion, per channel (sub-sample); the earliest is ``onset_s``.
    channel_onset_s: tuple[float, ...]
    #: Where what belongs to this pluck ends (exclusive).
    end_s: float
    #: What ended it: "next-pluck", "damped", "file-end", "noise".
    ended_by: str
    #: Pitch that named the note; None when no pitch was found.
    f0_hz: float | None = None
    #: Scientific pitch name ("E2"), a chord's name ("Em chord"), "riff" for a played passage, ""
    #: when none was found.
    note: str = ""
    #: String number (1 = thinnest) when the note can only be that open string, else None.
    string: int | None = None
    flags: tuple[str, ...] = ()
    #: Standard uncertainty of each channel's onset, None where unknown; () when set by hand.
    channel_onset_sd_s: tuple[float | None, ...] = ()
    #: The notes of a chord that can be told apart ("E2", "B2", "G#3"); () for a single note.
    chord: tuple[str, ...] = ()
    #: When each note or chord of a played passage begins; () for a single event.
    events_s: tuple[float, ...] = ()

    @property
    def onset_s(self) -> float:
        """Earliest onset over the channels."""
        return min(self.channel_onset_s)

    @property
    def ring_s(self) -> float:
        """Seconds from onset to the end of what rang."""
        return self.end_s - self.onset_s

    def onset_sd_s(self, channel: int) -> float | None:
        """Return how sure the onset on one channel (from 1) is, None when unknown."""
        sds = self.channel_onset_sd_s
        return sds[channel - 1] if len(sds) >= channel else None


@dataclass(frozen=True)
class Take:
    """One file of a recording, cut."""

    stage: str
    voice: str
    #: What each channel carries ("magnetic", "piezo", "blend"), one entry per channel.
    outputs: tuple[str, ...]
    audio: Audio
    quiets: tuple[Quiet, ...]
    plucks: tuple[Pluck, ...]
    #: Sentences for the user about the whole file (lossy source, clipped, no quiet, …).
    problems: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    #: Plucks found before takes.csv was applied.
    n_found: int = 0
