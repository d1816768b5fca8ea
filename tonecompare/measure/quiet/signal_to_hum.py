"""How far the notes of a voice stand above its hum."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.measure.measured import Measured
from tonecompare.measure.table import MeasuredSubject

_METHOD = "median level of the plucks over hum"


def with_signal_to_hum(
    plucks: Sequence[MeasuredSubject], quiets: Sequence[MeasuredSubject]
) -> tuple[MeasuredSubject, ...]:
    """Return the quiets with ``signal_to_hum_db``: median level of their channel's plucks over hum.

    The median is that of the plucks that were played, so its uncertainty is that of the one or two
    levels in the middle, not how much the plucks differ; that of the hum is added.

    Parameters
    ----------
    plucks, quiets
        Of one voice at one stage.
    """
    levels: dict[int | None, list[tuple[float, float]]] = {}
    for pluck in plucks:
        if (level := pluck.value("level_dbfs")) is not None:
            sd = pluck.uncertainty("level_dbfs") or 0.0
            levels.setdefault(pluck.subject.channel, []).append((level, sd))
    return tuple(
        quiet.joined(
            {"signal_to_hum_db": _over_hum(quiet, sorted(levels.get(quiet.subject.channel, [])))}
        )
        for quiet in quiets
    )


def _over_hum(quiet: MeasuredSubject, levels: Sequence[tuple[float, float]]) -> Measured:
    hum = quiet.value("hum_dbfs")
    if hum is None or not levels:
        return Measured(None, "dB", method=_METHOD)
    middle = levels[(len(levels) - 1) // 2 : len(levels) // 2 + 1]
    level, sd = (float(np.mean(values)) for values in zip(*middle, strict=True))
    hum_sd = quiet.uncertainty("hum_dbfs") or 0.0
    return Measured(level - hum, "dB", float(np.hypot(sd, hum_sd)), method=_METHOD)
