"""Confounds: what other than the work can explain a difference, and what it does to verdicts.

Each test is a function of its own module that returns :class:`ConfoundFindings`; :data:`TESTS`
lists them. A found confound turns the verdict of the rows it explains into ``confounded``; where
its share is known the difference is given again with it taken out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

import numpy as np

from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.gain import find_gain
from tonecompare.compare.causes.hand.picking_place import find_position
from tonecompare.compare.causes.hand.picking_strength import find_strength
from tonecompare.compare.causes.joint_adjustment import taken_out
from tonecompare.compare.causes.load import find_load
from tonecompare.compare.causes.mains import find_mains
from tonecompare.compare.causes.processing import find_processing
from tonecompare.compare.causes.quiet_on_one_side import find_quiet
from tonecompare.compare.causes.rows_to_explain import CLAIMS
from tonecompare.compare.causes.string_age import find_strings
from tonecompare.compare.causes.tuning import find_tuning
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.model import Confound
from tonecompare.compare.reasons import CAUSES, Reason
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

Test = Callable[[Session, Measurements, DifferenceRows], ConfoundFindings]

#: Every test that is run, in the order in which a row names several causes.
TESTS: tuple[Test, ...] = (
    find_processing,
    find_quiet,
    find_mains,
    find_position,
    find_strength,
    find_gain,
    find_strings,
    find_load,
    find_tuning,
)


def find_confounds(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Run every test on a session.

    Parameters
    ----------
    session, measurements
        What was recorded and measured.
    differences
        The rows with verdicts, before confounds.
    """
    findings = [test(session, measurements, differences) for test in TESTS]
    return ConfoundFindings(
        tuple(confound for found in findings for confound in found.confounds),
        tuple(adjustment for found in findings for adjustment in found.adjustments),
    )


def apply_confounds(table: DifferenceRows, findings: ConfoundFindings) -> DifferenceRows:
    """Return the table with the verdicts that confounds explain turned to ``confounded``.

    Only a claim can be confounded: ``no-change`` and ``undecided`` rows keep their verdict. Every
    row with an :class:`Adjustment` has its difference with all its causes taken out
    (:func:`tonecompare.compare.causes.joint_adjustment.taken_out`); ``adjusted_for`` holds their
    kinds as a tuple, in the order in which the reason has their places in ``findings.confounds``.
    """
    found = {at: one for at, one in enumerate(findings.confounds) if one.found}
    adjustments: dict[int, list[Adjustment]] = {}
    for one in findings.adjustments:
        adjustments.setdefault(one.row, []).append(one)
    adjusted = np.stack([table.adjusted, table.adjusted_low, table.adjusted_high])
    named, verdict, reason = table.adjusted_for.copy(), table.verdict.copy(), table.reason.copy()
    numbers = np.stack([table.difference, *table.ends], axis=1).tolist()
    keys = zip(table.comparison, table.voice, table.output, table.column, strict=True)
    for row, (comparison, voice, output, quantity) in enumerate(keys):
        mine = {at: one for at, one in found.items() if one.concerns(comparison, voice, output)}
        taken = adjustments.get(row, [])
        if taken:
            order = [*(one.kind for one in mine.values()), *_kinds(taken)]
            taken = sorted(taken, key=lambda one: order.index(one.adjusted_for))
            adjusted[:, row] = taken_out(numbers[row], taken)
            named[row] = _kinds(taken)
        if verdict[row] not in CLAIMS:
            continue
        if any(quantity in confound.explains for confound in mine.values()):
            verdict[row] = "confounded"
            reason[row] = Reason(CAUSES, quantity, _causes(mine, quantity, _kinds(taken)))
    return replace(
        table,
        adjusted=adjusted[0],
        adjusted_low=adjusted[1],
        adjusted_high=adjusted[2],
        adjusted_for=named,
        verdict=verdict,
        reason=reason,
    )


def _kinds(adjustments: Iterable[Adjustment]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.adjusted_for for one in adjustments))


def _causes(
    confounds: Mapping[int, Confound], quantity: str, taken: tuple[str, ...]
) -> tuple[int, ...]:
    """Return the places of what explains a row and of what was taken out of it, each kind once."""
    said: dict[str, int] = {}
    for at, confound in confounds.items():
        if quantity in confound.explains or (confound.kind in taken and confound.kind not in said):
            said[confound.kind] = at
    return tuple(said.values())
