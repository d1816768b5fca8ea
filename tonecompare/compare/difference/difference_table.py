"""From blocks and verdicts to the rows of ``differences.csv``."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.compare.difference.difference_rows import DifferenceRows
from tonecompare.compare.difference.verdicts import Verdicts
from tonecompare.compare.thresholds import threshold_of
from tonecompare.quantities.columns import DIFFERENCES
from tonecompare.quantities.compared import QUANTITIES
from tonecompare.session.model import ComparisonSpec

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


def differences_table(
    block: DifferenceRows,
    p_adjusted: FloatArray,
    verdicts: Verdicts,
    specs: Mapping[str, ComparisonSpec],
) -> pd.DataFrame:
    """Return the differences table: columns of the contract, then :data:`EXTRA`.

    ``threshold_low`` and ``threshold_high`` are the ends of the unheard band in ``unit``,
    ``hearing_threshold`` the magnitude on the side to which the difference points. The
    ``raw_…`` columns hold the difference before the control was taken out and are empty without
    a control; the ``…_adjusted`` ones hold it with a confound taken out, empty without one.
    """
    if len(block) == 0:
        return pd.DataFrame({name: pd.Series(dtype=_dtype(name)) for name in _columns()})
    rows, units = _rows_and_units(block)
    of = block.quantity[rows]
    low, high = block.estimate.interval()
    raw_low, raw_high = block.raw.interval()

    def shown(values: FloatArray) -> FloatArray:
        return _in_unit(values[rows], of, units)

    def raw(values: FloatArray) -> FloatArray:
        return np.where(np.isfinite(block.control_difference[rows]), shown(values), np.nan)

    difference = shown(block.difference)
    band = shown(verdicts.threshold_low), shown(verdicts.threshold_high)
    columns: dict[str, object] = {
        "comparison": block.comparison[rows],
        "before": [specs[name].before for name in block.comparison[rows]],
        "after": [specs[name].after for name in block.comparison[rows]],
        "voice": block.voice[rows],
        "output": block.output[rows],
        "note": block.note[rows],
        "quantity": _words(of, [quantity.column for quantity in QUANTITIES]),
        "unit": units,
        "before_value": _own(block.mean_before[rows], of),
        "after_value": _own(block.mean_after[rows], of),
        "difference": difference,
        "ci_low": shown(low),
        "ci_high": shown(high),
        "n_before": block.n_before[rows].astype(np.int64),
        "n_after": block.n_after[rows].astype(np.int64),
        "p_value": block.test.p_value[rows],
        "p_adjusted": p_adjusted[rows],
        "hearing_threshold": np.abs(np.where(difference < 0.0, *band)),
        "verdict": verdicts.verdict[rows],
        "reason": verdicts.reason[rows],
        "family": _words(of, [quantity.family for quantity in QUANTITIES]),
        "label": _words(of, [quantity.label for quantity in QUANTITIES]),
        "n_notes": block.n_notes[rows].astype(np.int64),
        "threshold_low": band[0],
        "threshold_high": band[1],
        "more_plucks": verdicts.more_plucks[rows],
        "raw_difference": raw(block.raw_difference),
        "raw_ci_low": raw(raw_low),
        "raw_ci_high": raw(raw_high),
        "control_difference": shown(block.control_difference),
        **dict.fromkeys(("difference_adjusted", "ci_low_adjusted", "ci_high_adjusted"), np.nan),
        "adjusted_for": pd.Series([()] * rows.size, dtype="object"),
    }
    return pd.DataFrame(columns)


def _rows_and_units(block: DifferenceRows) -> tuple[NDArray[np.intp], NDArray[np.object_]]:
    """Repeat a row for each further unit its difference is shown in, right after it."""
    count = np.array([len(quantity.units) for quantity in QUANTITIES])[block.quantity]
    rows = np.repeat(np.arange(len(block)), count)
    units = [unit for index in block.quantity for unit in QUANTITIES[index].units]
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
