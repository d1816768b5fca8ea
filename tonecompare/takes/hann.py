"""The Hann window that finding, placing and naming plucks share."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tonecompare.arrays import FloatArray


@lru_cache(maxsize=32)
def hann(size: int) -> FloatArray:
    """Symmetric Hann window; kept, since the same few are asked for all the time."""
    window: FloatArray = np.hanning(size)
    window.flags.writeable = False
    return window
