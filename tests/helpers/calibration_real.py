"""Real takes for calibration: plucks of one guitar and dynamic, dealt into two halves many times.

Nothing changed between two halves, so whatever a report claims of them is false. Four repeats of a
note give three ways of halving it; every note is halved independently and either half may come
first: 6 to the power of the notes, half of which are the other half's mirror image.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path

import numpy as np
import pandas as pd

from tonecompare.measure.model import Measurements
from tonecompare.measure.session import collected, measure_recording
from tonecompare.session.model import ComparisonSpec, Recording, Session, Stage, Voice

STAGES = ("before", "after")
#: Where the files stand below the recordings, which of them, and what the channel carries.
SETS: Mapping[str, tuple[str, str, str]] = {
    **{
        f"{guitar} {how}": (f"two-guitars/{guitar}/ord", f"*_{how}_rr*.flac", "magnetic")
        for guitar in ("green", "black")
        for how in ("mf", "f")
    },
    "electric softer": ("pickup-and-microphone/electric", "*_vl2_*.flac", "magnetic"),
    "electric": ("pickup-and-microphone/electric", "*_vl4_*.flac", "magnetic"),
    **{f"bass {how}": ("piezo-bass", f"*_{how}.flac", "piezo") for how in ("p", "mf", "f")},
}
#: Soft against hard plucks of one instrument.
DYNAMICS = (
    ("green mf", "green f"),
    ("black mf", "black f"),
    ("electric softer", "electric"),
    ("bass p", "bass mf"),
    ("bass mf", "bass f"),
    ("bass p", "bass f"),
)


def measure_sets(folder: Path, names: Sequence[str] = tuple(SETS)) -> dict[str, Measurements]:
    """Measure sets, each as one recording of one voice."""
    measured = {}
    for name in names:
        below, pattern, output = SETS[name]
        files = tuple(sorted((folder / below).glob(pattern)))
        if not files:
            raise FileNotFoundError(f"{folder / below}: no file fits {pattern}.")
        session = Session(
            name, folder, {name: Stage(name, "one", folder)}, (),
            voices={"voice": Voice("voice", outputs=(output,))},
        )  # fmt: skip
        measured[name] = collected([measure_recording(session, Recording(name, "voice", files))])
    return measured


def of_two(before: Measurements, after: Measurements) -> tuple[Session, Measurements]:
    """One set as the stage before, another as the stage after."""
    both = [m.plucks.assign(stage=stage) for m, stage in zip((before, after), STAGES, strict=True)]
    quiet = [m.quiet.assign(stage=stage) for m, stage in zip((before, after), STAGES, strict=True)]
    quiet = [frame for frame in quiet if len(frame)] or quiet[:1]
    measured = replace(
        before,
        plucks=pd.concat(both, ignore_index=True),
        quiet=pd.concat(quiet, ignore_index=True),
        curves={**before.curves, **after.curves},
        files=(*before.files, *after.files),
    )
    return _session(), measured


def halves(
    measured: Measurements, *, most: int, rng: np.random.Generator
) -> Iterator[tuple[Session, Measurements]]:
    """Yield sessions that set one half of every note's plucks against the other.

    All distinct ones, or ``most`` of them drawn at random. The quiet belongs to no pluck and is
    left out.
    """
    note_of = measured.plucks["note"].to_numpy()
    ways = []
    for note in dict.fromkeys(note_of):
        rows = np.flatnonzero(note_of == note)
        half = rows.size // 2
        if note and half >= 2:
            ways.append([np.array(one) for one in combinations(rows, half)])
    # The first half of the first note holds its first pluck: no mirror images.
    ways[0] = [one for one in ways[0] if one[0] == ways[0][0][0]]
    numbers = np.array(list(product(*[range(len(way)) for way in ways])))
    if len(numbers) > most:
        numbers = rng.permutation(numbers)[:most]
    for choice in numbers:
        first = np.concatenate([way[i] for way, i in zip(ways, choice, strict=True)])
        stage = np.full(len(note_of), STAGES[1], dtype=object)
        stage[first] = STAGES[0]
        plucks = measured.plucks.assign(stage=stage)
        yield _session(), replace(measured, plucks=plucks, quiet=measured.quiet.iloc[:0])


def _session() -> Session:
    stages = {name: Stage(name, "one", Path(name)) for name in STAGES}
    return Session("halves", Path(), stages, (), comparisons=(ComparisonSpec(*STAGES),))
