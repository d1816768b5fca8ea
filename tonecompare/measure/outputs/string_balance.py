"""How far each string stands off a robust line through the others, over the string number.

Levels rise or fall across the strings of a good guitar, so the middle of the others is the wrong
yardstick for a string at or near an edge. The line is that of Theil (1950) and Sen (J. Am. Stat.
Assoc. 63 (1968) 1379): the median of the slopes between all pairs, then the median of what is left.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tonecompare.arrays import FloatArray

#: With fewer other strings than this a slope is not told from their scatter: level line.
FEWEST_FOR_A_SLOPE = 4
#: Fewer strings than this say nothing.
FEWEST_STRINGS = 4
#: From so many others on the furthest is left out of their scatter: it may be weak as well.
FEWEST_FOR_TRIMMING = 5
#: What that takes off a normal scatter, by simulation of five to seven others.
TRIMMED_TO_SD = 1.32


def off_line(
    levels_db: Mapping[int, float], *, level: bool = False
) -> dict[int, tuple[float, float]]:
    """Return each string's distance from the line through the others, and its uncertainty.

    ``s² (1 + 1/n + (x - mean)² / sum (x_i - mean)²)`` is the variance of one string about the line
    through n others (least squares, from memory), s their scatter about it, the furthest of five
    or more left out. So few know their scatter poorly: one in ten is beyond three times it.

    Parameters
    ----------
    levels_db
        Level by string number.
    level
        True for a level line, the middle of the others: where the numbers are no places.

    Returns
    -------
    dict
        (distance in dB, its standard uncertainty in dB) by string; empty with fewer than four.
    """
    if len(levels_db) < FEWEST_STRINGS:
        return {}
    found = {}
    for string, level_db in levels_db.items():
        others = [one for one in levels_db if one != string]
        x = np.array(others, dtype=np.float64)
        y = np.array([levels_db[one] for one in others])
        found[string] = _off(float(string), level_db, x, y, level=level)
    return found


def _off(
    at: float, level_db: float, x: FloatArray, y: FloatArray, *, level: bool
) -> tuple[float, float]:
    n = x.size
    slope, taken, leverage = 0.0, 1, 0.0
    if n >= FEWEST_FOR_A_SLOPE and not level:
        one, other = np.triu_indices(n, 1)
        slope = float(np.median((y[other] - y[one]) / (x[other] - x[one])))
        taken = 2
        leverage = float((at - x.mean()) ** 2 / np.square(x - x.mean()).sum())
    start = float(np.median(y - slope * x))
    left = np.sort(np.abs(y - start - slope * x))
    scatter = float(np.sqrt(np.square(left).sum() / (n - taken)))
    if n >= FEWEST_FOR_TRIMMING:
        trimmed = np.square(left[:-1]).sum() / (n - 1 - taken)
        scatter = TRIMMED_TO_SD * float(np.sqrt(trimmed))
    return level_db - start - slope * at, float(scatter * np.sqrt(1.0 + 1.0 / n + leverage))
