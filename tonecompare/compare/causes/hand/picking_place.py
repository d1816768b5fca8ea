"""Picking place: a pick that moved changes partials more than most pickup swaps do.

The place is estimated pluck by pluck (column ``pluck_point``). Where it moved between the stages,
over all notes or on some, every pluck is moved to one place by the ideal string's comb
(``comb_correction``) and all differences are taken anew: what the place explains leaves them.
What it moves and cannot be taken out of stays confounded, and so does what it may move in a voice
whose place the takes do not tell while the same hand moved for another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from tonecompare.compare.cause_facts import PlaceFacts, UntoldPlaceFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.hand.comb_share import comb_share
from tonecompare.compare.causes.hand.hand_spread import hand_difference, plucks_of
from tonecompare.compare.causes.hand.string_allows import string_allows
from tonecompare.compare.causes.rows_to_explain import CLAIMS, FOUND_P, VoiceRows, voices_of
from tonecompare.compare.comb_correction import at_one_place, comb_error, numbers, release_level_db
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import pluck_quantities, quantity_of
from tonecompare.quantities.moved_by import OF_THE_SPECTRUM
from tonecompare.quantities.octave_bands import BAND_LEVELS, BAND_SHAPES
from tonecompare.quantities.registry import PARTIAL_DECAYS
from tonecompare.session.model import Session

#: A shift smaller than this share of the string (2.6 mm on 648) explains nothing worth naming.
SMALLEST_SHIFT = 0.004
#: The same for notes that moved one way and the other, which cancels over the notes (5 mm).
SMALLEST_SCATTER = 0.008
#: Decays of the whole sound are explained when those of the partials lack this share of theirs.
EXPLAINED_SHARE = 0.3
#: Half of a note's 95 % interval over its standard error, about (8 degrees of freedom).
NOTE_INTERVAL_SES = 2.3
#: Decays of the whole sound, and how many partials' own must be known to judge them.
WHOLE_DECAYS = ("decay_s", "decay_early_s", "decay_late_s")
FEWEST_DECAYS = 4
#: How far what the comb takes out is off, share of it (standard error): near a null a place that
#: is off by 2 mm moves a partial by several dB. 30 simulated sessions with a pick moved by 10 mm:
#: 9 claimed a partial or more of the work without it.
COMB_SHARE = 0.25
#: Where less than this share of the comb's shift is seen in the partials, the place did not move
#: as it was measured: loud plucks of one real guitar read 90 mm away and have a share of 0.
LEAST_SHARE = 0.5
#: Share of the notes whose place must be known to speak of a voice, or of a row over the notes.
FEWEST_SHARE = 0.6
#: Places within a note's interval at which the string is asked what it allows.
_PLACES = 5
#: The same of octave bands, which hold few partials, and what is left open of them at least, dB.
BAND_SHARE, BAND_LEFT_DB = 0.5, 0.15
OF_BANDS = (*BAND_LEVELS, *BAND_SHAPES)
KIND = "pick-position"
#: What the picking place moves.
FAMILIES = (*OF_THE_SPECTRUM, "attack")
#: What it may have moved where the place is not known; of the level no string allows 1 dB.
MAY_MOVE = tuple(q.column for q in pluck_quantities() if q.family in {*FAMILIES} - {"level"})


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
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every voice for a pick that moved between the stages."""
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    untold: list[VoiceRows] = []
    for voice in voices_of(differences):
        shift = shift_of(voice, measurements)
        if shift is None:
            untold.append(voice)
            continue
        length_mm = session.instrument_of(voice.before).scale_length_mm
        if not shift.found:
            confounds.append(_confound(voice, shift, (), length_mm, found=False))
            continue
        if comb_share(voice, measurements) < LEAST_SHARE:
            unsure = replace(shift, low=float("-inf"), high=float("inf"))
            confounds.append(_confound(voice, unsure, (), length_mm, found=False))
            continue
        again = list(adjusted_rows(voice, measurements, KIND))
        explained = (*not_taken_out(voice, again), *mixed_decays(voice))
        confounds.append(_confound(voice, shift, explained, length_mm, found=True))
        adjustments.extend(again)
    found = [one for one in confounds if one.found]
    for voice in untold:
        moved = tuple(one.voice for one in found if one.comparison == voice.comparison)
        if moved:
            confounds.append(_untold(voice, tuple(dict.fromkeys(moved))))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def _untold(voice: VoiceRows, moved: tuple[str, ...]) -> Confound:
    return Confound(
        voice.comparison, voice.voice, KIND, True,
        None, "share of the string", None, None, None,
        MAY_MOVE, UntoldPlaceFacts(moved), voice.output, voice.several,
    )  # fmt: skip


