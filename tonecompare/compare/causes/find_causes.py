"""Confounds: what other than the work can explain a difference, and what it does to verdicts.

Each test is a function of its own module that returns :class:`ConfoundFindings`; :data:`TESTS`
lists them. A found confound turns the verdict of the rows it explains into ``confounded``; where
its share is known the difference is given again with it taken out.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.gain import find_gain
from tonecompare.compare.causes.hand.picking_place import find_position
from tonecompare.compare.causes.hand.picking_strength import find_strength
from tonecompare.compare.causes.load import find_load
from tonecompare.compare.causes.mains import find_mains
from tonecompare.compare.causes.processing import find_processing
from tonecompare.compare.causes.quiet_on_one_side import find_quiet
from tonecompare.compare.causes.string_age import find_strings
from tonecompare.compare.causes.tuning import find_tuning
from tonecompare.measure.model import Measurements
from tonecompare.session.model import Session

Test = Callable[[Session, Measurements, pd.DataFrame], ConfoundFindings]

#: Every test that is run, in order. The first that explains a row gives its reason; a later
#: adjustment of the same row replaces an earlier one.
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

_CLAIMS = ("likely-audible", "measurable")


def find_confounds(
    session: Session, measurements: Measurements, differences: pd.DataFrame
) -> ConfoundFindings:
    """Run every test on a session.

    Parameters
    ----------
    session, measurements
        What was recorded and measured.
    differences
        The table of differences with verdicts, before confounds.
    """
    findings = [test(session, measurements, differences) for test in TESTS]
    return ConfoundFindings(
        tuple(confound for found in findings for confound in found.confounds),
        tuple(adjustment for found in findings for adjustment in found.adjustments),
    )


def apply_confounds(differences: pd.DataFrame, findings: ConfoundFindings) -> pd.DataFrame:
    """Return the table with the verdicts that confounds explain turned to ``confounded``.

    Only a claim can be confounded: ``no-change`` and ``undecided`` rows keep their verdict. Every
    row with an :class:`Adjustment` shows its difference with the confound taken out.
    """
    table = differences.copy()
    for confound in findings.confounds:
        if not confound.found:
            continue
        rows = (table["comparison"] == confound.comparison) & table["quantity"].isin(
            confound.explains
        )
        if confound.voice:
            rows &= table["voice"] == confound.voice
        rows &= table["verdict"].isin(_CLAIMS)
        table.loc[rows, "verdict"] = "confounded"
        table.loc[rows, "reason"] = confound.sentence
    return _apply_adjustments(table, findings.adjustments)


def _apply_adjustments(table: pd.DataFrame, adjustments: tuple[Adjustment, ...]) -> pd.DataFrame:
    keys = ["comparison", "voice", "output", "note", "quantity", "unit"]
    where = {key: row for row, key in enumerate(zip(*(table[k] for k in keys), strict=True))}
    shown = {
        name: table[name].to_numpy(dtype=np.float64, copy=True)
        for name in ("difference_adjusted", "ci_low_adjusted", "ci_high_adjusted")
    }
    named = table["adjusted_for"].to_numpy(dtype=np.object_, copy=True)
    for adjustment in adjustments:
        row = where.get(tuple(getattr(adjustment, key) for key in keys))
        if row is None:
            continue
        shown["difference_adjusted"][row] = adjustment.difference
        shown["ci_low_adjusted"][row] = adjustment.ci_low
        shown["ci_high_adjusted"][row] = adjustment.ci_high
        named[row] = adjustment.adjusted_for
    return table.assign(**shown, adjusted_for=named)
