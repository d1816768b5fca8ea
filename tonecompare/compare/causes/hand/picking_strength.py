"""Pick strength: a harder pluck is louder and brighter together.

Found where loudness and tilt both moved the same way, by a ratio that hands can make
(:data:`HAND_RATIO`, from soft and hard plucks of real guitars). Loudness is the level, or the peak
where that alone moved far (files brought to one level). Since a hand's strength is set anew for
every note, the scatter from pluck to pluck judges it, not that from note to note. A change of
pickup that is louder and brighter in just this ratio looks the same: it cannot be told apart, and
is called confounded too.

Differences are given again with the strength taken out: the level difference times the slope, on
each octave of partials. The slope is the typical one, sharpened by that of tilt on level from pluck
to pluck within the session where it is known well enough (with an ordinary spread of half a decibel
it is not). What is left of level itself cannot be said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.hand.hand_spread import HandDifference, hand_difference, plucks_of
from tonecompare.compare.causes.rows_to_explain import (
    VoiceRows,
    voices_of,
)
from tonecompare.compare.comb_correction import numbers, steepness
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import by_pick_strength
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS
from tonecompare.session.model import Session

KIND = "pick-strength"
#: Slope of all partials over log2 n; the tilt of the table weighs faint ones down.
STEEPNESS = "steepness_db_per_octave"
#: How much the tilt rises with each decibel of a harder pluck, dB/octave per dB: soft against hard
#: plucks of two real guitars, eight notes, 0.20-0.33 (one note, almost without a change of level,
#: beyond), and one standard deviation between hands and strings.
TYPICAL_TILT = (0.25, 0.08)
#: Ratios of tilt to loudness that hands make, dB/octave per dB: seen 0.20-0.65 on three real
#: instruments (the most between plucks 7 dB apart in peak), and some room.
HAND_RATIO = (0.08, 0.75)
#: Less than this is the ordinary spread of a hand and no confound.
SMALLEST_LEVEL_DB = 1.5
SMALLEST_TILT = 0.3
#: A brighter pickup raises peaks too, but hardly by this much.
SMALLEST_PEAK_DB = 5.0
FOUND_P = 1e-3
#: From this change of level on, decay and attack go with the strength as well.
MOVES_DECAY_DB = 3.0
#: Fewer plucks than this beyond the means of their notes give no slope.
FEWEST_PLUCKS = 12


@dataclass(frozen=True)
class Slope:
    """Tilt per decibel of level, with its standard error."""

    value: float
    se: float


def find_strength(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every voice for a hand that picked harder or softer in one stage."""
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for voice in voices_of(differences):
        plucks = with_steepness(plucks_of(voice, measurements))
        tilt = hand_difference(plucks, voice, STEEPNESS)
        level = hand_difference(plucks, voice, "level_dbfs")
        if tilt is None or level is None:
            continue
        loud = loudness(level, hand_difference(plucks, voice, "peak_dbfs"))
        found = is_found(loud, tilt)
        confounds.append(_confound(voice, loud, tilt, found=found, by_peak=loud is not level))
        if found:
            slope = combined_slope(within_session_slope(plucks))
            adjustments.extend(_adjusted(voice, slope))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def with_steepness(plucks: pd.DataFrame) -> pd.DataFrame:
    """Return the plucks with the slope of all their partials, the tilt where those are missing."""
    steep = steepness(numbers(plucks, list(PARTIAL_LEVELS)))
    tilt = numbers(plucks, ["tilt_db_per_octave"])[:, 0]
    return plucks.assign(**{STEEPNESS: np.where(np.isfinite(steep), steep, tilt)})


def loudness(level: HandDifference, peak: HandDifference | None) -> HandDifference:
    """Return the level, or the peak where the level stayed and the peak moved far."""
    if peak is None or abs(level.middle) >= SMALLEST_LEVEL_DB:
        return level
    return peak if abs(peak.middle) >= SMALLEST_PEAK_DB else level


def is_found(loud: HandDifference, tilt: HandDifference) -> bool:
    """Whether loudness and tilt moved together as a hand moves them."""
    far = abs(loud.middle) >= SMALLEST_LEVEL_DB and abs(tilt.middle) >= SMALLEST_TILT
    if not far or loud.p_value >= FOUND_P or tilt.p_value >= FOUND_P:
        return False
    return HAND_RATIO[0] <= tilt.middle / loud.middle <= HAND_RATIO[1]


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


def _confound(
    voice: VoiceRows, loud: HandDifference, tilt: HandDifference, *, found: bool, by_peak: bool
) -> Confound:
    low, high = loud.estimate.interval()
    return Confound(
        voice.comparison,
        voice.voice,
        KIND,
        found,
        float(loud.estimate.difference),
        "dB",
        float(low),
        float(high),
        max(loud.p_value, tilt.p_value),
        by_pick_strength(moves_decay=abs(loud.middle) >= MOVES_DECAY_DB),
        StrengthFacts(loud.middle, tilt.middle, by_peak),
        voice.output,
        voice.several,
    )


def _adjusted(voice: VoiceRows, slope: Slope) -> Iterator[Adjustment]:
    """Yield tilt and partial levels with the strength taken out, per note and over the notes."""
    table, half = voice.table, voice.table.estimate.half_width()
    strength = {
        table.note[row]: (float(table.difference[row]), float(half[row]))
        for row in voice.places
        if table.column[row] == "level_dbfs"
    }
    per_level = _effects()
    for row in voice.places.tolist():
        effect = per_level.get(table.column[row])
        level = strength.get(table.note[row])
        if effect is None or level is None or not np.isfinite([*level, half[row]]).all():
            continue
        difference = float(table.difference[row]) - slope.value * effect * level[0]
        wide = float(
            np.sqrt(
                half[row] ** 2
                + (2.0 * slope.se * effect * level[0]) ** 2
                + (slope.value * effect * level[1]) ** 2
            )
        )
        yield Adjustment(row, difference, difference - wide, difference + wide, KIND)


def _effects() -> dict[str, float]:
    """Return what one dB/octave of tilt does to tilt (1) and to the partials' balance, dB.

    Partials rise by log2 n, less the rise of their power sum, taken for amplitudes 1/n.
    """
    order = np.arange(1, N_PARTIALS + 1)
    octave = np.log2(order)
    common = float(np.average(octave, weights=order**-2.0))
    effects = {name: float(o - common) for name, o in zip(PARTIAL_LEVELS, octave, strict=True)}
    return effects | {"tilt_db_per_octave": 1.0}
