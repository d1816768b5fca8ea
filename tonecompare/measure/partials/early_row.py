"""All partials of a pluck's first moment, far beyond the 24 that are followed while they ring.

What a coil's resonance does shows between 2 and 6 kHz, where a low string has its 30th to 70th
partial. These die within tenths of a second and are too many and too weak to be fitted one by one,
but at the beginning their powers stand well above the quiet.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.signal import PluckSignal, Segment, sum_between

#: The row is read from the onset on under half a Hann window, which weighs the first moment most.
EARLY_S = 0.2
#: Highest partial, and its highest share of the sample rate.
TOP_HZ = 8500.0
TOP_SHARE = 0.45
#: The row ends where the middle one of nine partials stands less than this above the quiet (10 dB).
OVER_QUIET = 10.0
NEIGHBOURS = 9
#: Shorter rows say nothing.
LEAST_PARTIALS = 7
#: What is left of a partial beneath the quiet's expected power counts as this share of it.
FAINTEST = 0.02


@dataclass(frozen=True)
class EarlyRow:
    """Partials 1, 2, 3 … of the first 0.2 s: ``frequency_hz`` and ``power``, shape (N,) each.

    ``power`` is that of a cell from midway below to midway above the partial, the quiet taken out;
    where the row's stretch is a little wrong the cell still holds about one partial.
    """

    frequency_hz: FloatArray
    power: FloatArray


def early_row(signal: PluckSignal, f0_hz: float, stretch: float) -> EarlyRow | None:
    """Read the row of partials from the first 0.2 s.

    Parameters
    ----------
    signal
        A pluck from its onset on.
    f0_hz, stretch
        Frequency of partial 1 and inharmonicity B of the row f_n = n f_1 sqrt((1+Bn²)/(1+B)).

    Returns
    -------
    EarlyRow or None
        None where less rang or fewer than seven partials stand above the quiet.
    """
    if not (np.isfinite(f0_hz) and f0_hz > 0.0):
        return None
    spectra = EARLY.spectrum(signal)
    if spectra is None:
        return None
    count = round(EARLY_S * signal.rate_hz)
    squares, bin_hz = _falling_half(count)[1], signal.rate_hz / _size(count)
    top_hz = min(TOP_HZ, TOP_SHARE * signal.rate_hz)
    order = np.arange(1.0, top_hz / f0_hz + 2.0)
    b = max(0.0, float(np.nan_to_num(stretch)))
    hz = order * f0_hz * np.sqrt((1.0 + b * order**2) / (1.0 + b))
    edges = np.concatenate([[0.5 * hz[0]], 0.5 * (hz[1:] + hz[:-1])])
    hz = hz[:-1]
    spectrum = spectra[0, : int(edges[-1] / bin_hz) + 3]
    density = np.asarray(spectrum.real**2 + spectrum.imag**2, dtype=np.float64)
    power = sum_between(density, edges / bin_hz) * (bin_hz * 2.0 / (signal.rate_hz * squares))
    quiet = signal.noise_density(hz) * np.diff(edges)
    last = min(int(np.searchsorted(hz, top_hz)), _last_above(power, quiet))
    if last < LEAST_PARTIALS:
        return None
    net = np.maximum(power - quiet, FAINTEST * power)[:last]
    return EarlyRow(hz[:last], np.maximum(net, np.finfo(float).tiny))


def _beginning(signal: PluckSignal) -> tuple[FloatArray, int] | None:
    """Return the first 0.2 s under the falling half of a Hann window."""
    count = round(EARLY_S * signal.rate_hz)
    if signal.samples.size < count:
        return None
    weighted = signal.samples[:count] * _falling_half(count)[0]
    return weighted[np.newaxis], _size(count)


EARLY = Segment("early", _beginning)


def _size(count: int) -> int:
    """Length of the transform, a power of two."""
    return 1 << (count - 1).bit_length()


@lru_cache(maxsize=8)
def _falling_half(count: int) -> tuple[FloatArray, float]:
    """Falling half of a Hann window, and the sum of its squares."""
    window: FloatArray = np.cos(0.5 * np.pi * np.arange(count) / count) ** 2
    window.flags.writeable = False
    return window, float(np.sum(window**2))


def _last_above(power: FloatArray, quiet: FloatArray) -> int:
    """How many partials there are before the row sinks into the quiet; single nulls are no end."""
    half = NEIGHBOURS // 2
    above = (power > OVER_QUIET * quiet).astype(float)
    padded = np.concatenate([above[:1].repeat(half), above, above[-1:].repeat(half)])
    share = np.convolve(padded, np.ones(NEIGHBOURS) / NEIGHBOURS, mode="valid")
    below = np.flatnonzero(share < 0.5)
    return int(below[0]) if below.size else int(power.size)
