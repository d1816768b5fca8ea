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
from tonecompare.compare.causes.rows_to_explain import on_scale
from tonecompare.quantities.compared import quantity_of

#: Columns that name a row of the table of differences, in the order of ``Adjustment.row``.
ROW_KEY = ("comparison", "voice", "output", "note", "quantity", "unit")
Ends = tuple[float, float, float]


def taken_out(
    judged: Sequence[float], adjustments: Sequence[Adjustment], *, quantity: str, unit: str
) -> Ends:
    """Return a difference and its interval with every cause taken out.

    Parameters
    ----------
    judged
        Difference, lower and upper end as judged, in ``unit``.
    adjustments
        The same row without each of the causes, at least one.
    quantity, unit
        What the row is about and the unit of all numbers.

    Returns
    -------
    tuple of float
        Difference, lower and upper end in ``unit``.

    Examples
    --------
    >>> row = ("a to b", "bridge", "magnetic", "all", "level_dbfs", "dB")
    >>> gain = Adjustment(*row, 3.0, 2.0, 4.0, "gain")
    >>> place = Adjustment(*row, 5.0, 4.0, 6.0, "pick-position")
    >>> [round(value, 6) for value in taken_out(
    ...     (6.0, 5.0, 7.0), [gain, place], quantity="level_dbfs", unit="dB")]
    [2.0, 1.0, 3.0]
    """
    each = [(one.difference, one.ci_low, one.ci_high) for one in adjustments]
    if len(each) == 1:
        return each[0]
    whole = np.array([on_scale(value, quantity, unit) for value in judged])
    parts = np.array([[on_scale(value, quantity, unit) for value in one] for one in each])
    value = whole[0] - float(np.sum(whole[0] - parts[:, 0]))
    ends = []
    for side, sign in ((1, -1.0), (2, 1.0)):
        own = (whole[side] - whole[0]) ** 2
        of_parts = np.square(parts[:, side] - parts[:, 0])
        together = max(own + float(np.sum(of_parts - own)), float(of_parts.min()))
        ends.append(value + sign * float(np.sqrt(together)))
    back = [float(quantity_of(quantity).from_scale(end, unit=unit)) for end in (value, *ends)]
    return back[0], back[1], back[2]
