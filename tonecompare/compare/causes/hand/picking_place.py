"""Picking place: a pick that moved changes partials more than most pickup swaps do.

The place is estimated pluck by pluck (column ``pluck_point``). Where it moved between the stages,
over all notes or on some, every pluck is moved to one place by the ideal string's comb
(``comb_correction``) and all differences are taken anew. Quantities whose
difference shrinks by the share :data:`EXPLAINED_SHARE`, or is no longer shown, are confounded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import special

from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.hand.hand_spread import hand_difference, plucks_of
from tonecompare.compare.causes.rows_to_explain import (
    CLAIMS,
    FOUND_P,
    Row,
    VoiceRows,
    on_scale,
    records,
    rows_of,
    sign_words,
    voices_of,
)
from tonecompare.compare.comb_correction import at_one_place, release_level_db
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES, quantity_of
from tonecompare.quantities.registry import PARTIAL_DECAYS
from tonecompare.session.model import Session

#: A shift smaller than this share of the string (2.6 mm on 648) explains nothing worth naming.
SMALLEST_SHIFT = 0.004
#: The same for notes that moved one way and the other, which cancels over the notes (5 mm).
SMALLEST_SCATTER = 0.008
#: A quantity is explained when taking the place out takes away this share of its difference.
EXPLAINED_SHARE = 0.3
#: Half of a note's 95 % interval over its standard error, about (8 degrees of freedom).
NOTE_INTERVAL_SES = 2.3
#: Decays of the whole sound, and how many partials' own must be known to judge them.
WHOLE_DECAYS = ("decay_s", "decay_early_s", "decay_late_s")
FEWEST_DECAYS = 4
KIND = "pick-position"
#: What the picking place moves.
FAMILIES = ("level", "spectrum", "partials", "attack")


@dataclass(frozen=True)
class Shift:
    """How far the pick moved, as a share of the sounding length."""

    mean: float
    low: float
    high: float
    p_value: float
    #: Root mean square of the notes' own shifts, what chance adds taken off.
    rms: float

    @property
    def found(self) -> bool:
        """Whether it moved, and by enough to matter."""
        far = abs(self.mean) >= SMALLEST_SHIFT or self.rms >= SMALLEST_SCATTER
        return self.p_value < FOUND_P and far


def find_position(
    session: Session, measurements: Measurements, differences: pd.DataFrame
) -> ConfoundFindings:
    """Test every voice for a pick that moved between the stages."""
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for voice in voices_of(differences):
        shift = shift_of(voice, differences, measurements)
        if shift is None:
            continue
        length_mm = session.instrument_of(voice.before).scale_length_mm
        if not shift.found:
            confounds.append(_confound(voice, shift, (), length_mm, found=False))
            continue
        table = rows_of(differences, voice)
        again = list(adjusted_rows(voice, table, measurements, KIND))
        farthest = max(shift.low, shift.high, key=abs)
        release_db = _release_db(voice, shift=farthest if np.isfinite(farthest) else None)
        explained = (*explained_by(table, again, release_db=release_db), *mixed_decays(voice))
        confounds.append(_confound(voice, shift, explained, length_mm, found=True))
        adjustments.extend(again)
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def shift_of(
    voice: VoiceRows, differences: pd.DataFrame, measurements: Measurements
) -> Shift | None:
    """Return how far the pick moved; None when the place was not measured on both sides.

    The smaller of two p-values counts, doubled: that of the mean over the notes, judged by the
    scatter from pluck to pluck, and that of all notes' own shifts together (Fisher's combination),
    which also sees a pick that moved towards the bridge on some strings and away on others.
    """
    rows = rows_of(differences, voice)
    rows = rows[rows["quantity"] == "pluck_point"]
    over_notes = voice.rows.get("pluck_point")
    if over_notes is None or not np.isfinite(over_notes["difference"]):
        return None
    notes = rows[rows["note"] != "all"]
    p_notes = notes["p_value"].to_numpy(dtype=np.float64)
    p_notes = p_notes[np.isfinite(p_notes)]
    together = 1.0
    if p_notes.size:
        statistic = -2.0 * float(np.log(np.maximum(p_notes, 1e-300)).sum())
        together = float(special.chdtrc(2.0 * p_notes.size, statistic))
    hand = hand_difference(plucks_of(voice, measurements), voice, "pluck_point")
    p_mean = hand.p_value if hand is not None else float("nan")
    p = min(1.0, 2.0 * min(p_mean if np.isfinite(p_mean) else 1.0, together))
    shifts, low_ends = (notes[name].to_numpy(dtype=np.float64) for name in ("difference", "ci_low"))
    excess = np.square(shifts) - np.square((shifts - low_ends) / NOTE_INTERVAL_SES)
    excess = excess[np.isfinite(excess)]
    rms = float(np.sqrt(max(float(np.mean(excess)), 0.0))) if excess.size else 0.0
    mean, low, high = (float(over_notes[name]) for name in ("difference", "ci_low", "ci_high"))
    return Shift(mean, low, high, p, rms)


def _moved(voice: VoiceRows, measurements: Measurements) -> Measurements:
    of = plucks_of(voice, measurements)
    return replace(measurements, plucks=at_one_place(of), quiet=measurements.quiet.iloc[:0])


def adjusted_rows(
    voice: VoiceRows, table: pd.DataFrame, measurements: Measurements, kind: str
) -> Iterator[Adjustment]:
    """Yield the rows of a voice with a confound taken out.

    ``table`` has the rows as judged (a control may be taken out of them). The change between raw
    and adjusted difference is applied to the judged one; the interval is that of the adjusted
    plucks with the control's share added, and for the level what the way of release adds.
    """
    again = _moved(voice, measurements)
    block = stage_block(voice.comparison, voice.before, voice.after, again)
    release_db = abs(_release_db(voice)) * 1.96 / float(np.sqrt(3.0))
    keyed = _by_row(block)
    half = block.estimate.half_width()
    for row in records(table):
        column = str(row["quantity"])
        if quantity_of(column).family not in FAMILIES:
            continue
        index = keyed.get((str(row["note"]), column))
        if index is None or not np.isfinite(block.se[index]):
            continue
        own = float(half[index])
        if column == "level_dbfs":
            own = float(np.hypot(own, release_db))
        taken = float(block.difference[index]), own
        yield _adjustment(voice, row, taken, kind)


def _by_row(block: DifferenceRows) -> dict[tuple[str, str], int]:
    columns = [QUANTITIES[index].column for index in block.quantity]
    return {(str(note), column): i for i, (note, column) in enumerate(zip(block.note, columns,
            strict=True))}  # fmt: skip


def _adjustment(voice: VoiceRows, row: Row, taken: tuple[float, float], kind: str) -> Adjustment:
    column, unit = str(row["quantity"]), str(row["unit"])
    judged = [on_scale(float(row[name]), column, unit) for name in ("difference", "ci_high")]
    controlled = bool(np.isfinite(row["control_difference"]))
    raw = (
        [on_scale(float(row[name]), column, unit) for name in ("raw_difference", "raw_ci_high")]
        if controlled
        else judged
    )
    # What the control adds to the judged interval stays in it.
    control = max((judged[1] - judged[0]) ** 2 - (raw[1] - raw[0]) ** 2, 0.0)
    value = judged[0] + taken[0] - raw[0]
    half = float(np.sqrt(taken[1] ** 2 + control))
    quantity = quantity_of(column)
    return Adjustment(
        voice.comparison,
        voice.voice,
        voice.output,
        str(row["note"]),
        column,
        unit,
        float(quantity.from_scale(value, unit=unit)),
        float(quantity.from_scale(value - half, unit=unit)),
        float(quantity.from_scale(value + half, unit=unit)),
        kind,
    )


def _release_db(voice: VoiceRows, *, shift: float | None = None) -> float:
    place = voice.rows["pluck_point"]
    before, after = float(place["before_value"]), float(place["after_value"])
    if shift is not None and 0.0 < before + shift < 1.0:
        after = before + shift
    return release_level_db(before, after)


def mixed_decays(voice: VoiceRows) -> tuple[str, ...]:
    """Return claimed decays of the whole sound that those of the partials do not account for.

    The place decides which partials make up the sound, and high ones die sooner; how long each
    partial rings is the string's. Told by :data:`EXPLAINED_SHARE` of the change that the median
    over the partials lacks.
    """
    own = [_on_scale(voice, column) for column in PARTIAL_DECAYS]
    own = [change for change in own if np.isfinite(change)]
    if len(own) < FEWEST_DECAYS:
        return ()
    middle = float(np.median(own))
    changes = {column: _on_scale(voice, column) for column in WHOLE_DECAYS}
    return tuple(
        column
        for column, change in changes.items()
        if column in voice.claimed() and abs(change - middle) >= EXPLAINED_SHARE * abs(change)
    )


def _on_scale(voice: VoiceRows, column: str) -> float:
    unit = str(voice.rows[column]["unit"]) if column in voice.rows else ""
    return on_scale(voice.difference(column), column, unit)


def explained_by(
    table: pd.DataFrame, again: list[Adjustment], *, release_db: float = 0.0
) -> tuple[str, ...]:
    """Return the quantities of which taking the confound out explains some claimed row.

    The pick may let go at equal force, as the adjustment has it, or at equal height, which moves
    the level by ``release_db`` less: either may explain it.
    """
    rows = {(r["note"], r["quantity"], r["unit"]): r for r in records(table)}
    explained: dict[str, None] = {}
    for one in again:
        row = rows[(one.note, one.quantity, one.unit)]
        if row["verdict"] not in CLAIMS:
            continue
        was = float(row["difference"])
        taken_away = [abs(was - one.difference)]
        if one.quantity == "level_dbfs":
            taken_away.append(abs(was - one.difference - release_db))
        taken = max(taken_away) >= EXPLAINED_SHARE * abs(was)
        if taken or one.ci_low <= 0.0 <= one.ci_high:
            explained[one.quantity] = None
    return tuple(explained)


def _confound(
    voice: VoiceRows,
    shift: Shift,
    explained: tuple[str, ...],
    length_mm: float | None,
    *,
    found: bool,
) -> Confound:
    return Confound(
        voice.comparison,
        voice.voice,
        KIND,
        found,
        shift.mean,
        "share of the string",
        shift.low,
        shift.high,
        shift.p_value,
        explained,
        _sentence(voice, shift, length_mm) if found else _not_found(voice, shift, length_mm),
        voice.output,
    )


def _sentence(voice: VoiceRows, shift: Shift, length_mm: float | None) -> str:
    if abs(shift.mean) >= max(0.5 * shift.rms, SMALLEST_SHIFT):
        where = "away from" if shift.mean > 0.0 else "towards"
        moved = f"{_size(abs(shift.mean), length_mm)} {where} the bridge"
    else:
        moved = f"{_size(shift.rms, length_mm)} one way or the other, differently from note to note"
    return (
        f"{voice.said} was picked at another place after: {moved}. That alone changes partials, "
        "brightness, level and the mix that dies away; where it can be worked out the difference "
        "is given for one picking place too."
    )


def _not_found(voice: VoiceRows, shift: Shift, length_mm: float | None) -> str:
    widest = max(abs(shift.low), abs(shift.high))
    if not np.isfinite(widest):
        return f"{voice.said}: too few notes tell whether the picking place moved."
    return (
        f"{voice.said} was picked at the same place in both stages to within "
        f"{_size(widest, length_mm)} on average ({sign_words(100.0 * shift.mean)} % of the string)."
    )


def _size(share: float, length_mm: float | None) -> str:
    if length_mm:
        return f"{share * length_mm:.0f} mm (open string)"
    return f"{100.0 * share:.1f} % of the string's length"
