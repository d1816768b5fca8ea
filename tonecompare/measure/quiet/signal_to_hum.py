"""How far the notes of a voice stand above its hum."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Row = dict[str, object]


def add_signal_to_hum(pluck_rows: Sequence[Row], quiet_rows: Sequence[Row]) -> None:
    """Fill ``signal_to_hum_db`` of each quiet row: median level of its channel's plucks over hum.

    The median is that of the plucks that were played, so its uncertainty is that of the one or two
    levels in the middle, not how much the plucks differ; that of the hum is added.

    Parameters
    ----------
    pluck_rows, quiet_rows
        Rows of one voice at one stage; the quiet rows are completed in place.
    """
    levels: dict[object, list[tuple[float, float]]] = {}
    for row in pluck_rows:
        if isinstance(level := row.get("level_dbfs"), float):
            sd = row.get("level_dbfs_se")
            levels.setdefault(row["channel"], []).append((level, _number(sd)))
    for row in quiet_rows:
        hum, plucks = row.get("hum_dbfs"), sorted(levels.get(row["channel"], []))
        if not isinstance(hum, float) or not plucks:
            row["signal_to_hum_db"] = row["signal_to_hum_db_se"] = None
            continue
        middle = plucks[(len(plucks) - 1) // 2 : len(plucks) // 2 + 1]
        level, sd = (float(np.mean(values)) for values in zip(*middle, strict=True))
        row["signal_to_hum_db"] = level - hum
        row["signal_to_hum_db_se"] = float(np.hypot(sd, _number(row.get("hum_dbfs_se"))))


def _number(value: object) -> float:
    return value if isinstance(value, float) else 0.0
