"""Pick strength: a harder pluck is louder and brighter together, and it glides.

How far the notes glide tells the strength whatever the pickup does (``glide_strength``): where it
shows a harder or softer hand, the confound is found and its share is taken out of level, tilt,
brightness and partials; what remains is for the verdict on the work. Where it shows an equal hand,
loudness and brightness are the work's, however they moved.

Where glides are too small to tell, loudness and tilt that moved the same way, by a ratio that hands
can make (:data:`HAND_RATIO`, from soft and hard plucks of real guitars), are as well the hand's as
a pickup's: confounded, and the level not given again. Loudness is the level, or the peak where that
alone moved far (files brought to one level). Since a hand's strength is set anew for every note,
the scatter from pluck to pluck judges it, not that from note to note.

The slope of tilt on level is the typical one, sharpened by that from pluck to pluck within the
session where it is known well enough (with an ordinary spread of half a decibel it is not).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.hand.glide_strength import (
    NOTES_DIFFER_DB,
    GlideStrength,
    glide_strength,
)
from tonecompare.compare.causes.hand.hand_spread import HandDifference, hand_difference, plucks_of
from tonecompare.compare.causes.rows_to_explain import (
    VoiceRows,
    voices_of,
)
from tonecompare.compare.comb_correction import numbers, steepness
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import by_pick_strength
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS
from tonecompare.session.model import Session

KIND = "pick-strength"
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
#: Ratios of tilt to loudness that hands make, dB/octave per dB: seen 0.20-0.65 on three real
#: instruments (the most between plucks 7 dB apart in peak), and some room.
HAND_RATIO = (0.08, 0.75)
#: Less than this is the ordinary spread of a hand and no confound.
SMALLEST_LEVEL_DB = 1.5
SMALLEST_TILT = 0.3
#: A brighter pickup raises peaks too, but hardly by this much.
SMALLEST_PEAK_DB = 5.0
FOUND_P = 1e-3
#: Glides tell a hand from this strength and significance on: of 2700 halves of equal plucks none.
SMALLEST_STRENGTH_DB = 1.0
FOUND_BY_GLIDE_P = 0.03
#: An interval no wider than this says that the hand was the same.
WELL_KNOWN_DB = 5.0
#: What rises by as much as the hand.
LEVELS = ("level_dbfs", "signal_to_hum_db")
#: From this change of level on, decay and attack go with the strength as well.
MOVES_DECAY_DB = 3.0
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


def find_strength(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every voice for a hand that picked harder or softer in one stage."""
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for voice in voices_of(differences):
        plucks = with_steepness(plucks_of(voice, measurements))
        tilt = hand_difference(plucks, voice, STEEPNESS)
        level = _without_causes(hand_difference(plucks, voice, "level_dbfs"), voice)
        if tilt is None or level is None:
            continue
        glide = glide_strength(plucks, before=voice.before, after=voice.after)
        peak = _without_causes(hand_difference(plucks, voice, "peak_dbfs"), voice)
        loud = loudness(level, peak)
        by_glide = glide is not None and glide_decides(glide, loud, tilt)
        if glide is not None and by_glide:
            found, p_value = shows_a_hand(glide), glide.p_value
            hand = Hand(glide.strength_db, glide.low_db, glide.high_db)
        else:
            found, p_value = is_found(loud, tilt), max(loud.p_value, tilt.p_value)
            ends = (float(end) for end in loud.estimate.interval())
            hand = Hand(float(loud.estimate.difference), *ends)
        facts = StrengthFacts(
            level.middle if by_glide else loud.middle,
            tilt.middle,
            at_peak=not by_glide and loud is not level,
            glide_cents=None if glide is None else (glide.before_cents, glide.after_cents),
            by_glide=by_glide,
        )
        effects: dict[str, Slope] = {}
        if found:
            slope = combined_slope(within_session_slope(plucks))
            effects = _effects(slope, levels=by_glide)
            adjustments.extend(_adjusted(voice, hand, effects))
        moves = by_pick_strength(moves_decay=abs(hand.strength_db) >= MOVES_DECAY_DB)
        if by_glide:
            moves = tuple(column for column in moves if column not in effects)
        confounds.append(_confound(voice, hand, p_value, facts, moves, found=found))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def glide_decides(glide: GlideStrength, loud: HandDifference, tilt: HandDifference) -> bool:
    """Whether glides tell the hand, so that level and tilt need not.

    They do where they show a hand, where they do not allow it to have made half of the loudness,
    and where they know the strength well and nothing else speaks for a hand.
    """
    known = glide.high_db - glide.low_db <= WELL_KNOWN_DB
    if shows_a_hand(glide):
        # A strength that is hardly known must at least be one that the level bears out.
        return known or glide.low_db <= loud.middle <= glide.high_db
    if not glide.allows(loud.middle):
        return True
    return known and not is_found(loud, tilt)


