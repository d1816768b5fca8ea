"""The control: an instrument left unchanged and recorded in both sessions.

What changes on it is the sessions, not the work, so it is taken out of the difference
(difference in differences): ``(after - before) - (control after - control before)``, with the
variances added and Satterthwaite's degrees of freedom. The control's voice of the same name and
output serves; failing that, all its voices of the same output averaged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tonecompare.compare.difference.correction import adjusted_p
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.difference.statistics import combine
from tonecompare.compare.difference.verdicts import judge
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES
from tonecompare.session.model import ComparisonSpec

#: No session moves a pickup in its guitar: the control's differences of these are only noise.
STANDS_STILL = ("pickup_point", "pickup_distance_mm", "coil_spacing_mm")
#: Difference, variance and degrees of freedom, the same two of the test, and the part of the
#: variance that is the plucks'.
Drift = tuple[float, float, float, float, float, float]


def control_block(spec: ComparisonSpec, measurements: Measurements) -> DifferenceRows | None:
    """Return the control's own differences between the sessions; None when none is named."""
    if spec.control_before is None or spec.control_after is None:
        return None
    return stage_block(spec.name, spec.control_before, spec.control_after, measurements)


def take_control_out(block: DifferenceRows, control: DifferenceRows) -> DifferenceRows:
    """Return ``block`` with the control's drift taken out of every row it can be taken out of.

    Rows for which the control has no usable drift (and what the player sets: tuning, picking
    place) stay as they are, with ``control_difference`` NaN.
    """
    found = np.full((6, len(block)), np.nan)
    drifts = _Drifts(control)
    for row in range(len(block)):
        quantity = int(block.quantity[row])
        if QUANTITIES[quantity].condition or QUANTITIES[quantity].column in STANDS_STILL:
            continue
        one = drifts.of(str(block.voice[row]), str(block.output[row]), quantity)
        if one is not None:
            found[:, row] = one
    drift, variance, df, test_variance, test_df, repeats = found
    usable = np.isfinite(drift) & np.isfinite(block.se)
    total = combine(
        block.difference - drift, np.stack([block.se**2, variance]), np.stack([block.df, df])
    )
    test = combine(
        block.difference - drift,
        np.stack([block.test_se**2, test_variance]),
        np.stack([block.test_df, test_df]),
    )
    return replace(
        block,
        difference=np.where(usable, total.difference, block.difference),
        se=np.where(usable, total.se, block.se),
        df=np.where(usable, total.df, block.df),
        test_se=np.where(usable, test.se, block.test_se),
        test_df=np.where(usable, test.df, block.test_df),
        repeat_variance=np.where(usable, block.repeat_variance + repeats, block.repeat_variance),
        control_difference=np.where(usable, drift, np.nan),
    )


def judged_control(control: DifferenceRows, overrides: Mapping[str, float]) -> DifferenceRows:
    """Return the drift of the controls between the sessions, judged like any difference."""
    return judge(control, *adjusted_p(control), overrides=overrides)


class _Drifts:
    """Looks up the control's drift over all notes by voice, output and quantity."""

    def __init__(self, control: DifferenceRows) -> None:
        usable = (control.note == ALL_NOTES) & np.isfinite(control.se) & (control.unjudged == "")
        self._control = control
        self._rows: dict[tuple[str, str, int], int] = {}
        self._by_output: dict[tuple[str, int], list[int]] = {}
        for row in np.flatnonzero(usable):
            voice, output = str(control.voice[row]), str(control.output[row])
            quantity = int(control.quantity[row])
            self._rows[voice, output, quantity] = int(row)
            self._by_output.setdefault((output, quantity), []).append(int(row))
        self._found: dict[tuple[str, str, int], Drift] = {}

    def of(self, voice: str, output: str, quantity: int) -> Drift | None:
        """Return the drift to take out of a row; None where the control has none."""
        key = (voice, output, quantity)
        if key in self._found:
            return self._found[key]
        row = self._rows.get(key)
        rows = [row] if row is not None else self._by_output.get((output, quantity), [])
        if not rows:
            return None
        self._found[key] = self._average(rows)
        return self._found[key]

    def _average(self, rows: list[int]) -> Drift:
        control, count = self._control, len(rows)
        drift = control.difference[rows].mean()
        mean = combine(drift, control.se[rows] ** 2 / count**2, control.df[rows])
        test = combine(drift, control.test_se[rows] ** 2 / count**2, control.test_df[rows])
        repeats = control.repeat_variance[rows].sum() / count**2
        return (
            float(drift),
            float(mean.se) ** 2,
            float(mean.df),
            float(test.se) ** 2,
            float(test.df),
            float(repeats),
        )
