"""Pitch: the fundamental from the row of partials, and its distance from equal temperament."""

from __future__ import annotations

import numpy as np

from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.takes.plucks.note_of_pluck import note_hz
from tonecompare.units import ratio_to_cents


def measure_pitch(
    partials: PartialSet, *, f0_hz: float | None, note: str, a4_hz: float = 440.0
) -> dict[str, Measured]:
    """Fundamental and its deviation from the note's name.

    Parameters
    ----------
    partials
        The pluck's partials.
    f0_hz
        Pitch that named the note, used where the partials give none.
    note
        Scientific pitch name, "" when none was found.
    a4_hz
        Concert pitch.

    Returns
    -------
    dict
        ``f0_hz`` (frequency of partial 1 as the whole row has it) and ``cents``.
    """
    if np.isfinite(partials.f0_hz) and partials.f0_hz > 0.0:
        f0 = Measured(partials.f0_hz, "Hz", partials.f0_sd_hz, method="row of partials")
    elif f0_hz is not None:
        f0 = Measured(f0_hz, "Hz", f0_hz * 0.003, method="periodicity")
    else:
        nothing = "no pitch was found"
        return {"f0_hz": unmeasured("Hz", nothing), "cents": unmeasured("cents", nothing)}
    assert f0.value is not None
    if not note:
        return {"f0_hz": f0, "cents": unmeasured("cents", "the note has no name")}
    cents = float(ratio_to_cents(f0.value / note_hz(note, a4_hz=a4_hz)))
    sd = None if f0.uncertainty is None else f0.uncertainty / f0.value * 1200.0 / np.log(2.0)
    return {"f0_hz": f0, "cents": Measured(cents, "cents", sd, method=f0.method)}
