"""Drift within a stage: its first voice recorded once more at the end, nothing done in between.

The two recordings are compared exactly as two stages are; what differs between them is the hand,
the strings, the player's place. It is a repeat of a whole recording, which no number of plucks
within one recording can stand for: a hand that sits elsewhere moves all of them together.

Such a repeat is one number per quantity. How far whole recordings of one state scatter is judged
from all the repeats that a comparison has (one a stage at most), so few that they are weighed
together with an assumption:

    c = max(0, sum_k (d_k² - se_k²) + 4 * 2 s²) / (K + 4),   K + 4 degrees of freedom,

with ``d_k`` the drifts of the K stages, ``se_k`` what their plucks alone explain, and ``s`` the
standard deviation from pluck to pluck: a whole recording is *assumed* to wander as much as a
single pluck does, and this counts like four repeats. ``c`` is the variance it adds to the
difference of two recordings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tonecompare.compare.cause_facts import MovedFacts
from tonecompare.compare.difference.difference_rows import ALL_NOTES, DifferenceRows
from tonecompare.compare.difference.stage_differences import stage_block
from tonecompare.compare.difference.statistics import ALPHA, Estimate, holm
from tonecompare.compare.reasons import ONE_NOTE
from tonecompare.compare.thresholds import band_on_scale, threshold_of
from tonecompare.measure.model import Measurements
from tonecompare.quantities.compared import QUANTITIES, Quantity
from tonecompare.session.model import AGAIN, Session

#: What a stage is to hold still, in the order it is told.
HELD = ("level_dbfs", "centroid_hz", "decay_s", "cents", "hum_dbfs")
#: How many repeats the assumed wander of whole recordings is worth.
ASSUMED_DF = 4.0

DRIFT = (
    "stage", "voice", "output", "quantity", "label", "unit", "difference", "ci_low", "ci_high",
    "n_first", "n_again", "n_notes", "p_value", "p_adjusted", "threshold_low", "threshold_high",
    "drift",
)  # fmt: skip


@dataclass(frozen=True)
class Drift:
    """How one quantity of a voice moved from the first recording to the one at the end.

    ``difference``, ``se``, ``half`` (of the 95 % interval) and ``wander_variance`` (twice the
    variance from pluck to pluck) are on the quantity's analysis scale. ``p_adjusted`` is Holm's
    over the quantities of :data:`HELD` of the stage, NaN for the others. ``low`` and ``high`` are
    the hearing threshold, NaN where none is known.
    """

    stage: str
    voice: str
    output: str
    quantity: Quantity
    difference: float
    se: float
    half: float
    p_value: float
    p_adjusted: float
    low: float
    high: float
    wander_variance: float
    n_first: int
    n_again: int
    n_notes: int

    @property
    def shown(self) -> bool:
        """Whether the plucks cannot explain it."""
        return bool(self.p_adjusted < ALPHA)

    @property
    def beyond(self) -> bool:
        """Whether it passes the hearing threshold."""
        return bool(self.difference < self.low or self.difference > self.high)

    @property
    def word(self) -> str:
        """``moved-beyond-threshold``, ``moved``, ``held`` or ``undecided``.

        ``held``: not shown, and the whole interval lies inside the hearing threshold.
        """
        if self.shown:
            return "moved-beyond-threshold" if self.beyond else "moved"
        inside = self.difference - self.half > self.low and self.difference + self.half < self.high
        return "held" if inside else "undecided"

    @property
    def facts(self) -> MovedFacts:
        """How it moved, in the quantity's unit."""
        ends = (self.difference, self.difference - self.half, self.difference + self.half)
        moved, low, high = (float(self.quantity.from_scale(end)) for end in ends)
        return MovedFacts(
            self.stage, self.voice, self.output, self.quantity.column, moved, low, high,
            self.quantity.units[0],
        )  # fmt: skip


def first_recordings(measurements: Measurements) -> Measurements:
    """Return the measurements without the recordings that repeat a voice of their stage.

    A voice "bridge-again" of a stage that has a "bridge" is no voice of its own.
    """
    there = _voices(measurements)
    repeats = {key for key in there if (key[0], key[1].removesuffix(AGAIN)) in there - {key}}
    if not repeats:
        return measurements

    def without(table: pd.DataFrame) -> pd.DataFrame:
        if not len(table):
            return table
        keys = zip(table["stage"].astype(str), table["voice"].astype(str), strict=True)
        return table[[key not in repeats for key in keys]].reset_index(drop=True)

    return replace(
        measurements,
        plucks=without(measurements.plucks),
        quiet=without(measurements.quiet),
        blend=without(measurements.blend),
        voices=without(measurements.voices),
        blends={k: v for k, v in measurements.blends.items() if k not in repeats},
        bands={k: v for k, v in measurements.bands.items() if k[:2] not in repeats},
    )


