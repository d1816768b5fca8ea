"""A played passage as a row of its own, before it is laid over others of the same music."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tonecompare.measure.measured import unmeasured
from tonecompare.measure.model import PluckCurves
from tonecompare.measure.partials.partial_set import no_partials
from tonecompare.measure.pluck.centroid import BAND_HZ
from tonecompare.measure.signal import PluckSignal
from tonecompare.measure.single_pluck import PluckResult, measure_pluck

#: Why nothing of one note is measured.
PLAYED = "notes were played one after the other"


def measure_passage(signal: PluckSignal) -> PluckResult:
    """Return the row of a passage before it is laid over others of the same music.

    Only ``peak_dbfs`` holds. Level, bands and brightness are read later, against others of the same
    music (:mod:`tonecompare.measure.played.passages_of_session`); what belongs to one note is left
    out, and the curves are empty.
    """
    found = measure_pluck(replace(signal, f0_hz=None))
    quantities = {
        name: measured if name == "peak_dbfs" else unmeasured(measured.unit, PLAYED)
        for name, measured in found.quantities.items()
    }
    nothing = np.zeros(0)
    partials = no_partials(PLAYED)
    curves = PluckCurves(
        band_hz=BAND_HZ,
        band_dbfs=np.full(BAND_HZ.size, np.nan),
        decay_time_s=nothing,
        decay_db=nothing,
        partial_dbfs=np.full(partials.power.size, np.nan),
    )
    return PluckResult(quantities, curves, partials)
