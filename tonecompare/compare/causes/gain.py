"""Gain or pad: if the hiss moved by as much as the level did, the gain moved, not the pickup.

Hiss at the interface's input passes the same gain as the strings. A voice whose hiss moved, and
whose level moved with it by the same amount, shows a gain; voices that agree show it for the whole
comparison. Intervals of ``level - hiss`` come from the two intervals by the square-and-add rule
(method of variance estimates recovery, Zou & Donner, Stat. Med. 27 (2008) 1693-1702; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.difference.statistics import ALPHA, holm
from tonecompare.compare.model import Confound
from tonecompare.measure.model import Measurements
from tonecompare.quantities.moved_by import BY_GAIN
from tonecompare.session.model import Session

#: Level and hiss that agree this closely moved together: half the hearing threshold of level.
SAME_WITHIN_DB = 0.5
#: Hiss wanders by a tenth of a decibel by itself; less than this is not called a gain.
LEAST_GAIN_DB = 0.3


@dataclass(frozen=True)
class _Moved:
    """Level and hiss of one voice and output, each (difference, low, high)."""

    voice: str
    output: str
    level: tuple[float, float, float]
    hiss: tuple[float, float, float]
    hiss_p: float

    @property
    def together(self) -> bool:
        """Whether level and hiss moved by the same amount as far as the takes can tell."""
        difference, low, high = _minus(self.level, self.hiss)
        return (low <= 0.0 <= high) or abs(difference) <= SAME_WITHIN_DB


def find_gain(
    session: Session, measurements: Measurements, differences: pd.DataFrame
) -> ConfoundFindings:
    """Test every comparison for a gain that moved between the stages.

    Voices whose hiss moved alike are tested together, others one by one (Holm over the voices).
    """
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for comparison in differences["comparison"].unique():
        table = differences[differences["comparison"] == comparison]
        voices = list(_moved(table))
        if not voices:
            continue
        name = str(comparison)
        if len(voices) > 1 and _agree(voices):
            gains = voices if _moved_together(voices) else []
            if gains:
                confounds.append(_confound(name, "", _mean([g.hiss for g in gains]), gains))
        else:
            p = holm([moved.hiss_p for moved in voices])
            gains = [
                v
                for v, p_hiss in zip(voices, p, strict=True)
                if p_hiss < ALPHA and v.together and abs(v.hiss[0]) >= LEAST_GAIN_DB
            ]
            confounds.extend(
                _confound(name, g.voice, g.hiss, [g], output=g.output, several=_several(g, voices))
                for g in gains
            )
        if not gains:
            confounds.append(_not_found(name, table))
        for gain in gains:
            adjustments.extend(_adjusted(table, name, gain))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def _moved(table: pd.DataFrame) -> Iterator[_Moved]:
    rows = table[(table["note"] == "all") & table["quantity"].isin(["level_dbfs", "hiss_dbfs"])]
    for (voice, output), group in rows.groupby(["voice", "output"], sort=False):
        by_quantity = {row["quantity"]: row for _, row in group.iterrows()}
        if len(by_quantity) < 2:
            continue
        level, hiss = _numbers(by_quantity["level_dbfs"]), _numbers(by_quantity["hiss_dbfs"])
        p = float(by_quantity["hiss_dbfs"]["p_value"])
        if np.isfinite([*level, *hiss, p]).all():
            yield _Moved(str(voice), str(output), level, hiss, p)


def _moved_together(voices: list[_Moved]) -> bool:
    """Whether the voices' mean hiss moved, and the level with it in at least half of them."""
    gain_db, low, high = _mean([voice.hiss for voice in voices])
    if abs(gain_db) < LEAST_GAIN_DB:
        return False
    together = sum(voice.together for voice in voices)
    return not low <= 0.0 <= high and 2 * together >= len(voices)


def _agree(gains: list[_Moved]) -> bool:
    """Whether every voice's hiss moved by as much as their mean, as far as the takes can tell."""
    middle = float(np.mean([gain.hiss[0] for gain in gains]))
    return all(
        gain.hiss[1] <= middle <= gain.hiss[2] or abs(gain.hiss[0] - middle) <= SAME_WITHIN_DB
        for gain in gains
    )


def _confound(
    comparison: str,
    voice: str,
    gain: tuple[float, float, float],
    moved: list[_Moved],
    *,
    output: str = "",
    several: bool = False,
) -> Confound:
    said = f"{voice} ({output})" if several and output else voice
    where = f"of {said} " if voice else "of every voice "
    level = float(np.mean([one.level[0] for one in moved]))
    return Confound(
        comparison,
        voice,
        "gain",
        True,
        gain[0],
        "dB",
        gain[1],
        gain[2],
        max(one.hiss_p for one in moved),
        BY_GAIN,
        f"The hiss {where}moved by {_signed(gain[0])} dB and the level with it "
        f"({_signed(level)} dB): that is what a gain or pad does, not the work.",
        output,
    )


def _several(gain: _Moved, voices: list[_Moved]) -> bool:
    """Whether the voice of a gain has further outputs."""
    return sum(other.voice == gain.voice for other in voices) > 1


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "−")


def _not_found(comparison: str, table: pd.DataFrame) -> Confound:
    hiss = table[table["quantity"] == "hiss_dbfs"]
    controlled = bool(hiss["control_difference"].notna().any())
    return Confound(
        comparison,
        "",
        "gain",
        False,
        None,
        "dB",
        None,
        None,
        None,
        BY_GAIN,
        f"No sign of a moved gain{' beyond the drift of the control' if controlled else ''}: the "
        "hiss did not move together with the level.",
    )


def _adjusted(table: pd.DataFrame, comparison: str, gain: _Moved) -> Iterator[Adjustment]:
    rows = table[
        (table["voice"] == gain.voice)
        & (table["output"] == gain.output)
        & table["quantity"].isin(BY_GAIN)
        & (table["quantity"] != "hiss_dbfs")
    ]
    for _, row in rows.iterrows():
        difference, low, high = _minus(_numbers(row), gain.hiss)
        if np.isfinite(difference):
            yield Adjustment(
                comparison,
                gain.voice,
                gain.output,
                str(row["note"]),
                str(row["quantity"]),
                "dB",
                difference,
                low,
                high,
                "gain",
            )


def _numbers(row: pd.Series) -> tuple[float, float, float]:
    return float(row["difference"]), float(row["ci_low"]), float(row["ci_high"])


def _minus(
    one: tuple[float, float, float], other: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Difference of two estimates, its interval by squaring and adding the half-widths."""
    value = one[0] - other[0]
    low = value - float(np.hypot(one[0] - one[1], other[2] - other[0]))
    high = value + float(np.hypot(one[2] - one[0], other[0] - other[1]))
    return value, low, high


def _mean(gains: list[tuple[float, float, float]]) -> tuple[float, float, float]:
    value = float(np.mean([gain[0] for gain in gains]))
    half = float(np.sqrt(np.sum([((g[2] - g[1]) / 2.0) ** 2 for g in gains]))) / len(gains)
    return value, value - half, value + half
