"""A stage that did not hold still: its first voice differs when recorded again at the end.

Where the plucks cannot explain such a drift (``repeat_drift``), the differences of
the comparison are given again with intervals that allow for what whole recordings of one state
differ by; a claim that these do not show any more is not put down to the work. The difference
itself stays as it is: every voice was recorded somewhere between the two, nobody knows where.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from tonecompare.compare.cause_facts import DriftFacts, HiddenByDrift
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.repeat_drift import HELD, Drift, between_recordings, by_stage
from tonecompare.compare.causes.rows_to_explain import VoiceRows, voices_of
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import ALPHA, combine
from tonecompare.compare.model import Confound
from tonecompare.compare.reasons import DRIFTED, Reason
from tonecompare.quantities.compared import quantity_of
from tonecompare.quantities.moved_by import OF_THE_SPECTRUM
from tonecompare.session.model import ComparisonSpec

KIND = "drift"
#: Which families a drift of each quantity tells of: one hand makes level and brightness.
_FAMILIES = {
    "level_dbfs": OF_THE_SPECTRUM,
    "centroid_hz": OF_THE_SPECTRUM,
    "decay_s": ("decay",),
    "hum_dbfs": ("noise",),
}


def find_drift(
    drifts: Sequence[Drift], specs: Mapping[str, ComparisonSpec], differences: DifferenceRows
) -> ConfoundFindings:
    """Look at every comparison for stages that drifted.

    Parameters
    ----------
    drifts
        Of all stages, from :func:`tonecompare.compare.causes.repeat_drift.find_drifts`.
    specs
        The comparisons by name.
    differences
        The table of differences with verdicts.

    Returns
    -------
    ConfoundFindings
        One confound per comparison that has a repeat, found or not; where found, one more for each
        voice of which it takes a claim away, and an adjustment for every row it widens.
    """
    stages = by_stage(drifts)
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    voices = list(voices_of(differences))
    for name, spec in specs.items():
        names = (spec.before, spec.after, spec.control_before, spec.control_after)
        mine = [one for stage in names if stage is not None for one in stages.get(stage, ())]
        told = [one for one in mine if one.quantity.column in HELD]
        if not told:
            continue
        moved = [one for one in told if one.shown]
        confounds.append(_of_comparison(name, told, moved))
        families = {f for one in moved for f in _FAMILIES.get(one.quantity.column, ())}
        if not families:
            continue
        for voice in (each for each in voices if each.comparison == name):
            again = list(_widened(voice, mine, families))
            adjustments += [one for one, _ in again]
            explained = _explained(voice, again)
            if explained:
                confounds.append(_of_voice(voice, explained))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def _widened(
    voice: VoiceRows, drifts: list[Drift], families: set[str]
) -> Iterator[tuple[Adjustment, bool]]:
    """Yield the rows of a voice with what whole recordings differ by added to the interval.

    Each comes with whether it still shows a difference after the report's own correction: Holm's
    factor of the row, adjusted over plain p-value, on the p-value of the wider interval.
    """
    table = voice.table
    added: dict[str, tuple[float, float]] = {}
    for row in voice.places.tolist():
        column = str(table.column[row])
        if quantity_of(column).family not in families or not np.isfinite(table.se[row]):
            continue
        if column not in added:
            of = [one for one in drifts if one.quantity.column == column]
            if not of:  # the repeat shows nothing of it
                continue
            added[column] = between_recordings([d for d in of if d.output == voice.output] or of)
        # A control adds two recordings of its own.
        pairs = 2.0 if np.isfinite(table.control_difference[row]) else 1.0
        value, (variance, df) = float(table.difference[row]), added[column]
        estimate = combine(
            value,
            np.array([table.se[row] ** 2, pairs * variance]),
            np.array([table.df[row], df]),
        )
        factor = float(table.p_adjusted[row]) / max(float(table.p_value[row]), 1e-300)
        low, high = estimate.interval()
        yield (
            Adjustment(row, value, float(low), float(high), KIND),
            bool(float(estimate.p_value) * max(factor, 1.0) < ALPHA),
        )


def _explained(voice: VoiceRows, again: list[tuple[Adjustment, bool]]) -> tuple[str, ...]:
    """Return the quantities claimed over the notes that the wider intervals do not show."""
    hidden = {one.row for one, shown in again if not shown}
    return tuple(name for name in voice.claimed() if voice.over_notes[name] in hidden)


def weakened(table: DifferenceRows) -> DifferenceRows:
    """Return the table with verdicts that the wider intervals do not bear brought down.

    ``no-change`` needs the whole interval inside the hearing threshold, else it is ``undecided``;
    ``likely-audible`` needs it beyond, else it is ``measurable``.
    """
    rows = np.array([KIND in kinds for kinds in table.adjusted_for], dtype=bool)
    low, high = table.threshold_low, table.threshold_high
    ends = table.adjusted_low, table.adjusted_high
    open_ = rows & (table.verdict == "no-change") & ~((ends[0] > low) & (ends[1] < high))
    near = rows & (table.verdict == "likely-audible") & ~((ends[1] < low) | (ends[0] > high))
    verdict, reason = table.verdict.copy(), table.reason.copy()
    verdict[open_], verdict[near] = "undecided", "measurable"
    for row in np.flatnonzero(open_ | near):
        quantity = quantity_of(str(table.column[row]))
        span = (*(float(quantity.from_scale(end[row])) for end in ends), quantity.units[0])
        reason[row] = Reason(DRIFTED, quantity.column, span)
    return replace(table, verdict=verdict, reason=reason)


def _of_comparison(name: str, told: list[Drift], moved: list[Drift]) -> Confound:
    worst = max(moved or told, key=_weight)
    most = worst.facts
    return Confound(
        name, "", KIND, bool(moved), most.moved, most.unit, most.low, most.high, worst.p_adjusted,
        (), DriftFacts(tuple(one.facts for one in moved or told), len(by_stage(told))),
    )  # fmt: skip


def _weight(one: Drift) -> float:
    """Rank by hearing thresholds."""
    side = one.low if one.difference < 0.0 else one.high
    return abs(one.difference / side) if np.isfinite(side) and side else 0.0


def _of_voice(voice: VoiceRows, explained: tuple[str, ...]) -> Confound:
    return Confound(
        voice.comparison, voice.voice, KIND, True, None, "", None, None, None, explained,
        HiddenByDrift(), voice.output, voice.several,
    )  # fmt: skip