def shift_of(voice: VoiceRows, measurements: Measurements) -> Shift | None:
    """Return how far the pick moved; None when the place was not measured on both sides.

    The smaller of two p-values counts, doubled: that of the mean over the notes, judged by the
    scatter from pluck to pluck, and that of all notes' own shifts together (Fisher's combination),
    which also sees a pick that moved towards the bridge on some strings and away on others.
    """
    mean = voice.difference("pluck_point")
    if not np.isfinite(mean):
        return None
    table, notes = voice.table, voice.single_notes("pluck_point")
    if notes.size < FEWEST_SHARE * voice.single_notes("level_dbfs").size:
        return Shift(mean, -np.inf, np.inf, 1.0, 0.0)
    p_notes = table.p_value[notes]
    p_notes = p_notes[np.isfinite(p_notes)]
    together = 1.0
    if p_notes.size:
        statistic = -2.0 * float(np.log(np.maximum(p_notes, 1e-300)).sum())
        together = float(special.chdtrc(2.0 * p_notes.size, statistic))
    hand = hand_difference(plucks_of(voice, measurements), voice, "pluck_point")
    p_mean = hand.p_value if hand is not None else float("nan")
    p = min(1.0, 2.0 * min(p_mean if np.isfinite(p_mean) else 1.0, together))
    shifts, low_ends = table.difference[notes], table.ends[0][notes]
    excess = np.square(shifts) - np.square((shifts - low_ends) / NOTE_INTERVAL_SES)
    excess = excess[np.isfinite(excess)]
    rms = float(np.sqrt(max(float(np.mean(excess)), 0.0))) if excess.size else 0.0
    return Shift(mean, *voice.interval("pluck_point"), p, rms)


def _moved(voice: VoiceRows, measurements: Measurements) -> Measurements:
    of = plucks_of(voice, measurements)
    return replace(measurements, plucks=at_one_place(of), quiet=measurements.quiet.iloc[:0])


def adjusted_rows(voice: VoiceRows, measurements: Measurements, kind: str) -> Iterator[Adjustment]:
    """Yield the rows of a voice with a confound taken out.

    The change between raw and adjusted difference is applied to the judged one (a control may be
    taken out of it), never by more than the string allows between the places
    (``string_allows``); the interval is that of the adjusted plucks with the
    control's share added, and for the level what the way of release adds.
    """
    table = voice.table
    again = stage_block(voice.comparison, voice.before, voice.after, _moved(voice, measurements))
    release_db = abs(_release_db(voice)) * 1.96 / float(np.sqrt(3.0))
    keyed = {key: row for row, key in enumerate(zip(again.note, again.column, strict=True))}
    half, judged, raw = (each.half_width() for each in (again.estimate, table.estimate, table.raw))
    allows = _string_allows(voice, measurements)
    # What the control adds to the judged interval stays in it.
    control = np.fmax(judged**2 - raw**2, 0.0)
    left_open = comb_error(
        plucks_of(voice, measurements), voice.before, voice.after, share=COMB_SHARE
    )
    taken = _taken(voice, again, keyed, allows)
    for row, change in taken.items():
        column, index = table.column[row], keyed[table.note[row], table.column[row]]
        own = float(half[index])
        if column == "level_dbfs":
            own = float(np.hypot(own, release_db))
        value = float(table.difference[row]) + change
        of_bands = column in OF_BANDS and max(BAND_SHARE * abs(change), BAND_LEFT_DB)
        of_comb = 1.96 * max(COMB_SHARE * abs(change), left_open.get(column, 0.0), of_bands)
        wide = float(np.sqrt(own**2 + control[row] + of_comb**2))
        yield Adjustment(row, value, value - wide, value + wide, kind)


