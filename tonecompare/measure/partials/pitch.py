"""Pitch: the fundamental, from partial 1 and the row of all, and how far it is out of tune."""

from __future__ import annotations

import numpy as np

from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.takes.plucks.note_of_pluck import note_hz
from tonecompare.units import ratio_to_cents

#: The two polarisations of partial 1 beat too slowly to be told apart: what its frequency means is
#: open by this much, as a ratio less 1 (0.2 cents).
POLARISATIONS = 1.16e-4


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
        ``f0_hz`` (frequency of partial 1) and ``cents``.
    """
    if np.isfinite(partials.f0_hz) and partials.f0_hz > 0.0:
        f0 = Measured(*first_partial(partials), method="partial 1 and the row of partials")
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


def first_partial(partials: PartialSet) -> tuple[float, str, float]:
    """Frequency of partial 1 from itself and from the row of all, "Hz", standard uncertainty.

    The mean weighted by the inverse variances. Rows of wound strings lie 1 to 10 cents off their
    own partial 1, and what the two differ by beyond both uncertainties is the row's, so that such
    a row hardly counts; a clean one knows partial 1 better than it is known alone.
    """
    own, own_sd = float(partials.frequency_hz[0]), float(partials.rate_sd[0]) / (2.0 * np.pi)
    row, row_sd = partials.f0_hz, partials.f0_sd_hz
    if not (np.isfinite(own) and np.isfinite(own_sd) and row_sd > 0.0):
        return row, "Hz", row_sd
    own_variance = own_sd**2 + (POLARISATIONS * own) ** 2
    row_variance = max(row_sd**2, (own - row) ** 2 - own_variance)
    weights = 1.0 / np.array([own_variance, row_variance])
    mean = float(weights @ np.array([own, row]) / weights.sum())
    return mean, "Hz", 1.0 / float(np.sqrt(weights.sum()))
