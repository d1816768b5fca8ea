"""Sounds of rates that a FLAC file cannot have, halved until it can."""

from __future__ import annotations

from scipy.signal import resample_poly

from tonecompare.arrays import FloatArray

#: The highest rate of every FLAC reader (RFC 9639 goes higher, most programs do not).
HIGHEST_FLAC_HZ = 655_350


def for_flac(samples: FloatArray, rate_hz: float) -> tuple[FloatArray, float]:
    """Return samples (n,) and their rate, halved (and filtered for that) where FLAC needs it."""
    while rate_hz > HIGHEST_FLAC_HZ:
        samples, rate_hz = resample_poly(samples, 1, 2), rate_hz / 2
    return samples, rate_hz