def _taken(
    voice: VoiceRows,
    again: DifferenceRows,
    keyed: Mapping[tuple[str, str], int],
    allows: Mapping[str, Mapping[str, float]],
) -> dict[int, float]:
    """Return by how much each row changes: over the notes the mean of the notes that are known."""
    table = voice.table
    taken: dict[int, float] = {}
    of_notes: dict[str, list[float]] = {}
    # Notes before what is over them.
    for row in sorted(voice.places.tolist(), key=lambda at: table.note[at] == ALL_NOTES):
        column, note = str(table.column[row]), str(table.note[row])
        index = keyed.get((note, column))
        if quantity_of(column).family not in FAMILIES or index is None:
            continue
        change = float(again.difference[index] - table.raw_difference[row])
        if note == ALL_NOTES:
            known = of_notes.get(column, [])
            few = not known or len(known) < FEWEST_SHARE * table.n_notes[row]
            change = float("nan") if few else float(np.mean(known))
        if np.isfinite(change) and np.isfinite(again.se[index]):
            most = allows.get(note, {}).get(column, np.inf)
            taken[row] = float(np.clip(change, -most, most))
            of_notes.setdefault(column, []).append(taken[row])
    return taken


def _string_allows(voice: VoiceRows, measurements: Measurements) -> dict[str, dict[str, float]]:
    """Return how far the pick can have moved each column, by note; over the notes their mean."""
    table = voice.table
    plucks = plucks_of(voice, measurements)
    moved = tuple(q for q in pluck_quantities() if q.family in FAMILIES)
    by_note: dict[str, dict[str, float]] = {}
    for row in voice.single_notes("pluck_point").tolist():
        note = str(table.note[row])
        # Each side carries half of the variance of the difference.
        own = NOTE_INTERVAL_SES * float(np.nan_to_num(table.se[row])) / float(np.sqrt(2.0))
        means = (float(table.mean_before[row]), float(table.mean_after[row]))
        if np.isfinite(means).all():
            before, after = (
                np.clip(np.linspace(mean - own, mean + own, _PLACES), 0.01, 0.99) for mean in means
            )
            pitches = numbers(plucks[plucks["note"] == note], ["f0_hz"])
            pitches = pitches[np.isfinite(pitches)]
            f0_hz = float(np.median(pitches)) if pitches.size else float("nan")
            by_note[note] = string_allows(before, after, moved, f0_hz=f0_hz)
    columns = {column for of in by_note.values() for column in of}
    by_note[ALL_NOTES] = {
        column: float(np.mean([of[column] for of in by_note.values() if column in of]))
        for column in columns
    }
    return by_note


def _release_db(voice: VoiceRows) -> float:
    place = voice.over_notes["pluck_point"]
    before, after = (
        float(mean[place]) for mean in (voice.table.mean_before, voice.table.mean_after)
    )
    return release_level_db(before, after)


def mixed_decays(voice: VoiceRows) -> tuple[str, ...]:
    """Return claimed decays of the whole sound that those of the partials do not account for.

    The place decides which partials make up the sound, and high ones die sooner; how long each
    partial rings is the string's. Told by :data:`EXPLAINED_SHARE` of the change that the median
    over the partials lacks.
    """
    own = [voice.difference(column) for column in PARTIAL_DECAYS]
    own = [change for change in own if np.isfinite(change)]
    if len(own) < FEWEST_DECAYS:
        return ()
    middle = float(np.median(own))
    changes = {column: voice.difference(column) for column in WHOLE_DECAYS}
    return tuple(
        column
        for column, change in changes.items()
        if column in voice.claimed() and abs(change - middle) >= EXPLAINED_SHARE * abs(change)
    )


def not_taken_out(voice: VoiceRows, again: list[Adjustment]) -> tuple[str, ...]:
    """Return quantities claimed over the notes that the place moves and that it stays in."""
    taken = {one.row for one in again}
    return tuple(
        column
        for column, row in voice.over_notes.items()
        if row not in taken
        and voice.table.verdict[row] in CLAIMS
        and quantity_of(column).family in FAMILIES
    )


def _confound(
    voice: VoiceRows,
    shift: Shift,
    explained: tuple[str, ...],
    length_mm: float | None,
    *,
    found: bool,
) -> Confound:
    one_way = abs(shift.mean) >= max(0.5 * shift.rms, SMALLEST_SHIFT)
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
        PlaceFacts(None if one_way else shift.rms, length_mm),
        voice.output,
        voice.several,
    )
