"""Gain or pad: if the hiss moved by as much as the level did, the gain moved, not the pickup.

Hiss at the interface's input passes the same gain as the strings. A voice whose hiss moved, and
whose level moved with it by the same amount, shows a gain; voices that agree show it for the whole
comparison. Intervals of ``level - hiss`` come from the two intervals by the square-and-add rule
(method of variance estimates recovery, Zou & Donner, Stat. Med. 27 (2008) 1693-1702; from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from tonecompare.compare.cause_facts import GainFacts
from tonecompare.compare.causes.cause_findings import Adjustment, ConfoundFindings
from tonecompare.compare.causes.rows_to_explain import VoiceRows, by_comparison
from tonecompare.compare.difference.difference_rows import DifferenceRows
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

    rows: VoiceRows
    level: tuple[float, float, float]
    hiss: tuple[float, float, float]
    hiss_p: float

    @property
    def together(self) -> bool:
        """Whether level and hiss moved by the same amount as far as the takes can tell."""
        difference, low, high = _minus(self.level, self.hiss)
        return (low <= 0.0 <= high) or abs(difference) <= SAME_WITHIN_DB


def find_gain(
    session: Session, measurements: Measurements, differences: DifferenceRows
) -> ConfoundFindings:
    """Test every comparison for a gain that moved between the stages.

    Voices whose hiss moved alike are tested together, others one by one (Holm over the voices).
    """
    confounds: list[Confound] = []
    adjustments: list[Adjustment] = []
    for name, of in by_comparison(differences).items():
        voices = list(_moved(of))
        if not voices:
            continue
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
                _confound(name, g.rows.voice, g.hiss, [g], output=g.rows.output) for g in gains
            )
        if not gains:
            confounds.append(_not_found(name, of))
        for gain in gains:
            adjustments.extend(_adjusted(gain))
    return ConfoundFindings(tuple(confounds), tuple(adjustments))


def _moved(voices: Iterable[VoiceRows]) -> Iterator[_Moved]:
    for rows in voices:
        level, hiss = (
            (rows.difference(name), *rows.interval(name)) for name in ("level_dbfs", "hiss_dbfs")
        )
        p = rows.p_value("hiss_dbfs")
        if np.isfinite([*level, *hiss, p]).all():
            yield _Moved(rows, level, hiss, p)


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
) -> Confound:
    level_db = float(np.mean([one.level[0] for one in moved]))
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
        GainFacts(level_db),
        output,
        bool(voice) and moved[0].rows.several,
    )


def _not_found(comparison: str, voices: Iterable[VoiceRows]) -> Confound:
    hiss = [rows.over_notes["hiss_dbfs"] for rows in voices if "hiss_dbfs" in rows.over_notes]
    controlled = any(
        bool(np.isfinite(rows.table.control_difference[hiss]).any()) for rows in voices
    )
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
        GainFacts(controlled=controlled),
    )


def _adjusted(gain: _Moved) -> Iterator[Adjustment]:
    table, places = gain.rows.table, gain.rows.places
    moved = np.isin(table.column[places], BY_GAIN) & (table.column[places] != "hiss_dbfs")
    for row in places[moved].tolist():
        own = tuple(float(values[row]) for values in (table.difference, *table.ends))
        difference, low, high = _minus((own[0], own[1], own[2]), gain.hiss)
        if np.isfinite(difference):
            yield Adjustment(row, difference, low, high, "gain")


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
