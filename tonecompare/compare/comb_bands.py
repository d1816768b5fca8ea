"""What the picking place does to the octave bands of a pluck, by the comb of the ideal string.

A band holds partials; each moves by its comb, and the band by what they make of its power. Up to
the 24th their measured levels weigh them. Above it an octave holds so many partials that hardly
their weights matter: they are taken to fall on by 12 dB an octave from the last that was measured.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.pluck.octave_bands import band_response
from tonecompare.quantities.octave_bands import BANDS

#: Partials that are followed: those of the lowest note up to the top of the highest band.
N_FOLLOWED = 144
_ORDER: FloatArray = np.arange(1.0, N_FOLLOWED + 1.0)
#: Power of the upper partials goes with this power of the order: 12 dB an octave.
FALL = 4.0
#: Shares of a partial's power in a band below this do not count.
_LEAST_SHARE = 1e-3


def band_shifts(
    f0_hz: FloatArray,
    partials_db: FloatArray,
    place: FloatArray,
    other_place: FloatArray,
    comb_power: Callable[[FloatArray, FloatArray], FloatArray],
) -> FloatArray:
    """Return by how much each octave band moves when the pick moves from one place to another.

    Parameters
    ----------
    f0_hz, place, other_place
        (rows,) fundamental, picking place as it was and as it is to be, shares of the length.
    partials_db
        (rows, 24) levels of the partials, NaN where unmeasured.
    comb_power
        Power of a comb from orders and places.

    Returns
    -------
    ndarray
        (rows, 8) dB, NaN where no partial lies in the band or something is not known.
    """
    comb = comb_power(_ORDER, place)
    power = _followed(partials_db, comb)
    ratio = comb_power(_ORDER, other_place) / comb
    frequency_hz = f0_hz[:, np.newaxis] * _ORDER
    shifts = np.full((f0_hz.size, len(BANDS)), np.nan)
    for index, band in enumerate(BANDS):
        share = np.nan_to_num(band_response(frequency_hz, band))
        weight = np.where(share > _LEAST_SHARE, share, 0.0) * power
        with np.errstate(divide="ignore", invalid="ignore"):
            shifts[:, index] = 10.0 * np.log10((weight * ratio).sum(axis=1) / weight.sum(axis=1))
    shifts[~np.isfinite(shifts)] = np.nan
    return shifts


def _followed(partials_db: FloatArray, comb: FloatArray) -> FloatArray:
    """Power of all partials followed, (rows, N_FOLLOWED); 0 for one that was not measured."""
    rows, n = partials_db.shape
    power = np.zeros((rows, N_FOLLOWED))
    there = np.isfinite(partials_db)
    power[:, :n] = np.where(there, 10.0 ** (np.nan_to_num(partials_db) / 10.0), 0.0)
    # What the comb and the fall leave out of the upper partials measured, carried on.
    plain = np.where(there, power[:, :n] / comb[:, :n] * _ORDER[:n] ** FALL, np.nan)
    upper = np.where(there[:, n // 2 :].any(axis=1), n // 2, 0)
    for row in range(rows):
        known = plain[row, upper[row] :]
        if np.isfinite(known).any():
            power[row, n:] = np.nanmedian(known) * comb[row, n:] * _ORDER[n:] ** -FALL
    return power
