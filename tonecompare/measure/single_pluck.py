"""Everything measured of one pluck on one channel, in the order of ``measurements.csv``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tonecompare.measure.decay.decay_time import measure_decay
from tonecompare.measure.decay.energy_curve import DecayCurve
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.model import PluckCurves
from tonecompare.measure.partials.early_row import EARLY
from tonecompare.measure.partials.partial_set import PartialSet, measure_partials_of
from tonecompare.measure.partials.pitch import measure_pitch
from tonecompare.measure.partials.pitch_glide import measure_glide
from tonecompare.measure.pluck.band_decays import measure_band_decays
from tonecompare.measure.pluck.centroid import band_levels, measure_centroid
from tonecompare.measure.pluck.harmonic_balance import measure_harmonics
from tonecompare.measure.pluck.level_and_attack import measure_attack, measure_level
from tonecompare.measure.pluck.octave_bands import BEGINNING, measure_bands_of
from tonecompare.measure.signal import (
    SECOND,
    PluckSignal,
    transformed_together,
)
from tonecompare.units import mean_square_to_dbfs

#: Step and length of the decay curve kept for charts.
CURVE_STEP_S = 0.02
CURVE_LENGTH_S = 8.0
#: What is transformed of several plucks at once: single rows. What has several rows of its own
#: gains nothing by it and no longer stays near the processor.
SEGMENTS = (SECOND, BEGINNING, EARLY)


@dataclass(frozen=True)
class PluckResult:
    """Quantities by column name, the curves for charts, and the partials for later stages."""

    quantities: dict[str, Measured]
    curves: PluckCurves
    partials: PartialSet


def measure_pluck(signal: PluckSignal, *, note: str = "", a4_hz: float = 440.0) -> PluckResult:
    """Measure one pluck.

    Parameters
    ----------
    signal
        The pluck's samples from the onset on, with the quiet's noise.
    note
        Scientific pitch name ("" when none was found).
    a4_hz
        Concert pitch.

    Returns
    -------
    PluckResult
    """
    return measure_plucks((signal,), notes=(note,), a4_hz=a4_hz)[0]


def measure_plucks(
    signals: Sequence[PluckSignal], *, notes: Sequence[str], a4_hz: float = 440.0
) -> list[PluckResult]:
    """Measure some plucks: the same as one by one, but faster."""
    signals = transformed_together(signals, SEGMENTS)
    partials, bands = measure_partials_of(signals), measure_bands_of(signals)
    return [
        _measured(*of_pluck, a4_hz)
        for of_pluck in zip(signals, partials, bands, notes, strict=True)
    ]


def _measured(
    signal: PluckSignal, partials: PartialSet, bands: dict[str, Measured], note: str, a4_hz: float
) -> PluckResult:
    pitch = measure_pitch(partials, f0_hz=signal.f0_hz, note=note, a4_hz=a4_hz)
    harmonics = measure_harmonics(partials)
    if signal.f0_hz is None:
        pitch, harmonics = (_of_no_string(each, signal.no_pitch) for each in (pitch, harmonics))
    quantities = pitch
    quantities |= measure_level(signal)
    quantities |= measure_attack(signal)
    quantities |= measure_centroid(signal, partials)
    quantities |= harmonics
    decay, curve = measure_decay(signal, partials)
    quantities |= decay
    quantities |= measure_glide(partials)
    quantities |= bands
    if signal.is_chord:
        quantities |= measure_band_decays(signal)
    return PluckResult(quantities, _curves(signal, partials, curve), partials)


def _of_no_string(quantities: dict[str, Measured], reason: str) -> dict[str, Measured]:
    """Leave out what one string's partials would say, for one reason."""
    return {name: unmeasured(each.unit, reason) for name, each in quantities.items()}


def _curves(signal: PluckSignal, partials: PartialSet, curve: DecayCurve | None) -> PluckCurves:
    band_hz, band_dbfs = band_levels(signal)
    if curve is None:
        time_s, level_db = np.zeros(0), np.zeros(0)
    else:
        end_s = min(CURVE_LENGTH_S, float(curve.time_s[-1]))
        time_s = np.arange(0.0, max(end_s, CURVE_STEP_S), CURVE_STEP_S)
        level_db = np.interp(time_s, curve.time_s, curve.level_db)
    with np.errstate(invalid="ignore"):
        partial_dbfs = mean_square_to_dbfs(partials.power)
    return PluckCurves(
        band_hz=band_hz,
        band_dbfs=band_dbfs,
        decay_time_s=time_s,
        decay_db=level_db,
        partial_dbfs=partial_dbfs,
    )
