"""Differences with a cause taken out, judged anew.

What a cause explains leaves the difference: the row then holds what is left, with its own interval,
and its verdict is about that. The difference as recorded stays in the ``raw_…`` columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from tonecompare.compare.causes.cause_findings import Adjustment
from tonecompare.compare.difference.correction import adjusted_p
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.statistics import t_quantile
from tonecompare.compare.difference.verdicts import judge


def with_taken_out(
    table: DifferenceRows,
    adjustments: Sequence[Adjustment],
    *,
    overrides: Mapping[str, float] | None = None,
) -> DifferenceRows:
    """Return the table with one cause taken out of some rows, all of it judged again.

    Parameters
    ----------
    table
        Judged rows, from which the adjustments were worked out.
    adjustments
        Rows again without the cause, at most one a row.
    overrides
        Hearing thresholds set in session.toml.

    Returns
    -------
    DifferenceRows
        ``difference`` and ``se`` are those of the adjustments. The test's own variance changes by
        as much as the interval's where that grew, by the same factor where it shrank.
    """
    if not adjustments:
        return table
    difference, se, test_se = table.difference.copy(), table.se.copy(), table.test_se.copy()
    named = table.adjusted_for.copy()
    for one in adjustments:
        own = se[one.row]
        difference[one.row] = one.difference
        quantile = float(t_quantile(0.975, table.df[one.row]))
        se[one.row] = (one.high - one.low) / (2.0 * quantile)
        if se[one.row] > own:
            test_se[one.row] = float(np.hypot(test_se[one.row], np.sqrt(se[one.row] ** 2 - own**2)))
        elif own > 0.0:
            test_se[one.row] *= se[one.row] / own
        named[one.row] = tuple(dict.fromkeys((*named[one.row], one.adjusted_for)))
    changed = replace(table, difference=difference, se=se, test_se=test_se, adjusted_for=named)
    return judge(changed, *adjusted_p(changed), overrides=overrides)
