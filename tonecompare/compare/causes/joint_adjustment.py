"""One difference with all that explains it taken out, when more than one cause does.

A cause found alone gives the difference again with itself taken out. Where several were found for
one row, their shifts add on the quantity's analysis scale (decibels, natural logarithms): the
difference without all of them is ``d - sum_k (d - a_k)`` with ``a_k`` the difference without cause
``k``. Variances add likewise, ``h² + sum_k (h_k² - h²)`` on each side of the interval (square and
add, as in :mod:`tonecompare.compare.causes.gain`), but never below the narrowest of the ``h_k``.
Causes that move one quantity together (place and strength of the pick) are taken as independent.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.compare.causes.cause_findings import Adjustment

Ends = tuple[float, float, float]


def taken_out(judged: Ends, adjustments: Sequence[Adjustment]) -> Ends:
    """Return a difference and its interval with every cause taken out.

    Parameters
    ----------
    judged
        Difference, lower and upper end as judged, on the analysis scale.
    adjustments
        The same row without each of the causes, at least one.

    Returns
    -------
    tuple of float
        Difference, lower and upper end on that scale.

    Examples
    --------
    >>> gain = Adjustment(0, 3.0, 2.0, 4.0, "gain")
    >>> place = Adjustment(0, 5.0, 4.0, 6.0, "pick-position")
    >>> taken_out((6.0, 5.0, 7.0), [gain, place])
    (2.0, 1.0, 3.0)
    """
    parts = np.array([(one.difference, one.low, one.high) for one in adjustments])
    if len(parts) == 1:
        one = adjustments[0]
        return one.difference, one.low, one.high
    value = judged[0] - float(np.sum(judged[0] - parts[:, 0]))
    ends = []
    for side, sign in ((1, -1.0), (2, 1.0)):
        own = (judged[side] - judged[0]) ** 2
        of_parts = np.square(parts[:, side] - parts[:, 0])
        together = max(own + float(np.sum(of_parts - own)), float(of_parts.min()))
        ends.append(value + sign * float(np.sqrt(together)))
    return value, ends[0], ends[1]