def shows_a_hand(glide: GlideStrength) -> bool:
    """Whether the glides alone say that it was picked harder or softer."""
    far = abs(glide.strength_db) >= SMALLEST_STRENGTH_DB
    return far and glide.p_value < FOUND_BY_GLIDE_P


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


def _adjusted(voice: VoiceRows, hand: Hand, effects: Mapping[str, Slope]) -> Iterator[Adjustment]:
    """Yield every row that a hand moves, with the hand taken out.

    ``d - e s``, e the effect per decibel and s the strength; the interval adds what is not known
    of both, and for a single note what notes differ in.
    """
    table, half = voice.table, voice.table.estimate.half_width()
    for row in voice.places.tolist():
        effect = effects.get(table.column[row])
        if effect is None or not np.isfinite(half[row]):
            continue
        single = 0.0 if table.note[row] == ALL_NOTES else _HALF_95 * NOTES_DIFFER_DB
        own = np.hypot(half[row], _HALF_95 * effect.se * hand.strength_db)
        below, above = (
            float(np.hypot(own, effect.value * np.hypot(single, end - hand.strength_db)))
            for end in sorted((hand.low_db, hand.high_db), reverse=effect.value > 0.0)
        )
        difference = float(table.difference[row]) - effect.value * hand.strength_db
        yield Adjustment(row, difference, difference - below, difference + above, KIND)


def _effects(slope: Slope, *, levels: bool) -> dict[str, Slope]:
    """Return what one dB of strength does to each column, on its analysis scale.

    Partials rise by log2 n times the slope, less the rise of their power sum, taken for amplitudes
    1/n. Level and signal to hum rise as the hand does, where it is known apart from the level.
    """
    order = np.arange(1, N_PARTIALS + 1)
    octave = np.log2(order)
    rise = octave - float(np.average(octave, weights=order**-2.0))
    effects = {
        name: Slope(slope.value * float(o), float(np.hypot(slope.se * o, PARTIAL_DEPARTS)))
        for name, o in zip(PARTIAL_LEVELS, rise, strict=True)
    }
    effects |= {"tilt_db_per_octave": slope, "centroid_hz": Slope(*TYPICAL_CENTROID)}
    return effects | (dict.fromkeys(LEVELS, Slope(1.0, 0.0)) if levels else {})


def _without_causes(moved: HandDifference | None, voice: VoiceRows) -> HandDifference | None:
    """Take out of level or peak what causes before this one took out of the level."""
    place = voice.over_notes.get("level_dbfs")
    if moved is None or place is None:
        return moved
    taken = float(voice.table.raw_difference[place] - voice.table.difference[place])
    if not np.isfinite(taken):
        return moved
    left = moved.estimate.difference - taken
    return HandDifference(moved.middle - taken, replace(moved.estimate, difference=left))


def _confound(
    voice: VoiceRows,
    hand: Hand,
    p_value: float,
    facts: StrengthFacts,
    moves: tuple[str, ...],
    *,
    found: bool,
) -> Confound:
    return Confound(
        voice.comparison, voice.voice, KIND, found,
        hand.strength_db, "dB", hand.low_db, hand.high_db, p_value,
        moves, facts, voice.output, voice.several,
    )  # fmt: skip
