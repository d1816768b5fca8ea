"""Every difference of a session judged by the statistics alone, before confounds are looked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from tonecompare.compare.difference.control import control_block, judged_control, take_control_out
from tonecompare.compare.difference.correction import adjusted_p
from tonecompare.compare.difference.difference_rows import DifferenceRows, join_rows, no_rows
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.difference.verdicts import judge
from tonecompare.compare.difference.voice_differences import with_reasons
from tonecompare.compare.planned import planned_comparisons
from tonecompare.compare.thresholds import check_overrides
from tonecompare.compare.voices_paired import of_comparison
from tonecompare.measure.model import Measurements
from tonecompare.session.model import ComparisonSpec, Session


@dataclass(frozen=True)
class Judged:
    """Differences with verdicts, and what they came from.

    ``control`` is the controls' own drift between the sessions, of all comparisons, judged alike.
    """

    rows: DifferenceRows
    specs: Mapping[str, ComparisonSpec]
    control: DifferenceRows


def judge_session(session: Session, measurements: Measurements) -> Judged:
    """Work out every difference of a session, take controls out, correct once and judge.

    Raises
    ------
    SessionError
        When ``hearing_thresholds`` name no threshold or give no magnitude.
    """
    check_overrides(session.hearing_thresholds)
    specs = {spec.name: spec for spec in planned_comparisons(session)}
    blocks, controls = [no_rows()], [no_rows()]
    for spec in specs.values():
        block = stage_block(
            spec.name,
            spec.before,
            spec.after,
            of_comparison(measurements, spec),
            one_scatter=_one_sound(session, spec),
        )
        control = control_block(spec, measurements)
        if control is not None:
            block = take_control_out(block, control)
            controls.append(control)
        blocks.append(block)
    block = join_rows(blocks)
    overrides = session.hearing_thresholds
    return Judged(
        with_reasons(judge(block, *adjusted_p(block), overrides=overrides), measurements),
        specs,
        judged_control(join_rows(controls), overrides),
    )


def _one_sound(session: Session, spec: ComparisonSpec) -> bool:
    """Whether both sides are the same voice of, as far as anyone said, the same guitar."""
    before, after = spec.sides
    first, second = session.stages[before.stage], session.stages[after.stage]
    return before.voice == after.voice and first.instrument == second.instrument
