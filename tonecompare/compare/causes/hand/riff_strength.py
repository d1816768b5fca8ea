"""Whether riffs were played harder or softer after: by their glide, else by all voices together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.hand.every_voice import riffs_moved_as_one
from tonecompare.compare.causes.hand.glide_strength import shows_a_hand
from tonecompare.compare.causes.hand.hand_effects import (
    TYPICAL_CENTROID,
    TYPICAL_TILT,
    Hand,
    Slope,
    adjusted_for,
    risen,
)
from tonecompare.compare.causes.hand.passage_strength import (
    RiffStrengths,
    over_riffs,
    riff_strengths,
    without_strength,
)
from tonecompare.compare.causes.rows_to_explain import VoiceRows
from tonecompare.compare.difference.difference_rows import ALL_NOTES
from tonecompare.compare.model import Confound
from tonecompare.quantities.moved_by import by_pick_strength
from tonecompare.quantities.octave_bands import BAND_SHAPES, BANDS

KIND = "pick-strength"


@dataclass(frozen=True)
class RiffVoice:
    """The rows of a voice and output that plays nothing but passages, and these passages."""

    rows: VoiceRows
    plucks: pd.DataFrame


def find_riff_strength(voices: Sequence[RiffVoice]) -> ConfoundFindings:
    """Test every voice that plays riffs for a hand that played harder or softer in one stage.

    Where the passages' glides tell, each passage's strength is taken out of its levels, found or
    not (:mod:`…hand.passage_strength`), and a found one's out of brightness and the bands' shares.
    Elsewhere voices that moved as one are in doubt, and of one voice alone that is louder or softer
    it is said that hand and work cannot be told apart.
    """
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    in_doubt: dict[str, dict[int, VoiceRows]] = {}
    for place, voice in enumerate(voices):
        rows = voice.rows
        riffs = riff_strengths(voice.plucks, before=rows.before, after=rows.after)
        if riffs:
            adjusted = [*without_strength(rows, riffs, KIND), *_darker(rows, riffs)]
            adjustments.extend(adjusted)
            confounds.append(_by_glide(rows, riffs, adjusted))
        else:
            in_doubt.setdefault(rows.comparison, {})[place] = rows
    for of_comparison in in_doubt.values():
        for at in riffs_moved_as_one(of_comparison):
            confounds.append(_as_every_voice(of_comparison[at]))
    played = [voice.rows.comparison for voice in voices]
    for rows in (rows for of in in_doubt.values() for rows in of.values()):
        if played.count(rows.comparison) == 1 and _may_be_the_hands(rows):
            confounds.append(_of_one_voice(rows))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def _darker(rows: VoiceRows, riffs: Sequence[RiffStrengths]) -> list[Adjustment]:
    """Take what a hand that was found does to brightness and the bands' shares out of them."""
    strength = over_riffs(riffs)
    if not shows_a_hand(strength):
        return []
    names = (ALL_NOTES, *(riff.note for riff in riffs))
    effect = {"centroid_hz": Slope(*TYPICAL_CENTROID), **_of_the_shares(rows)}
    hand = Hand(strength.strength_db, strength.low_db, strength.high_db)
    return list(adjusted_for(rows, hand, dict.fromkeys(names, effect), KIND))


def _of_the_shares(rows: VoiceRows) -> dict[str, Slope]:
    """Return what one dB of strength does to each band's share of a riff.

    A band rises by its octaves above the middle of the power, as a note's partials do above theirs
    (:func:`…hand.hand_effects.effects`): no pitch of a riff need be known.
    """
    places = [rows.over_notes.get(column) for column in BAND_SHAPES]
    share_db = np.array([np.nan if at is None else rows.table.mean_before[at] for at in places])
    octave = np.log2([band.mid_hz for band in BANDS])
    known = np.isfinite(share_db)
    if not known.any():
        return {}
    middle = float(np.average(octave[known], weights=10.0 ** (share_db[known] / 10.0)))
    return {
        column: risen(Slope(*TYPICAL_TILT), float(above) - middle)
        for column, above in zip(BAND_SHAPES, octave, strict=True)
    }


def _by_glide(
    rows: VoiceRows, riffs: Sequence[RiffStrengths], adjusted: Sequence[Adjustment]
) -> Confound:
    strength = over_riffs(riffs)
    taken_out = {rows.table.column[one.row] for one in adjusted}
    moves = (column for column in by_pick_strength(moves_decay=False) if column not in taken_out)
    facts = StrengthFacts(
        rows.difference("level_dbfs"),
        0.0,
        glide_cents=(strength.before_cents, strength.after_cents),
        by_glide=True,
    )
    return _confound(
        rows,
        strength.strength_db,
        (strength.low_db, strength.high_db),
        strength.p_value,
        tuple(moves),
        facts,
        found=shows_a_hand(strength),
    )


def _as_every_voice(rows: VoiceRows) -> Confound:
    level = rows.difference("level_dbfs")
    facts = StrengthFacts(level, 0.0, every_voice=True)
    return _confound(
        rows, level, rows.interval("level_dbfs"), rows.p_value("level_dbfs"),
        by_pick_strength(moves_decay=False), facts, found=True,
    )  # fmt: skip


def _may_be_the_hands(rows: VoiceRows) -> bool:
    """Whether a level is claimed, and it did not come out louder and darker: no hand does that."""
    claimed = rows.claimed()
    if "level_dbfs" not in claimed:
        return False
    opposed = rows.difference("level_dbfs") * rows.difference("centroid_hz") < 0.0
    return not (opposed and "centroid_hz" in claimed)


def _of_one_voice(rows: VoiceRows) -> Confound:
    level = rows.difference("level_dbfs")
    facts = StrengthFacts(level, 0.0, alone=True)
    return _confound(
        rows, level, rows.interval("level_dbfs"), rows.p_value("level_dbfs"), (), facts, found=False
    )


def _confound(
    rows: VoiceRows,
    estimate_db: float,
    ends_db: tuple[float, float],
    p_value: float,
    moves: tuple[str, ...],
    facts: StrengthFacts,
    *,
    found: bool,
) -> Confound:
    return Confound(
        rows.comparison, rows.voice, KIND, found,
        estimate_db, "dB", *ends_db, p_value, moves, facts, rows.output, rows.several,
    )  # fmt: skip
