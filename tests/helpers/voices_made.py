"""Hand-made tables of a guitar's voices: what each has of level, bands, decay and hum is chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd
from compare_frames import FIVE, measurements, plucks, quiet, session

from tonecompare.compare.side_by_side import StageVoices, side_by_side
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES

NOTES = ("E2", "A2", "D3", "G3", "B3", "E4")
#: By how much one note departs from the mean of a voice, times ``scatter``; mean 0, SD 1.
_OF_NOTE = (-1.2, -0.8, -0.2, 0.4, 0.4, 1.4)


@dataclass(frozen=True)
class Made:
    """One voice: levels in dB, decay in seconds, and by how much its notes scatter."""

    level_db: float = -20.0
    bands_db: tuple[float, ...] = (-12.0,) * 8
    decay_s: float = 3.0
    hum_db: float = -80.0
    scatter_db: float = 0.1
    output: str = "magnetic"


def stage_of(made: Mapping[str, Made], *, stage: str = "heron") -> StageVoices:
    """Return the voices of one stage side by side."""
    (voices,) = side_by_side(session(stage), measured(made, stage=stage))
    return voices


def measured(made: Mapping[str, Made], *, stage: str = "heron"):
    """Return measurements of the voices; a name "take:piezo" is the take's second output."""
    frames, quiets = list[pd.DataFrame](), list[pd.DataFrame]()
    for place, (name, one) in enumerate(made.items()):
        voice = name.split(":")[0]

        def at(value: float, *, n: int, place: int = place, scatter: float = one.scatter_db):
            return [value + scatter * _OF_NOTE[(n + place) % 6] + 0.05 * each for each in FIVE]

        columns = {
            "level_dbfs": {note: at(one.level_db, n=n) for n, note in enumerate(NOTES)},
            "decay_s": {note: [one.decay_s * (1 + 0.01 * each) for each in FIVE] for note in NOTES},
        }
        for level, shape, band in zip(BAND_LEVELS, BAND_SHAPES, one.bands_db, strict=True):
            columns[shape] = {note: at(band, n=n) for n, note in enumerate(NOTES)}
            columns[level] = {note: at(band + one.level_db, n=n) for n, note in enumerate(NOTES)}
        frames.append(plucks(stage, columns, voice=voice, output=one.output))
        hum = [one.hum_db + 0.1 * each for each in FIVE]
        signal = [one.level_db - one.hum_db + 0.1 * each for each in FIVE]
        quiets.append(
            quiet(
                stage, {"hum_dbfs": hum, "signal_to_hum_db": signal}, voice=voice,
                output=one.output,
            )
        )  # fmt: skip
    return measurements(*frames, quiets=quiets)
