"""Voices that all came out louder, or all softer, some of them alike: as a hand does it.

Work on one pickup leaves the others alone. A hand that picks harder throughout a stage moves every
voice, and those without work all by the same; as it cannot have moved any voice by more than the
one that moved least, only voices that agree with that one are in doubt.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tonecompare.compare.causes.hand.hand_spread import HandDifference
from tonecompare.compare.causes.rows_to_explain import VoiceRows

#: A hand that is the same for all voices differs from one to the next by less than this, dB.
ALIKE_DB = 0.8
#: A stronger pluck raises one voice by this share more than another: by how close a pickup is to
#: the string, and with its place (the growth of ``glide_strength`` was seen to vary as much).
ALIKE_SHARE = 0.2
#: The error of a median over notes, of that of the mean (normal scatter).
_OF_MEDIAN = float(np.sqrt(np.pi / 2.0))
#: What moved by less is the ordinary spread of a hand.
SMALLEST_ALIKE_DB = 1.5
#: The chance that a voice did not move must be less than this: no stricter than what makes a claim,
#: or a level would be the work's because its neighbour moved a little less surely.
MOVED_P = 0.05
#: Riffs of equal voices are taken for unequal this rarely.
EQUAL_P = 0.03
#: A hand that plays riffs less than this louder moves nothing that is heard: brightness by 5 % at
#: most (two standard deviations of what hands do, ``TYPICAL_CENTROID``).
SMALLEST_RIFFS_DB = 0.5


def moved_alike(
    voices: Mapping[int, VoiceRows], louder: Mapping[int, HandDifference]
) -> tuple[int, ...]:
    """Return the keys of the voices that moved least and alike; none without two of them.

    Parameters
    ----------
    voices
        The voices and outputs of one comparison of which nothing says that the hand was the same,
        earlier causes taken out of their levels.
    louder
        How much louder each came out by the same key, all of the hand in it: brought to one glide
        (``glide_covariate``) levels lose more of it in one voice than in another, and their errors
        are those of what is left.
    """
    keys = list(voices)
    levels = np.array([louder[key].middle for key in keys])
    p = np.array([voices[key].p_value("level_dbfs") for key in keys])
    one_way = np.all(levels > 0.0) or np.all(levels < 0.0)
    if len(keys) < 2 or not one_way or not np.all(p < MOVED_P):
        return ()
    se = _OF_MEDIAN * np.array([float(louder[key].estimate.se) for key in keys])
    least = int(np.argmin(np.abs(levels)))
    apart = np.abs(levels - levels[least])
    of_hand = np.hypot(ALIKE_DB, ALIKE_SHARE * levels)
    alike = apart <= np.hypot(of_hand, 2.0 * np.hypot(se, se[least]))
    mean = float(np.average(levels[alike], weights=1.0 / np.maximum(se[alike], 0.1) ** 2))
    if np.count_nonzero(alike) < 2 or abs(mean) < SMALLEST_ALIKE_DB:
        return ()
    return tuple(key for key, is_alike in zip(keys, alike, strict=True) if is_alike)


def riffs_moved_as_one(voices: Mapping[int, VoiceRows]) -> tuple[int, ...]:
    """Return the keys of the voices whose riff moved no farther than equal riffs scatter.

    Where all went one way, a voice's level is the work's only if it moved farther than the one that
    moved least, by more than the studentised range of as many equal voices (Tukey) at
    :data:`EQUAL_P`. A riff is a whole performance, so its loudness is one hand's throughout.
    Levels that stayed, none claimed and :data:`SMALLEST_RIFFS_DB` not reached, show no hand.
    """
    from scipy.stats import studentized_range

    keys = [key for key, of in voices.items() if np.isfinite(of.se("level_dbfs"))]
    levels = np.array([voices[key].difference("level_dbfs") for key in keys])
    if len(keys) < 2 or not (np.all(levels > 0.0) or np.all(levels < 0.0)):
        return ()
    claimed = any("level_dbfs" in voices[key].claimed() for key in keys)
    if abs(float(levels.mean())) < SMALLEST_RIFFS_DB and not claimed:
        return ()
    rows = [(voices[k].table, voices[k].over_notes["level_dbfs"]) for k in keys]
    variance = float(np.mean([table.se[row] ** 2 for table, row in rows]))
    df = float(np.sum([table.df[row] for table, row in rows]))
    farther = np.abs(levels) - np.abs(levels).min()
    equal = float(studentized_range.ppf(1.0 - EQUAL_P, len(keys), df)) * np.sqrt(variance)
    return tuple(key for key, far in zip(keys, farther, strict=True) if not far > equal)
