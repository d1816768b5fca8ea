"""Simulated tables of plucks and quiet stretches, for calibrating the statistics without audio.

Three layers of scatter, each its own draw:

- from pluck to pluck of one note (the registry's ``spread``): the spreads seen on
  real takes of one player, same note and dynamic. Half of the variance is common to the quantities
  of a pluck (three directions in which a hand can vary), half is each quantity's own;
- from one hand position to the next, shared by all plucks of a note in one session: for each
  quantity a share of the former between 0 and twice ``note_share`` (assumed; one draw a session);
- from session to session, shared by all notes and voices: ``session``, nothing unless given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Measurements
from tonecompare.quantities.columns import MEASUREMENTS, QUIET
from tonecompare.quantities.compared import Quantity, pluck_quantities, quiet_quantities, spread_of
from tonecompare.quantities.octave_bands import BAND_DECAYS
from tonecompare.session.model import STANDARD_TUNING, ComparisonSpec, Session, Stage

SHAPES = ("normal", "skewed", "outlier")

#: How many directions the hand varies in, and their share of the variance.
_HAND_DIRECTIONS = 3
_HAND_SHARE = 0.5
#: Standard deviation from stretch to stretch of a quiet quantity in dB (assumed).
STRETCH_SD_DB = 0.2

#: Values around which plucks scatter, in the columns' own units.
_CENTRE = {
    "level_dbfs": -20.0,
    "centroid_hz": 900.0,
    "tilt_db_per_octave": -6.0,
    "odd_even_db": 3.0,
    "tristimulus_1": 0.35,
    "tristimulus_2": 0.37,
    "tristimulus_3": 0.28,
    "attack_ms": 8.0,
    "cents": 0.0,
    "inharmonicity": 1e-4,
    "pluck_point": 0.2,
}


@dataclass(frozen=True)
class Scatter:
    """How much a simulated session scatters.

    ``shape`` is the distribution from pluck to pluck: "normal", "skewed" (exponential, shifted
    to mean 0) or "outlier" (normal, and one pluck in each stage and voice 5 standard deviations
    off in everything).
    """

    repeats: int = 5
    stretches: int = 2
    shape: str = "normal"
    note_share: float = 0.3
    notes: tuple[str, ...] = STANDARD_TUNING
    voices: tuple[str, ...] = ("bridge", "middle", "neck")
    #: Shift of a whole stage, {stage: {column: shift on the analysis scale}}.
    session: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def _of_notes() -> tuple[Quantity, ...]:
    """Quantities that single notes have; the decays of bands are those of chords."""
    return tuple(q for q in pluck_quantities() if q.column not in BAND_DECAYS)


def pluck_sd(quantity: Quantity) -> float:
    """Return the standard deviation from pluck to pluck of a quantity, on its analysis scale."""
    return spread_of(quantity.column)


def simulated_session(
    rng: np.random.Generator,
    scatter: Scatter,
    *,
    effects: Mapping[str, float] | None = None,
    control: bool = False,
) -> tuple[Session, Measurements]:
    """Return a session of two stages, before and after, and its simulated measurements.

    Parameters
    ----------
    rng
        Source of all randomness.
    scatter
        Repeats and spreads.
    effects
        What the work changed, {column: shift on the analysis scale}, the same on every note and
        voice. A shift of 1 dB is 1.0, one of 5 % is ``ln 1.05``.
    control
        Add an unchanged instrument with the same two sessions' shifts.
    """
    stages = {"before": "before", "after": "after"}
    if control:
        stages |= {"control-before": "before", "control-after": "after"}
    plucks, quiet = [], []
    note_share = 2.0 * scatter.note_share * rng.random(len(_of_notes()))
    for stage, when in stages.items():
        shift = dict(scatter.session.get(when, {}))
        if stage == "after":
            for column, size in (effects or {}).items():
                shift[column] = shift.get(column, 0.0) + size
        plucks.append(_plucks(rng, scatter, stage, shift, note_share))
        quiet.append(_quiet(rng, scatter, stage, shift))
    spec = ComparisonSpec("before", "after", *(("control-before", "control-after") * control))
    session = Session(
        "simulated",
        Path(),
        {
            name: Stage(name, "control" if name.startswith("control") else "guitar", Path(name))
            for name in stages
        },
        (),
        comparisons=(spec,),
    )
    return session, Measurements(
        pd.concat(plucks, ignore_index=True), pd.concat(quiet, ignore_index=True), pd.DataFrame()
    )


class _HandScatter:
    """Draws scatter of mean 0 and standard deviation 1, partly common to the quantities."""

    def __init__(self, rng: np.random.Generator, shape: str, quantities: int) -> None:
        self._rng, self._skewed = rng, shape == "skewed"
        mixing = rng.standard_normal((_HAND_DIRECTIONS, quantities))
        self._mixing = mixing / np.sqrt((mixing**2).sum(axis=0))

    def draw(self, size: tuple[int, ...]) -> FloatArray:
        """Return (*size, quantities)."""
        common = self._unit((*size, _HAND_DIRECTIONS)) @ self._mixing
        own = self._unit((*size, self._mixing.shape[1]))
        mixed = np.sqrt(_HAND_SHARE) * common + np.sqrt(1.0 - _HAND_SHARE) * own
        return np.asarray(mixed, dtype=np.float64)

    def _unit(self, size: tuple[int, ...]) -> FloatArray:
        if self._skewed:
            return self._rng.exponential(size=size) - 1.0
        return self._rng.standard_normal(size)


def _plucks(
    rng: np.random.Generator,
    scatter: Scatter,
    stage: str,
    shift: Mapping[str, float],
    note_share: FloatArray,
) -> pd.DataFrame:
    quantities = _of_notes()
    sd = np.array([pluck_sd(quantity) for quantity in quantities])
    moved = np.array([shift.get(quantity.column, 0.0) for quantity in quantities])
    centre = np.array([_centre(quantity) for quantity in quantities])
    voices, notes, repeats = len(scatter.voices), len(scatter.notes), scatter.repeats
    hand = _HandScatter(rng, scatter.shape, len(quantities))
    own = hand.draw((voices, notes, repeats))
    if scatter.shape == "outlier":
        for voice in range(voices):
            own[voice, rng.integers(notes), rng.integers(repeats)] += rng.choice([-5.0, 5.0])
    own += note_share * hand.draw((voices, notes, 1))
    values = centre + moved + sd * own
    flat = values.reshape(-1, len(quantities))
    frame = pd.DataFrame(
        {quantity.column: quantity.value(flat[:, i]) for i, quantity in enumerate(quantities)}
    )
    index = np.indices((voices, notes, repeats)).reshape(3, -1)
    frame["stage"] = stage
    frame["voice"] = np.array(scatter.voices, dtype=object)[index[0]]
    frame["output"] = "magnetic"
    frame["channel"] = 1
    frame["note"] = np.array(scatter.notes, dtype=object)[index[1]]
    frame["file"] = stage + "/" + frame["voice"] + ".wav"
    frame["pluck"] = index[1] * repeats + index[2] + 1
    return _with_columns(frame, MEASUREMENTS)


def _centre(quantity: Quantity) -> float:
    if quantity.family == "partials":
        return -12.0
    if quantity.family == "decay":
        return float(np.log(6.0))
    return float(quantity.to_scale(_CENTRE.get(quantity.column, 1.0 if quantity.ratio else 0.0)))


def _quiet(
    rng: np.random.Generator, scatter: Scatter, stage: str, shift: Mapping[str, float]
) -> pd.DataFrame:
    quantities = quiet_quantities()
    rows = [(voice, k) for voice in scatter.voices for k in range(scatter.stretches)]
    moved = np.array([shift.get(quantity.column, 0.0) for quantity in quantities])
    values = moved - 70.0 + STRETCH_SD_DB * rng.standard_normal((len(rows), len(quantities)))
    frame = pd.DataFrame(values, columns=[quantity.column for quantity in quantities])
    for quantity in quantities:
        frame[f"{quantity.column}_se"] = STRETCH_SD_DB
    frame["stage"] = stage
    frame["voice"] = [voice for voice, _ in rows]
    frame["output"] = "magnetic"
    frame["channel"] = 1
    frame["file"] = [f"{stage}/{voice}.wav" for voice, _ in rows]
    frame["start_s"] = [20.0 * k for _, k in rows]
    return _with_columns(frame, QUIET)


def _with_columns(frame: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    """Return the frame with every column of the contract, then its others; nothing flagged."""
    extra = [name for name in frame.columns if name not in columns]
    return frame.reindex(columns=[*columns, *extra]).assign(flags=[()] * len(frame))
