"""Riffs played by a hand on the string model: the same music with timing, dynamics and mistakes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonecompare import strings as st
from tonecompare.strings.instruments import standard_instrument
from tonecompare.strings.recording import Rendered

#: Beat time, (string, fret) struck together, length in seconds.
Riff = Sequence[tuple[float, Sequence[tuple[int, int]], float]]


@dataclass(frozen=True)
class Hand:
    """Standard deviations of a hand, and how often it goes wrong."""

    timing_s: float = 0.02
    tempo: float = 0.02
    passage_db: float = 0.5
    note_db: float = 1.0
    wrong: float = 0.03
    missing: float = 0.02
    #: Pull at the pick re 1 mm, and every passage's tempo against the riff's.
    pull_db: float = -12.0
    faster: float = 1.0


def random_riff(seed: int, *, last_beat_s: float = 7.6) -> Riff:
    """Eight seconds, or as said: single notes and power chords, two to four a second."""
    rng = np.random.default_rng(seed)
    played: list[tuple[float, list[tuple[int, int]], float]] = []
    time_s = 0.0
    while time_s < last_beat_s:
        lasts_s = float(rng.choice([0.25, 0.25, 0.375, 0.5]))
        if rng.random() < 0.25:
            root, low = int(rng.integers(0, 5)), int(rng.integers(5, 7))
            notes = [(low, root), (low - 1, root + 2)]
        else:
            notes = [(int(rng.integers(2, 7)), int(rng.integers(0, 8)))]
        played.append((time_s, notes, lasts_s))
        time_s += lasts_s
    return played


@dataclass(frozen=True)
class Performance:
    """What a hand made of a riff: its plucks, when events began (None: missing), the length."""

    plucks: tuple[st.PluckSpec, ...]
    onsets: tuple[tuple[float | None, ...], ...]
    length_s: float

    def strength_db(self) -> np.ndarray:
        """Mean strength of every repeat's plucks."""
        begins = [next(t for t in of if t is not None) - 0.1 for of in self.onsets]
        repeat = np.searchsorted(begins, [pluck.time_s for pluck in self.plucks]) - 1
        strength = np.array([pluck.strength_db for pluck in self.plucks])
        return np.array([strength[repeat == k].mean() for k in range(len(begins))])


def perform(riff: Riff, rng: np.random.Generator, *, hand: Hand, repeats: int = 4) -> Performance:
    """Play a riff several times with pauses."""
    plucks: list[st.PluckSpec] = []
    onsets: list[tuple[float | None, ...]] = []
    start_s = 3.0
    for _ in range(repeats):
        loud_db = rng.normal(0.0, hand.passage_db)
        tempo = (1.0 + rng.normal(0.0, hand.tempo)) / hand.faster
        place_mm = 110.0 + rng.normal(0.0, 4.0)
        of_passage: list[float | None] = []
        for beat_s, notes, lasts_s in riff:
            onset_s = start_s + beat_s * tempo + rng.normal(0.0, hand.timing_s)
            of_passage.append(None if rng.random() < hand.missing else onset_s)
            slip = int(rng.choice([-1, 1, 2])) if rng.random() < hand.wrong else 0
            for k, (string, fret) in enumerate(notes):
                pluck = st.PluckSpec(
                    onset_s + k * rng.uniform(0.002, 0.012), string, max(0, fret + slip),
                    position_mm=place_mm + rng.normal(0.0, 3.0),
                    strength_db=hand.pull_db + loud_db + rng.normal(0.0, hand.note_db),
                    angle_deg=30.0 + rng.normal(0.0, 5.0), detune_cents=rng.normal(0.0, 2.0),
                    damp_s=0.93 * lasts_s, damp_per_s=60.0,
                )  # fmt: skip
                if of_passage[-1] is not None:
                    plucks.append(pluck)
        onsets.append(tuple(of_passage))
        start_s += riff[-1][0] * tempo + riff[-1][2] + 1.5
    return Performance(tuple(plucks), tuple(onsets), start_s + 0.5)


def render_riff(
    riff: Riff,
    pickup: st.Magnetic,
    rng: np.random.Generator,
    *,
    hand: Hand | None = None,
    repeats: int = 4,
) -> tuple[Rendered, Sequence[Sequence[float | None]]]:
    """Play a riff on the string model; return take and onsets (None where one is missing)."""
    played = perform(riff, rng, hand=hand or Hand(), repeats=repeats)
    rendered = st.render_recording(
        standard_instrument(),
        st.VoiceSpec("bridge", (st.Channel("magnetic", pickup),)),
        played.plucks,
        rng=rng,
        rate_hz=44100.0,
        length_s=played.length_s,
        noise=st.NoiseSpec(mains_hz=50.0, line_dbfs=(-75.0, -85.0, -80.0), hiss_dbfs=-85.0),
    )
    return rendered, played.onsets
