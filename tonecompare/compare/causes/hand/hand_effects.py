"""What a hand that picks harder does to each column, and the differences without it.

Everything per decibel of strength, which is a decibel of level: the spectrum tilts up by
:data:`TYPICAL_TILT`, sharpened by the slope of tilt on level from pluck to pluck within the session
where that is known well enough (with an ordinary spread of half a decibel it is not).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.compare.causes.cause_findings import Adjustment
from tonecompare.compare.causes.hand.glide_strength import NOTES_DIFFER_DB
from tonecompare.compare.causes.rows_to_explain import VoiceRows
from tonecompare.compare.comb_correction import numbers, steepness
from tonecompare.compare.difference.difference_rows import ALL_NOTES
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES, BANDS
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS

#: Slope of all partials over log2 n; the tilt of the table weighs faint ones down.
STEEPNESS = "steepness_db_per_octave"
#: How much tilt and partials rise with each decibel of a harder pluck, dB/octave per dB, and one
#: standard deviation between hands and strings: 0.14-0.48 in four soft-to-hard pairs of two
#: guitars and a bass, 0 in a fifth.
TYPICAL_TILT = (0.25, 0.12)
#: The same of the logarithm of the centroid per dB: -0.02 to 0.07 in the same pairs.
TYPICAL_CENTROID = (0.02, 0.04)
#: How far a single partial departs from the slope, dB per dB (0.30-0.49 in the same pairs).
PARTIAL_DEPARTS = 0.4
#: What rises by as much as the hand.
LEVELS = ("level_dbfs", "signal_to_hum_db")
#: Fewer plucks than this beyond the means of their notes give no slope.
FEWEST_PLUCKS = 12
#: Half a 95 % interval of a known standard deviation.
_HALF_95 = 1.96


@dataclass(frozen=True)
class Slope:
    """Tilt per decibel of level, with its standard error."""

    value: float
    se: float


@dataclass(frozen=True)
class Hand:
    """How much harder it was picked after, dB, with a 95 % interval."""

    strength_db: float
    low_db: float
    high_db: float


def with_steepness(plucks: pd.DataFrame) -> pd.DataFrame:
    """Return the plucks with the slope of all their partials, the tilt where those are missing."""
    steep = steepness(numbers(plucks, list(PARTIAL_LEVELS)))
    tilt = numbers(plucks, ["tilt_db_per_octave"])[:, 0]
    return plucks.assign(**{STEEPNESS: np.where(np.isfinite(steep), steep, tilt)})


def within_session_slope(of: pd.DataFrame) -> Slope | None:
    """Return the slope of tilt on level among plucks of one note in one stage, both stages pooled.

    ``sum l t / sum l²`` of the deviations from each note's mean; None with too few plucks.
    """
    values = numbers(of, ["level_dbfs", STEEPNESS])
    there = np.isfinite(values).all(axis=1)
    groups = of[there].groupby(["stage", "note"], sort=False).ngroup().to_numpy()
    values = values[there]
    if values.shape[0] == 0:
        return None
    count = np.bincount(groups)
    mean = np.stack([np.bincount(groups, values[:, k]) / count for k in range(2)], axis=1)
    level, tilt = (values - mean[groups]).T
    freedom = values.shape[0] - count.size - 1
    spread = float(np.square(level).sum())
    if freedom < FEWEST_PLUCKS or spread <= 0.0:
        return None
    value = float((level * tilt).sum()) / spread
    left = float(np.square(tilt - value * level).sum()) / freedom
    return Slope(value, float(np.sqrt(left / spread)))


def combined_slope(within: Slope | None) -> Slope:
    """Return the typical slope, sharpened by the session's own, each by its precision.

    A slope from pluck to pluck is diluted by the level's own scatter, so it counts only for what
    it is worth beside the typical one.
    """
    typical = Slope(*TYPICAL_TILT)
    if (
        within is None
        or within.se >= typical.se
        or abs(within.value - typical.value) > 3.0 * (typical.se)
    ):
        return typical
    weights = np.array([typical.se**-2.0, within.se**-2.0])
    value = float(np.average([typical.value, within.value], weights=weights))
    return Slope(value, float(weights.sum() ** -0.5))


def adjusted_for(
    voice: VoiceRows, hand: Hand, effects: Mapping[str, Mapping[str, Slope]], kind: str
) -> Iterator[Adjustment]:
    """Yield every row that a hand moves, with the hand taken out.

    ``d - e s``, e the effect per decibel (by note and column) and s the strength; the interval adds
    what is not known of both, and for a single note what notes differ in.
    """
    table, half = voice.table, voice.table.estimate.half_width()
    for row in voice.places.tolist():
        effect = effects.get(table.note[row], {}).get(table.column[row])
        if effect is None or not np.isfinite(half[row]):
            continue
        single = 0.0 if table.note[row] == ALL_NOTES else _HALF_95 * NOTES_DIFFER_DB
        own = np.hypot(half[row], _HALF_95 * effect.se * hand.strength_db)
        below, above = (
            float(np.hypot(own, effect.value * np.hypot(single, end - hand.strength_db)))
            for end in sorted((hand.low_db, hand.high_db), reverse=effect.value > 0.0)
        )
        difference = float(table.difference[row]) - effect.value * hand.strength_db
        yield Adjustment(row, difference, difference - below, difference + above, kind)


def effects_by_note(plucks: pd.DataFrame, *, levels: bool) -> dict[str, dict[str, Slope]]:
    """Return what one dB of strength does to each column, by note; over the notes their middle.

    Parameters
    ----------
    plucks
        Plucks of one voice and output in both stages, with their steepness.
    levels
        Whether levels rise as the hand does: it must be known apart from them.
    """
    slope = combined_slope(within_session_slope(plucks))
    f0_hz = pd.Series(numbers(plucks, ["f0_hz"])[:, 0], index=plucks.index)
    pitch = f0_hz.groupby(plucks["note"].astype(str)).median().dropna()
    over = float(np.exp(np.log(pitch).mean())) if len(pitch) else float("nan")
    notes = dict.fromkeys(plucks["note"].astype(str))
    pitches = {note: float(pitch.get(note, np.nan)) for note in notes} | {ALL_NOTES: over}
    return {note: effects(slope, levels=levels, f0_hz=hz) for note, hz in pitches.items()}


def effects(slope: Slope, *, levels: bool, f0_hz: float) -> dict[str, Slope]:
    """Return what one dB of strength does to each column, on its analysis scale.

    A partial rises by log2 n times the slope, less the rise of the power sum of all, taken for
    amplitudes 1/n; an octave band as the partials in it do.
    """
    order = np.arange(1, N_PARTIALS + 1)
    octave = np.log2(order)
    common = float(np.average(octave, weights=order**-2.0))
    found = {
        name: risen(slope, float(o) - common)
        for name, o in zip(PARTIAL_LEVELS, octave, strict=True)
    }
    found |= {"tilt_db_per_octave": slope, "centroid_hz": Slope(*TYPICAL_CENTROID)}
    for band, level, shape in zip(BANDS, BAND_LEVELS, BAND_SHAPES, strict=True):
        rise = float(np.log2(max(band.mid_hz / f0_hz, 1.0))) - common
        if np.isfinite(rise):
            found[shape] = risen(slope, rise)
            if levels:
                found[level] = Slope(1.0 + found[shape].value, found[shape].se)
    return found | (dict.fromkeys(LEVELS, Slope(1.0, 0.0)) if levels else {})


def risen(slope: Slope, octaves: float) -> Slope:
    """Return what so many octaves above the middle rise by, beside what single ones depart."""
    return Slope(slope.value * octaves, float(np.hypot(slope.se * octaves, PARTIAL_DEPARTS)))
