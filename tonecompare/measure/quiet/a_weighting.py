"""How loud is the noise to the ear: the A curve of IEC 61672-1.

The curve is applied to the spectrum, never as a digital filter: a bilinear filter at 48 kHz
reads 1.2 dB low at 10 kHz and 6.4 dB low at 16 kHz.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Pole frequencies f1 … f4 of the A curve in Hz (IEC 61672-1:2013 Annex E).
A_CURVE_POLES_HZ = (20.598997, 107.65265, 737.86223, 12194.217)


def _unnormalised_gain(frequency_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    f1, f2, f3, f4 = (pole * pole for pole in A_CURVE_POLES_HZ)
    f = frequency_hz * frequency_hz
    return np.asarray(f4 * f * f / ((f + f1) * np.sqrt((f + f2) * (f + f3)) * (f + f4)))


_GAIN_AT_1_KHZ = float(_unnormalised_gain(np.array([1000.0]))[0])


def a_weighting_gain(frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Return the A curve as an amplitude gain, 1 at 1 kHz and 0 at 0 Hz.

    ``A(f) = f4² f⁴ / ((f² + f1²) sqrt((f² + f2²)(f² + f3²)) (f² + f4²)) / A(1 kHz)``
    (IEC 61672-1:2013 Annex E).

    Parameters
    ----------
    frequency_hz
        Frequencies in Hz, any shape.
    """
    return _unnormalised_gain(np.asarray(frequency_hz, dtype=np.float64)) / _GAIN_AT_1_KHZ
