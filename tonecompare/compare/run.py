"""The comparison of a whole session: every comparison, voice, output, note and quantity."""

from __future__ import annotations

from tonecompare.compare.bench import bench_signs
from tonecompare.compare.block import empty_block, join_blocks
from tonecompare.compare.confounds import apply_confounds, find_confounds
from tonecompare.compare.control import control_block, control_table, take_control_out
from tonecompare.compare.correction import adjusted_p
from tonecompare.compare.differences import stage_block
from tonecompare.compare.equaliser import find_equalisers
from tonecompare.compare.model import Comparisons
from tonecompare.compare.notes import comparison_notes
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.response import find_responses
from tonecompare.compare.spread import guitars_table, sessions_table
from tonecompare.compare.table import differences_table, thresholds_table
from tonecompare.compare.thresholds import check_overrides
from tonecompare.compare.verdicts import judge
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session


def compare_session(session: Session, measurements: Measurements) -> Comparisons:
    """Compare the stages of a session.

    Parameters
    ----------
    session
        Names the comparisons; without any, each stage is compared with the one it came from.
    measurements
        Tables of plucks and quiet stretches.

    Returns
    -------
    Comparisons
        ``differences`` has a row per comparison, voice, output, note ("all" = over the notes both
        stages share, each note weighing the same) and quantity. Intervals are 95 % t intervals;
        ``p_adjusted`` is corrected once over the whole report
        (:mod:`tonecompare.compare.correction`).

    Raises
    ------
    SessionError
        When ``hearing_thresholds`` name no threshold or give no magnitude.
    """
    check_overrides(session.hearing_thresholds)
    specs = {spec.name: spec for spec in planned_comparisons(session)}
    blocks, controls = [empty_block()], [empty_block()]
    for spec in specs.values():
        block = stage_block(spec.name, spec.before, spec.after, measurements)
        control = control_block(spec, measurements)
        if control is not None:
            block = take_control_out(block, control)
            controls.append(control)
        blocks.append(block)
    block = join_blocks(blocks)
    p_adjusted, share = adjusted_p(block)
    verdicts = judge(block, p_adjusted, share, overrides=session.hearing_thresholds)
    table = differences_table(block, p_adjusted, verdicts, specs)
    findings = find_confounds(session, measurements, table)
    table = apply_confounds(table, findings)
    responses = find_responses(measurements, specs)
    drift = control_table(join_blocks(controls), specs, session.hearing_thresholds)
    return Comparisons(
        table,
        confounds=findings.confounds,
        responses=responses,
        equalisers=find_equalisers(responses),
        bench=bench_signs(session, measurements),
        notes={
            name: comparison_notes(session, spec, measurements, table, drift)
            for name, spec in specs.items()
        },
        tables={
            "control": drift,
            "thresholds": thresholds_table(session.hearing_thresholds),
            "guitars": guitars_table(session, measurements),
            "sessions": sessions_table(session, measurements),
        },
    )
