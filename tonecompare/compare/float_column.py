"""A column of a table as floating-point numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray


def float_column(frame: pd.DataFrame, name: str) -> FloatArray:
    """Return a column, NaN where it is empty, no number or absent, as an array of its own."""
    if name not in frame.columns:
        return np.full(len(frame), np.nan)
    column = frame[name]
    if column.dtype == np.float64:
        return column.to_numpy(copy=True)
    return pd.to_numeric(column, errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)
