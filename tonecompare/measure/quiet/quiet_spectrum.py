"""The spectrum of a quiet stretch as people look at it: fine below 2 kHz, coarse above."""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import QuietCurves
from tonecompare.measure.quiet.quiet_frames import Frames

#: Width of the fine bins where the stretch is long enough.
FINE_HZ = 1.0
#: Fine bins up to here.
FINE_TOP_HZ = 2000.0
#: Bands per octave above.
COARSE_PER_OCTAVE = 48


def quiet_curves(frames: Frames, density: FloatArray) -> QuietCurves:
    """Return the spectrum in dBFS per ``bandwidth_hz``.

    Parameters
    ----------
    frames
        The frames the density came from.
    density
        (F,) mean power spectral density in (sample value)²/Hz, lines and all.

    Returns
    -------
    QuietCurves
        Below 2 kHz bins about 1 Hz wide (wider in short stretches), each with the power in it;
        above, bands of 1/48 octave, each with its mean power per ``bandwidth_hz``, so that the
        floor runs on without a step.
    """
    group = max(1, round(FINE_HZ / frames.bin_hz))
    bandwidth_hz = group * frames.bin_hz
    hz = frames.frequency_hz
    top = min(FINE_TOP_HZ, hz[-1])
    n_fine = max(1, int(top / bandwidth_hz))
    fine_edges = 1 + group * np.arange(n_fine + 1)
    fine_edges = fine_edges[fine_edges <= density.size]
    n_bands = int(np.ceil(np.log2(hz[-1] / top) * COARSE_PER_OCTAVE)) if hz[-1] > top else 0
    coarse_hz = top * 2.0 ** (np.arange(1, n_bands + 1) / COARSE_PER_OCTAVE)
    coarse = np.minimum(np.rint(coarse_hz / frames.bin_hz).astype(np.intp), density.size)
    edges = np.unique(np.concatenate((fine_edges, coarse[coarse > fine_edges[-1]])))
    cumulative = np.concatenate(([0.0], np.cumsum(density)))
    mean = np.diff(cumulative[edges]) / np.diff(edges)
    centre = 0.5 * (edges[:-1] + edges[1:] - 1) * frames.bin_hz
    tiny = np.finfo(np.float64).tiny
    level = 10.0 * np.log10(np.maximum(2.0 * mean * bandwidth_hz, tiny))
    return QuietCurves(centre, level, bandwidth_hz)
