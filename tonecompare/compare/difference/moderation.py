"""Sharper tests over the notes: what the other quantities say about how far notes scatter.

Six notes give the scatter of their differences with five degrees of freedom, too few to pass a
correction for a whole report. But a report holds dozens of such scatters, each of which can be
set against what its plucks alone predict: ``phi = scatter of the notes / scatter explained by the
plucks``. Where these ratios agree between quantities and voices they may be pooled, as the
variances of many genes are (Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004) 3, from memory): the
ratios are taken as ``phi0 F(d, d0)``, ``phi0`` and ``d0`` follow from the mean and variance of
their logarithms, and each ratio is drawn towards ``phi0`` with the weight of ``d0`` degrees of
freedom. Where they disagree ``d0`` is small and next to nothing is borrowed.

Two guards: ``d0`` is capped, since the quantities of one pluck hang together, and a quantity whose
ratio stands out upwards borrows nothing. The *intervals* that people read borrow nothing at all.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from tonecompare.arrays import FloatArray

#: No more degrees of freedom than this are borrowed.
MOST_BORROWED = 20.0
#: Fewer scatters than this tell nothing about their spread.
FEWEST_ROWS = 8
#: A ratio that the pooled distribution would exceed this rarely borrows nothing.
STANDS_OUT = 0.05


def moderate(
    variance: ArrayLike, df: ArrayLike, predicted: ArrayLike, predicted_df: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Draw variances towards what all of them together say of their ratio to a prediction.

    Parameters
    ----------
    variance, df
        (rows,) estimated variances and their degrees of freedom.
    predicted, predicted_df
        (rows,) variances that the plucks alone predict and their degrees of freedom.

    Returns
    -------
    variance, df
        (rows,) moderated variances and degrees of freedom (Satterthwaite's, over the borrowed and
        the own part); the given ones for rows that cannot borrow.
    """
    own, freedom = np.array(variance, np.float64), np.array(df, np.float64)
    scale, scale_df = np.array(predicted, np.float64), np.array(predicted_df, np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = own / scale
        usable = np.isfinite(ratio) & (ratio > 0.0) & (freedom >= 2.0) & (scale_df > 0.0)
    if int(usable.sum()) < FEWEST_ROWS:
        return own, freedom
    ratio0, borrowed = pooled_ratio(ratio[usable], freedom[usable])
    if borrowed <= 0.0:
        return own, freedom
    with np.errstate(invalid="ignore"):
        tail = special.fdtrc(freedom, borrowed, ratio / ratio0)
    rows = usable & (tail >= STANDS_OUT)
    lent = borrowed * ratio0 * scale[rows]
    kept = freedom[rows] * own[rows]
    total = borrowed + freedom[rows]
    spread = lent**2 * (1.0 / borrowed + 1.0 / scale_df[rows]) + kept**2 / freedom[rows]
    own[rows] = (lent + kept) / total
    freedom[rows] = (lent + kept) ** 2 / spread
    return own, freedom


def pooled_ratio(ratio: FloatArray, df: FloatArray) -> tuple[float, float]:
    """Fit ``ratio ~ ratio0 F(df, d0)`` by the moments of the logarithm; return (ratio0, d0).

    ``E ln = ln ratio0 + psi(df/2) - ln(df/2) - psi(d0/2) + ln(d0/2)``,
    ``Var ln = psi'(df/2) + psi'(d0/2)``. ``d0`` is at most :data:`MOST_BORROWED`.
    """
    logs = np.log(ratio) - special.digamma(df / 2.0) + np.log(df / 2.0)
    middle = float(logs.mean())
    excess = float(logs.var(ddof=1) - special.polygamma(1, df / 2.0).mean())
    borrowed = MOST_BORROWED
    if excess > float(special.polygamma(1, MOST_BORROWED / 2.0)):
        borrowed = 2.0 * _inverse_trigamma(excess)
        middle += float(special.digamma(borrowed / 2.0) - np.log(borrowed / 2.0))
    elif excess > 0.0:
        exact = 2.0 * _inverse_trigamma(excess)
        middle += float(special.digamma(exact / 2.0) - np.log(exact / 2.0))
    return float(np.exp(middle)), borrowed


def _inverse_trigamma(value: float) -> float:
    """Solve ``psi'(x) = value`` by Newton's steps on ``1/psi'`` (Smyth 2004)."""
    x = 0.5 + 1.0 / value
    for _ in range(50):
        trigamma = float(special.polygamma(1, x))
        step = trigamma * (1.0 - trigamma / value) / float(special.polygamma(2, x))
        x += step
        if abs(step) < 1e-10 * x:
            break
    return x
