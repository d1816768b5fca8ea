"""From the rows on their analysis scales to those of ``differences.csv``."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.thresholds import threshold_of
from tonecompare.quantities.columns import DIFFERENCES
from tonecompare.quantities.compared import QUANTITIES

#: Columns after those of the contract.
EXTRA = (
    "family",
    "label",
    "n_notes",
    "threshold_low",
    "threshold_high",
    "more_plucks",
    "raw_difference",
    "raw_ci_low",
    "raw_ci_high",
    "control_difference",
    "difference_adjusted",
    "ci_low_adjusted",
    "ci_high_adjusted",
    "adjusted_for",
)


def to_frame(table: DifferenceRows) -> pd.DataFrame:
    """Return the table of differences as people read it: columns of the contract, then EXTRA.

    Numbers leave the analysis scale here and nowhere else. ``threshold_low`` and
    ``threshold_high`` are the ends of the unheard band in ``unit``, ``hearing_threshold`` the
    magnitude on the side to which the difference points. The ``raw_…`` columns hold the difference
    as recorded where the control or a cause (``adjusted_for``) was taken out of it; the
    ``…_adjusted`` ones hold it with a stage's drift allowed for.

    Parameters
    ----------
    table
        Judged rows.

    Returns
    -------
    pandas.DataFrame
        A row per row and unit; ``reason`` holds :class:`tonecompare.compare.reasons.Reason`.
    """
    if len(table) == 0:
        return pd.DataFrame({name: pd.Series(dtype=_dtype(name)) for name in _columns()})
    rows, units = _rows_and_units(table)
    of = table.quantity[rows]
    raw_low, raw_high = table.interval_of(table.raw)

    def shown(values: FloatArray) -> FloatArray:
        return _in_unit(values[rows], of, units)

    def raw(values: FloatArray) -> FloatArray:
        moved = np.array([bool(kinds) for kinds in table.adjusted_for[rows]], dtype=bool)
        taken = np.isfinite(table.control_difference[rows]) | moved
        return np.where(taken, shown(values), np.nan)

    difference = shown(table.difference)
    band = shown(table.threshold_low), shown(table.threshold_high)
    columns: dict[str, object] = {
        "comparison": table.comparison[rows],
        "before": table.before[rows],
        "after": table.after[rows],
        "voice": table.voice[rows],
        "output": table.output[rows],
        "note": table.note[rows],
        "quantity": table.column[rows],
        "unit": units,
        "before_value": _own(table.mean_before[rows], of),
        "after_value": _own(table.mean_after[rows], of),
        "difference": difference,
        "ci_low": shown(table.ends[0]),
        "ci_high": shown(table.ends[1]),
        "n_before": table.n_before[rows].astype(np.int64),
        "n_after": table.n_after[rows].astype(np.int64),
        "p_value": table.p_value[rows],
        "p_adjusted": table.p_adjusted[rows],
        "hearing_threshold": np.abs(np.where(difference < 0.0, *band)),
        "verdict": table.verdict[rows],
        "reason": table.reason[rows],
        "family": _words(of, [quantity.family for quantity in QUANTITIES]),
        "label": _words(of, [quantity.label for quantity in QUANTITIES]),
        "n_notes": table.n_notes[rows].astype(np.int64),
        "threshold_low": band[0],
        "threshold_high": band[1],
        "more_plucks": table.more_plucks[rows],
        "raw_difference": raw(table.raw_difference),
        "raw_ci_low": raw(raw_low),
        "raw_ci_high": raw(raw_high),
        "control_difference": shown(table.control_difference),
        "difference_adjusted": shown(table.adjusted),
        "ci_low_adjusted": shown(table.adjusted_low),
        "ci_high_adjusted": shown(table.adjusted_high),
        "adjusted_for": pd.Series(list(table.adjusted_for[rows]), dtype="object"),
    }
    return pd.DataFrame(columns)


def _rows_and_units(table: DifferenceRows) -> tuple[NDArray[np.intp], NDArray[np.object_]]:
    """Repeat a row for each further unit its difference is shown in, right after it."""
    count = np.array([len(quantity.units) for quantity in QUANTITIES])[table.quantity]
    rows = np.repeat(np.arange(len(table)), count)
    units = [unit for index in table.quantity for unit in QUANTITIES[index].units]
    return rows, np.array(units, dtype=np.object_)


def _in_unit(values: FloatArray, of: NDArray[np.intp], units: NDArray[np.object_]) -> FloatArray:
    """Turn differences on the analysis scale into their rows' units."""
    shown = values.copy()
    ratio = np.array([quantity.ratio for quantity in QUANTITIES])[of]
    for unit in ("%", "cents"):
        rows = np.flatnonzero(ratio & (units == unit))
        if rows.size:
            shown[rows] = QUANTITIES[of[rows[0]]].from_scale(values[rows], unit=unit)
    return shown


def _own(means: FloatArray, of: NDArray[np.intp]) -> FloatArray:
    ratio = np.array([quantity.ratio for quantity in QUANTITIES])[of]
    return np.where(ratio, np.exp(np.where(ratio, means, 0.0)), means)


def _words(of: NDArray[np.intp], words: list[str]) -> NDArray[np.object_]:
    return np.array(words, dtype=np.object_)[of]


def thresholds_table(overrides: Mapping[str, float]) -> pd.DataFrame:
    """Return the hearing thresholds in use, a row per compared quantity that has one."""
    rows = []
    for quantity in QUANTITIES:
        threshold = threshold_of(quantity, overrides=overrides)
        if threshold is not None:
            rows.append(
                {
                    "quantity": quantity.column,
                    "label": quantity.label,
                    "below": threshold.below,
                    "above": threshold.above,
                    "unit": threshold.unit,
                    "source": threshold.source,
                    "sure": threshold.sure,
                }
            )
    return pd.DataFrame(rows)


def _columns() -> tuple[str, ...]:
    return (*DIFFERENCES, *EXTRA)


def _dtype(name: str) -> str:
    words = {"comparison", "before", "after", "voice", "output", "note", "quantity", "unit"}
    words |= {"verdict", "reason", "family", "label", "adjusted_for"}
    return "object" if name in words else "float64"
