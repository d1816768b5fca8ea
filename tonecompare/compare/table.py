"""From blocks and verdicts to the rows of ``differences.csv``."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.compare.block import Block
from tonecompare.compare.quantities import QUANTITIES, Quantity
from tonecompare.compare.thresholds import threshold_of
from tonecompare.compare.verdicts import Verdicts
from tonecompare.measure.columns import DIFFERENCES
from tonecompare.session.model import ComparisonSpec

FloatArray = NDArray[np.float64]

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
    block: Block,
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
    parts = [
        _rows_of_unit(block, p_adjusted, verdicts, specs, quantity, index, unit)
        for index, quantity in enumerate(QUANTITIES)
        for unit in quantity.units
        if (block.quantity == index).any()
    ]
    table = pd.concat(parts).sort_values(["_row", "_unit"], kind="stable")
    return table.loc[:, list(_columns())].reset_index(drop=True)


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


def _rows_of_unit(
    block: Block,
    p_adjusted: FloatArray,
    verdicts: Verdicts,
    specs: Mapping[str, ComparisonSpec],
    quantity: Quantity,
    index: int,
    unit: str,
) -> pd.DataFrame:
    rows = np.flatnonzero(block.quantity == index)

    def shown(values: FloatArray) -> FloatArray:
        return quantity.from_scale(values[rows], unit=unit)

    low, high = block.estimate.interval()
    raw_low, raw_high = block.raw.interval()
    controlled = np.isfinite(block.control_difference[rows])

    def raw(values: FloatArray) -> FloatArray:
        return np.where(controlled, shown(values), np.nan)

    difference = shown(block.difference)
    band_low, band_high = shown(verdicts.threshold_low), shown(verdicts.threshold_high)
    columns: dict[str, object] = {
        "_row": rows,
        "_unit": quantity.units.index(unit),
        "comparison": block.comparison[rows],
        "before": [specs[name].before for name in block.comparison[rows]],
        "after": [specs[name].after for name in block.comparison[rows]],
        "voice": block.voice[rows],
        "output": block.output[rows],
        "note": block.note[rows],
        "quantity": quantity.column,
        "unit": unit,
        "before_value": quantity.value(block.mean_before[rows]),
        "after_value": quantity.value(block.mean_after[rows]),
        "difference": difference,
        "ci_low": shown(low),
        "ci_high": shown(high),
        "n_before": block.n_before[rows].astype(np.int64),
        "n_after": block.n_after[rows].astype(np.int64),
        "p_value": block.estimate.p_value[rows],
        "p_adjusted": p_adjusted[rows],
        "hearing_threshold": np.abs(np.where(difference < 0.0, band_low, band_high)),
        "verdict": verdicts.verdict[rows],
        "reason": verdicts.reason[rows],
        "family": quantity.family,
        "label": quantity.label,
        "n_notes": block.n_notes[rows].astype(np.int64),
        "threshold_low": band_low,
        "threshold_high": band_high,
        "more_plucks": np.where(
            np.isfinite(verdicts.more_plucks[rows]), verdicts.more_plucks[rows], np.nan
        ),
        "raw_difference": raw(block.raw_difference),
        "raw_ci_low": raw(raw_low),
        "raw_ci_high": raw(raw_high),
        "control_difference": shown(block.control_difference),
        "difference_adjusted": np.nan,
        "ci_low_adjusted": np.nan,
        "ci_high_adjusted": np.nan,
        "adjusted_for": "",
    }
    return pd.DataFrame(columns)
