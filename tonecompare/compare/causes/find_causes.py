"""Confounds: what other than the work can explain a difference, and what it does to verdicts.

Each test is a function of its own module that returns :class:`ConfoundFindings`; :data:`TESTS`
lists them. Where the share of a cause is known it is taken out of the difference, which is judged
anew and which the next test sees: so no two causes explain one sign. A cause whose share is not
known turns the verdict of what it may explain into ``confounded``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from tonecompare.compare.cause_facts import StrengthFacts
from tonecompare.compare.causes.cause_findings import ConfoundFindings
from tonecompare.compare.causes.gain.turned_gain import find_gain
from tonecompare.compare.causes.hand.picking_place import WHOLE_DECAYS, find_position
from tonecompare.compare.causes.hand.picking_strength import find_strength
from tonecompare.compare.causes.load import find_load
from tonecompare.compare.causes.mains import find_mains
from tonecompare.compare.causes.processing import find_processing
from tonecompare.compare.causes.quiet_on_one_side import find_quiet
from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.causes.string_age import find_strings
from tonecompare.compare.causes.taken_out import with_taken_out
from tonecompare.compare.causes.tuning import find_tuning
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.reasons import CAUSES, Reason
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

Test = Callable[[Session, Measurements, DifferenceRows], ConfoundFindings]

#: Every test that is run, in the order in which shares are taken out and causes named.
TESTS: tuple[Test, ...] = (
    find_gain,
    find_position,
    find_strength,
    find_processing,
    find_quiet,
    find_mains,
    find_strings,
    find_load,
    find_tuning,
)
#: Those asked of voices of one stage too, which share strings, tuning, gain, cable and mains.
WITHIN_A_SITTING: tuple[Test, ...] = (find_position, find_strength, find_quiet)


def find_confounds(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> tuple[DifferenceRows, tuple[Confound, ...]]:
    """Run every test on a session, each on what those before it left.

    Parameters
    ----------
    session, measurements
        What was recorded and measured.
    differences
        The rows with verdicts, before confounds.

    Returns
    -------
    rows, confounds
        The rows with every known share taken out, judged; all confounds, found or not.
    """
    confounds: list[Confound] = []
    one_sitting = [spec.name for spec in planned_comparisons(session) if spec.one_sitting]
    between_voices = {
        spec.name: spec.sides[0].voice or ""
        for spec in planned_comparisons(session)
        if spec.between_voices
    }
    between_sittings = ~np.isin(differences.comparison, one_sitting)
    for test in TESTS:
        if one_sitting and test not in WITHIN_A_SITTING:
            findings = test(session, measurements, differences.rows(between_sittings))
            findings = findings.at(np.flatnonzero(between_sittings))
        else:
            findings = test(session, measurements, differences)
        if between_voices:
            findings = told_of_voices(findings, between_voices)
        confounds += findings.confounds
        differences = with_taken_out(
            differences, findings.adjustments, overrides=session.hearing_thresholds
        )
    return differences, tuple(confounds)


def told_of_voices(
    findings: ConfoundFindings, between_voices: Mapping[str, str]
) -> ConfoundFindings:
    """Name the other voice; drop what a pickup elsewhere makes by itself.

    Between voices that is a strength read off level and upper partials, and how the whole sound
    dies away: the pickup's place decides which partials make it up, as the pick's does.
    """
    kept = (
        replace(
            one,
            against=between_voices[one.comparison],
            explains=tuple(name for name in one.explains if name not in WHOLE_DECAYS),
        )
        if one.comparison in between_voices
        else one
        for one in findings.confounds
        if one.comparison not in between_voices
        or not isinstance(one.facts, StrengthFacts)
        or one.facts.by_glide
    )
    return replace(findings, confounds=tuple(kept))


def apply_confounds(table: DifferenceRows, confounds: Sequence[Confound]) -> DifferenceRows:
    """Return the table with the verdicts that confounds explain turned to ``confounded``.

    Only a claim can be confounded: ``no-change`` and ``undecided`` rows keep their verdict. The
    reason has the places of all causes that may explain the row.
    """
    found = {at: one for at, one in enumerate(confounds) if one.found}
    verdict, reason = table.verdict.copy(), table.reason.copy()
    keys = zip(table.comparison, table.voice, table.output, table.column, strict=True)
    for row, (comparison, voice, output, quantity) in enumerate(keys):
        if verdict[row] not in CLAIMS:
            continue
        explaining: dict[str, int] = {}
        for at, one in found.items():
            if quantity in one.explains and one.concerns(comparison, voice, output):
                explaining[one.kind] = at
        if explaining:
            verdict[row] = "confounded"
            reason[row] = Reason(CAUSES, quantity, tuple(explaining.values()))
    return replace(table, verdict=verdict, reason=reason)


def without_drift(table: DifferenceRows, findings: ConfoundFindings) -> DifferenceRows:
    """Return the table with the intervals that allow for a stage's drift beside the others."""
    adjusted = np.stack([table.adjusted, table.adjusted_low, table.adjusted_high])
    named = table.adjusted_for.copy()
    for one in findings.adjustments:
        adjusted[:, one.row] = one.difference, one.low, one.high
        named[one.row] = (*named[one.row], one.adjusted_for)
    return replace(
        table,
        adjusted=adjusted[0],
        adjusted_low=adjusted[1],
        adjusted_high=adjusted[2],
        adjusted_for=named,
    )
