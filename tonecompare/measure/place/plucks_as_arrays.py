"""All plucks of a voice side by side, as arrays, for the search of positions and resonance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.partials.early_row import EarlyRow
from tonecompare.measure.partials.partial_set import PartialSet
from tonecompare.measure.place.combs import NULL_FILL, ORDER
from tonecompare.quantities.registry import N_PARTIALS

BoolArray = NDArray[np.bool_]

#: Scatter of a partial about the model before it is known, dB (bridge and neck pull single ones).
SCATTER_DB = 2.0
#: Partials further below the strongest than this are not used.
WEAKEST_DB = 55.0
#: Fewer partials than this say nothing about a comb.
LEAST_PARTIALS = 7
#: Frequencies between which what the model leaves in common is drawn as straight lines over log f.
RESPONSE_HZ: FloatArray = np.geomspace(80.0, 9000.0, 13)


@dataclass(frozen=True)
class PluckAmplitudes:
    """What one pluck contributes: partial levels and how long its string sounds.

    ``level_db`` (24,) amplitude at the onset in dB, NaN where unmeasured; ``level_sd_db`` (24,);
    ``frequency_hz`` (24,); ``sounding`` the sounding length over the scale length (1 for an open
    string), None when the string is unknown; ``early`` all partials of the first moment.
    """

    level_db: FloatArray
    level_sd_db: FloatArray
    frequency_hz: FloatArray
    sounding: float | None
    early: EarlyRow | None = None


def amplitudes_of(partials: PartialSet, *, sounding: float | None) -> PluckAmplitudes:
    """Partial amplitudes at the onset, from the fitted components or the level and its decay."""
    amplitude = np.sqrt(np.nansum(np.abs(partials.components_amplitude) ** 2, axis=1))
    rate = np.maximum(-partials.components_rate[:, 0].real, 0.0)
    from_level = np.sqrt(2.0 * partials.power) * np.exp(np.minimum(rate * 0.2, 2.0))
    amplitude = np.where(partials.n_components > 0, amplitude, from_level)
    with np.errstate(divide="ignore", invalid="ignore"):
        level_db = 20.0 * np.log10(np.where(partials.measured, amplitude, np.nan))
    sd = 10.0 / np.log(10.0) * partials.power_sd
    return PluckAmplitudes(level_db, sd, partials.frequency_hz, sounding, partials.early)


@dataclass(frozen=True)
class Data:
    """The usable plucks (I of all n): levels with 1/n taken out, shape (I, 24).

    ``y`` dB (0 where not ``known``), ``variance`` dB² of the measurement, ``octave`` and ``khz2``
    log2(f/1 kHz) and (f/1 kHz)², ``wave`` the wave number n / sounding length in units of the
    scale's; ``sounding`` (I,); ``note`` (I,) numbers the notes, so that repeats are known as such;
    ``usable`` (n,). ``fill`` is the power left at a comb's null.
    """

    y: FloatArray
    known: BoolArray
    variance: FloatArray
    frequency_hz: FloatArray
    octave: FloatArray
    khz2: FloatArray
    wave: FloatArray
    sounding: FloatArray
    hats: FloatArray
    note: NDArray[np.intp]
    usable: BoolArray
    fill: float = NULL_FILL

    @classmethod
    def of(cls, plucks: Sequence[PluckAmplitudes]) -> Data:
        """Collect plucks; those without string or with too few partials are left out."""
        level = np.array([pluck.level_db for pluck in plucks]).reshape(-1, N_PARTIALS)
        sd = np.array([pluck.level_sd_db for pluck in plucks]).reshape(-1, N_PARTIALS)
        frequency = np.array([pluck.frequency_hz for pluck in plucks]).reshape(-1, N_PARTIALS)
        sounding = np.array([p.sounding if p.sounding is not None else np.nan for p in plucks])
        top = np.max(np.where(np.isfinite(level), level, -np.inf), axis=1, initial=-np.inf)
        known = np.isfinite(level) & np.isfinite(sd) & np.isfinite(frequency)
        known &= level > top[:, None] - WEAKEST_DB
        usable = (known.sum(axis=1) >= LEAST_PARTIALS) & np.isfinite(sounding)
        known = known[usable]
        hz = np.where(known, frequency[usable], 1000.0)
        return cls(
            y=np.where(known, level[usable] + 20.0 * np.log10(ORDER), 0.0),
            known=known,
            variance=np.where(known, sd[usable], 0.0) ** 2,
            frequency_hz=hz,
            octave=np.log2(hz / 1000.0),
            khz2=(hz / 1000.0) ** 2,
            wave=ORDER / sounding[usable, None],
            sounding=sounding[usable],
            hats=response_basis(hz),
            note=_notes(np.where(known, hz / ORDER, np.nan), sounding[usable]),
            usable=usable,
        )

    @property
    def n_plucks(self) -> int:
        """How many plucks are usable."""
        return int(self.sounding.size)


def _notes(spacing_hz: FloatArray, sounding: FloatArray) -> NDArray[np.intp]:
    """Return the number of each pluck's note: same semitone and sounding length, same number."""
    if sounding.size == 0:
        return np.zeros(0, dtype=np.intp)
    semitone = np.round(12.0 * np.log2(np.nanmedian(spacing_hz, axis=1) / 440.0))
    pairs = np.stack([semitone, np.round(1000.0 * sounding)], axis=1)
    return np.asarray(np.unique(pairs, axis=0, return_inverse=True)[1].reshape(-1), dtype=np.intp)


def response_basis(frequency_hz: FloatArray) -> FloatArray:
    """Hat functions over log frequency, shape (…, 13)."""
    at = np.interp(np.log(frequency_hz), np.log(RESPONSE_HZ), np.arange(RESPONSE_HZ.size))
    return np.asarray(np.maximum(0.0, 1.0 - np.abs(at[..., None] - np.arange(RESPONSE_HZ.size))))
