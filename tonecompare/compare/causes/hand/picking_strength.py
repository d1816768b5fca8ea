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

Where neither tells and every voice came out louder or softer, those that moved least, two or more
of them alike, are as well the hand's: work on one pickup leaves the others alone, a hand does not
(``every_voice``).

Where riffs were played all of this goes by whole passages (``riff_strength``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.hand.every_voice import moved_alike
from tonecompare.compare.causes.hand.glide_strength import (
    GlideStrength,
    glide_strength,
    shows_a_hand,
)
from tonecompare.compare.causes.hand.hand_effects import (
    STEEPNESS,
    Hand,
    adjusted_for,
    effects_by_note,
    with_steepness,
)
from tonecompare.compare.causes.hand.hand_spread import HandDifference, hand_difference, plucks_of
from tonecompare.compare.causes.hand.passage_strength import only_passages
from tonecompare.compare.causes.hand.riff_strength import KIND, RiffVoice, find_riff_strength
from tonecompare.compare.causes.rows_to_explain import VoiceRows, voices_of
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.glide_covariate import LEVEL, levels_at_one_glide
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import by_pick_strength
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.session.model import Session

#: Ratios of tilt to loudness that hands make, dB/octave per dB: seen 0.20-0.65 on three real
#: instruments (the most between plucks 7 dB apart in peak), and some room.
HAND_RATIO = (0.08, 0.75)
#: Less than this is the ordinary spread of a hand and no confound.
SMALLEST_LEVEL_DB = 1.5
SMALLEST_TILT = 0.3
#: A brighter pickup raises peaks too, but hardly by this much.
SMALLEST_PEAK_DB = 5.0
FOUND_P = 1e-3
#: A tilt the other way speaks against a hand from this on, dB/octave per dB.
OPPOSED_RATIO = -0.15
#: What a harder pluck raises more than the rest: 2 and 4 kHz. Single partials are no sign: beside a
#: null of the comb a pick that lands elsewhere moves one by 9 dB; nor is 8 kHz, where little of a
#: note is left above the noise.
OF_THE_TREBLE = BAND_SHAPES[5:7]
#: A hand shows beyond doubt from this nearer end of the interval, larger glide and significance.
PLAIN_DB, PLAIN_CENTS, PLAIN_P = 2.0, 1.5, 1e-4
#: An interval no wider than this says that the hand was the same.
WELL_KNOWN_DB = 5.0
#: From this change of level on, as far as it may have gone, decay and attack go with the strength
#: as well.
MOVES_DECAY_DB = 3.0


def find_strength(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every voice for a hand that picked harder or softer in one stage."""
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    in_doubt: dict[str, dict[int, VoiceRows]] = {}
    louder: dict[int, HandDifference] = {}
    held: set[str] = set()
    riffs: list[RiffVoice] = []
    for voice in voices_of(differences):
        plucks = with_steepness(plucks_of(voice, measurements))
        if only_passages(plucks, before=voice.before, after=voice.after):
            riffs.append(RiffVoice(voice, plucks))
            continue
        tilt = hand_difference(plucks, voice, STEEPNESS)
        level = hand_difference(plucks, voice, LEVEL)
        if tilt is None or level is None:
            continue
        taken_db = _taken_by_causes(plucks, voice, level)
        level = _less(level, taken_db)
        glide = glide_strength(plucks, before=voice.before, after=voice.after)
        peak = hand_difference(plucks, voice, "peak_dbfs")
        peak = None if peak is None else _less(peak, taken_db)
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
        farthest_db = max(abs(hand.low_db), abs(hand.high_db))
        moves = by_pick_strength(moves_decay=farthest_db >= MOVES_DECAY_DB)
        if found:
            effects = effects_by_note(plucks, levels=by_glide)
            adjustments.extend(adjusted_for(voice, hand, effects, KIND))
            if by_glide:
                moves = tuple(column for column in moves if column not in effects[ALL_NOTES])
        if found or not (by_glide or is_opposed(voice, loud, tilt)):
            in_doubt.setdefault(voice.comparison, {})[len(confounds)] = voice
            louder[len(confounds)] = level
        else:
            held.add(voice.comparison)
        confounds.append(_confound(voice, hand, p_value, facts, moves, found=found))
    for comparison, voices in in_doubt.items():
        if comparison not in held:
            for at in moved_alike(voices, louder):
                if not confounds[at].found:
                    confounds[at] = _as_every_voice(confounds[at])
    of_riffs = find_riff_strength(riffs)
    return ConfoundFindings(
        (*confounds, *of_riffs.confounds), (*adjustments, *of_riffs.adjustments)
    )


def glide_decides(glide: GlideStrength, loud: HandDifference, tilt: HandDifference) -> bool:
    """Whether glides tell the hand, so that level and tilt need not.

    They do where they show a hand, where they do not allow it to have made half of the loudness,
    and where they know the strength well and nothing else speaks for a hand.
    """
    known = glide.high_db - glide.low_db <= WELL_KNOWN_DB
    if shows_a_hand(glide):
        # A strength that is hardly known must at least be one that the level bears out, or plain.
        return known or is_plain(glide) or glide.low_db <= loud.middle <= glide.high_db
    if not glide.allows(loud.middle):
        return True
    return known and not is_found(loud, tilt)


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


def is_plain(glide: GlideStrength) -> bool:
    """Whether a hand shows beyond doubt, were its size never so open: no beats make this."""
    far = min(abs(glide.low_db), abs(glide.high_db)) >= PLAIN_DB
    wide = max(glide.before_cents, glide.after_cents) >= PLAIN_CENTS
    return far and wide and glide.p_value < PLAIN_P


def is_opposed(voice: VoiceRows, loud: HandDifference, tilt: HandDifference) -> bool:
    """Whether it came out louder and darker, or softer and brighter: no hand does.

    By the tilt, or by bands of the treble that all went against the level. Either has to be as sure
    as what speaks for a hand: of a few bands, one is claimed by chance more often than that.
    """
    tilted = tilt.middle * float(np.sign(loud.middle))
    if tilted < OPPOSED_RATIO * abs(loud.middle) and tilt.p_value < FOUND_P:
        return True
    treble = [
        voice.difference(name)
        for name in voice.claimed()
        if name in OF_THE_TREBLE and voice.shown(name, p=FOUND_P)
    ]
    return bool(treble) and all(moved * loud.middle < 0.0 for moved in treble)


def _as_every_voice(one: Confound) -> Confound:
    if not isinstance(one.facts, StrengthFacts):
        raise TypeError("a strength is told by StrengthFacts")
    return replace(one, found=True, facts=replace(one.facts, every_voice=True))


def _taken_by_causes(plucks: pd.DataFrame, voice: VoiceRows, level: HandDifference) -> float:
    """How much of the level causes before this one took, dB.

    What the glides of single plucks took (``glide_covariate``) is the hand's and stays.
    """
    place = voice.over_notes.get(LEVEL)
    if place is None:
        return 0.0
    taken = float(voice.table.raw_difference[place] - voice.table.difference[place])
    steady = levels_at_one_glide(plucks, voice.before, voice.after)
    if steady is not None:
        left = hand_difference(plucks.assign(**{LEVEL: steady}), voice, LEVEL)
        if left is not None:
            taken -= float(level.estimate.difference - left.estimate.difference)
    return taken if np.isfinite(taken) else 0.0


def _less(moved: HandDifference, taken_db: float) -> HandDifference:
    left = moved.estimate.difference - taken_db
    return HandDifference(moved.middle - taken_db, replace(moved.estimate, difference=left))


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
