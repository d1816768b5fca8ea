"""The comparison of a whole session: every comparison, voice, output, note and quantity."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tonecompare.compare.bench.signs import bench_signs
from tonecompare.compare.causes.find_causes import apply_confounds, find_confounds, without_drift
from tonecompare.compare.causes.repeat_drift import drift_table, find_drifts, first_recordings
from tonecompare.compare.causes.stage_drift import find_drift, weakened
from tonecompare.compare.comparisons import Comparisons
from tonecompare.compare.difference.difference_table import thresholds_table, to_frame
from tonecompare.compare.difference.session_differences import judge_session
from tonecompare.compare.guitars.guitar_spread import guitars_table, sessions_table
from tonecompare.compare.guitars.side_by_side import further_specs
from tonecompare.compare.notes import comparison_notes
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.response.acoustic_likeness import likeness_of_session
from tonecompare.compare.response.equaliser import find_equalisers
from tonecompare.compare.response.recordings_of_blends import recordings_of_blends
from tonecompare.compare.response.response_curve import find_responses
from tonecompare.compare.side_by_side import side_by_side
from tonecompare.compare.voices_paired import with_sides
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session
from tonecompare.workers.processes import beside


def compare_session(
    session: Session, measurements: Measurements, *, workers: int = 1
) -> Comparisons:
    """Compare the stages of a session, and voices where a comparison names one on each side.

    Parameters
    ----------
    session
        Names the comparisons; without any, each stage is compared with the one it came from.
    measurements
        Tables of plucks and quiet stretches. A voice repeated at the end of its stage
        ("bridge-again") is compared with its first recording only.
    workers
        With two or more, a process beside this one looks at the sounds themselves (responses,
        voices side by side) while this one weighs the differences.

    Returns
    -------
    Comparisons
        ``rows`` has a row per comparison, voice, output, note ("all" = over the notes both
        stages share, each note weighing the same) and quantity. Intervals are 95 % t intervals;
        ``p_adjusted`` is corrected once over the whole report
        (:mod:`tonecompare.compare.difference.correction`). ``further`` has the pairs that several
        guitars side by side need besides, corrected among themselves.

    Raises
    ------
    SessionError
        When ``hearing_thresholds`` name no threshold or give no magnitude.
    """
    measured = first_recordings(measurements)

    def of_the_sounds() -> dict[str, Any]:
        sides = with_sides(session, measured)[1]
        responses = find_responses(sides, {one.name: one for one in planned_comparisons(session)})
        return {
            "responses": responses,
            "equalisers": find_equalisers(responses),
            "voices": side_by_side(session, measured),
            "bench": bench_signs(session, measured),
            "likenesses": likeness_of_session(measured, overrides=session.hearing_thresholds),
            "recordings_of_blends": recordings_of_blends(measured),
        }

    with beside(of_the_sounds, workers=workers) as found:
        compared = _judged(session, measurements)
        further = further_specs(session, measurements)
        tables = {
            **compared.tables,
            "thresholds": thresholds_table(session.hearing_thresholds),
            "guitars": guitars_table(session, measured),
            "sessions": sessions_table(session, measured),
        }
        others = _judged(replace(session, comparisons=further), measurements) if further else None
        return replace(compared, tables=tables, further=others, **found())


def _judged(session: Session, measurements: Measurements) -> Comparisons:
    """Return the differences of a session's comparisons with verdicts, causes and notes."""
    drifts = find_drifts(session, measurements)
    session, measurements = with_sides(session, first_recordings(measurements))
    judged = judge_session(session, measurements)
    specs, rows = judged.specs, judged.rows
    rows, confounds = find_confounds(session, measurements, rows)
    drifted = find_drift(drifts, specs, rows)
    # What says why comes first.
    confounds = (*confounds, *drifted.confounds)
    rows = weakened(without_drift(apply_confounds(rows, confounds), drifted))
    return Comparisons(
        rows,
        confounds=confounds,
        notes={
            name: comparison_notes(session, spec, measurements, rows, judged.control)
            for name, spec in specs.items()
        },
        tables={"control": to_frame(judged.control), "drift": drift_table(drifts)},
    )
