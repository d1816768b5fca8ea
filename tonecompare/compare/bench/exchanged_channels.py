"""Whether the two channels of a take carry the outputs they are said to carry.

A magnetic pickup at d senses a string through a comb, ``|sin(n pi d/L)|``; a saddle piezo, at the
string's end, has none, and the picking place is the same in both. So the level of each partial on
the magnetic output less that on the piezo output is one comb, the same for all strings, plus what
the two outputs' filters do, which is smooth over frequency:

``m_kn - p_kn = c_k + s(f_kn) + 10 lg(sin²(n pi x/l_k) + floor)``

x the place of the pickup over the scale length, l_k the sounding share of string k. When the
channels are exchanged the comb stands upside down: peaks where the nulls should be. Both are fitted
and the better one is believed where it is better by far; outputs without a comb between them (two
pickups of one kind, a microphone) fit neither and nothing is said.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_correction import numbers
from tonecompare.measure.voice import sounding_share
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_LEVELS

#: One of the two fits must leave less than this share of what the other leaves, and of what the
#: smooth part alone leaves (mean squares).
BETTER_BY = 0.5
#: Fewer notes or partials than this tell nothing.
FEWEST_NOTES, FEWEST_PARTIALS = 3, 40
#: Places of a pickup that are tried, over the scale length.
_PLACES = np.arange(0.02, 0.46, 0.002)
_FLOOR = 0.003
_SMOOTH_ORDER = 5
_MOST_DB = 6.0
_ORDER = np.arange(1, N_PARTIALS + 1)


def outputs_swapped(plucks: pd.DataFrame, tuning: Sequence[str]) -> bool | None:
    """Return whether the combs of one two-channel voice say that its channels are exchanged.

    Parameters
    ----------
    plucks
        Rows of ``measurements.csv`` of one voice at one stage, both outputs.
    tuning
        Open strings, lowest first; only notes whose string is known count.

    Returns
    -------
    bool or None
        None with too few notes, and where the combs do not tell.
    """
    rows = _differences(plucks, tuning)
    if len(rows) < FEWEST_NOTES:
        return None
    level, note, log2_hz, order = (np.concatenate(parts) for parts in zip(*rows, strict=True))
    if level.size < FEWEST_PARTIALS:
        return None
    smooth = log2_hz[:, None] ** np.arange(1, _SMOOTH_ORDER + 1)
    base, _ = np.linalg.qr(np.column_stack([note[:, None] == np.unique(note), smooth]))
    combs = 10.0 * np.log10(np.square(np.sin(np.pi * order[:, None] * _PLACES)) + _FLOOR)

    def left(values: FloatArray) -> FloatArray:
        rest = values - base @ (base.T @ values)
        return np.asarray(np.minimum(rest**2, _MOST_DB**2).mean(axis=0))

    as_named = float(left(level[:, None] - combs).min())
    exchanged = float(left(level[:, None] + combs).min())
    without = float(left(level[:, None])[0])
    # Mean squares in dB² of what is left, as they are named, exchanged, and without a comb.
    if min(as_named, exchanged) < BETTER_BY * min(max(as_named, exchanged), without):
        return exchanged < as_named
    return None


def _differences(
    plucks: pd.DataFrame, tuning: Sequence[str]
) -> list[tuple[FloatArray, NDArray[np.intp], FloatArray, FloatArray]]:
    """Median over the plucks of each note: level difference, note, log2 of kHz, n over sounding."""
    two = plucks[plucks["note"].fillna("").astype(str) != ""]
    sides = [
        two[two["output"] == output].set_index(["file", "pluck"])
        for output in ("magnetic", "piezo")
    ]
    both = sides[0].index.intersection(sides[1].index)
    if both.empty:
        return []
    magnetic, piezo = (side.loc[both] for side in sides)
    levels = numbers(magnetic, list(PARTIAL_LEVELS)) - numbers(piezo, list(PARTIAL_LEVELS))
    f0 = numbers(magnetic, ["f0_hz"])[:, 0]
    found: list[tuple[FloatArray, NDArray[np.intp], FloatArray, FloatArray]] = []
    names = magnetic["note"].astype(str).to_numpy()
    strings = numbers(magnetic, ["string"])[:, 0]
    for name, string in dict.fromkeys(zip(names.tolist(), strings.tolist(), strict=True)):
        of = (names == name) & (strings == string)  # an unknown string (NaN) is like none
        share = sounding_share(name, int(string), tuning) if of.any() else None
        if share is None or not np.isfinite(f0[of]).any():
            continue
        enough = np.isfinite(levels[of]).any(axis=0)
        middle = np.nanmedian(levels[of][:, enough], axis=0)
        n = _ORDER[enough]
        log2_hz = np.log2(float(np.nanmedian(f0[of])) * n / 1000.0)
        index = np.full(n.size, len(found), dtype=np.intp)
        found.append((middle, index, log2_hz, n / share))
    return found