def find_drifts(session: Session, measurements: Measurements) -> tuple[Drift, ...]:
    """Return the drift of every stage that repeats a voice, for every quantity over its notes.

    Quantities that were not measured in both recordings, or not often enough to give an interval,
    are left out.
    """
    there = _voices(measurements)
    pairs = [
        (stage, voice)
        for stage, voice in sorted(there)
        if voice.endswith(AGAIN) and (stage, voice.removesuffix(AGAIN)) in there
    ]
    order = {name: place for place, name in enumerate(session.stages)}
    pairs.sort(key=lambda pair: order.get(pair[0], len(order)))
    found: list[Drift] = []
    for stage, again in pairs:
        block = _block(measurements, stage, again.removesuffix(AGAIN), again)
        found += _drifts(session, stage, block)
    return tuple(found)


def _voices(measurements: Measurements) -> set[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    for table in (measurements.plucks, measurements.quiet):
        if len(table):
            found |= set(zip(table["stage"].astype(str), table["voice"].astype(str), strict=True))
    return found


def _block(measurements: Measurements, stage: str, first: str, again: str) -> DifferenceRows:
    """Compare the two recordings of a voice as if they were two stages."""

    def renamed(table: pd.DataFrame) -> pd.DataFrame:
        rows = table[(table["stage"] == stage) & table["voice"].isin([first, again])]
        return rows.assign(stage=rows["voice"], voice=first)

    both = replace(
        measurements, plucks=renamed(measurements.plucks), quiet=renamed(measurements.quiet)
    )
    return stage_block(stage, first, again, both)


def _drifts(session: Session, stage: str, block: DifferenceRows) -> list[Drift]:
    judged = (block.note == ALL_NOTES) & np.isin(block.unjudged, ["", ONE_NOTE])
    rows = np.flatnonzero(judged & np.isfinite(block.difference) & np.isfinite(block.se))
    # Few notes that happen to agree must not claim to know more than their plucks do.
    floor = np.sqrt(np.where(np.isfinite(block.repeat_variance), block.repeat_variance, 0.0))
    estimate = Estimate(block.difference, np.fmax(block.se, floor), block.df)
    p = Estimate(block.difference, np.fmax(block.test_se, floor), block.test_df).p_value
    half = estimate.half_width()
    told = np.array([QUANTITIES[block.quantity[row]].column in HELD for row in rows], dtype=bool)
    adjusted = np.full(len(block), np.nan)
    adjusted[rows[told]] = holm(p[rows[told]])
    found = []
    for row in rows.tolist():
        quantity = QUANTITIES[block.quantity[row]]
        threshold = threshold_of(quantity, overrides=session.hearing_thresholds)
        low, high = band_on_scale(quantity, threshold) if threshold else (np.nan, np.nan)
        repeats = block.n_before[row] + block.n_after[row]
        found.append(
            Drift(
                stage,
                str(block.voice[row]),
                str(block.output[row]),
                quantity,
                float(block.difference[row]),
                float(estimate.se[row]),
                float(half[row]),
                float(p[row]),
                float(adjusted[row]),
                float(low),
                float(high),
                # The plucks explain 2 s²/(n notes) with n a side; repeats = 2 n notes.
                float(block.repeat_variance[row] * repeats / 2.0),
                int(block.n_before[row]),
                int(block.n_after[row]),
                int(block.n_notes[row]),
            )
        )
    return found


def between_recordings(drifts: Iterable[Drift]) -> tuple[float, float]:
    """Return the variance that whole recordings add to a difference, and its degrees of freedom.

    ``drifts`` are those of one quantity, at least one; several outputs of a stage count as one.
    """
    stages: dict[str, list[Drift]] = {}
    for one in drifts:
        stages.setdefault(one.stage, []).append(one)
    excess = [float(np.mean([d.difference**2 - d.se**2 for d in of])) for of in stages.values()]
    wander = [d.wander_variance for of in stages.values() for d in of]
    freedom = len(excess) + ASSUMED_DF
    assumed = ASSUMED_DF * float(np.nanmean(wander))
    return max((sum(excess) + assumed) / freedom, 0.0), freedom


def drift_table(drifts: Iterable[Drift]) -> pd.DataFrame:
    """Return the drifts as a table, columns of :data:`DRIFT`, numbers in ``unit``."""
    rows = []
    for one in drifts:
        quantity = one.quantity
        facts = one.facts
        rows.append(
            (
                one.stage, one.voice, one.output, quantity.column, quantity.label,
                facts.unit, facts.moved, facts.low, facts.high, one.n_first,
                one.n_again, one.n_notes, one.p_value, one.p_adjusted,
                *(float(quantity.from_scale(x)) for x in (one.low, one.high)),
                one.word if quantity.column in HELD else "",
            )
        )  # fmt: skip
    return pd.DataFrame(rows, columns=list(DRIFT))


def by_stage(drifts: Iterable[Drift]) -> Mapping[str, tuple[Drift, ...]]:
    """Return the drifts of each stage that has any, in order."""
    found: dict[str, tuple[Drift, ...]] = {}
    for one in drifts:
        found[one.stage] = (*found.get(one.stage, ()), one)
    return found
