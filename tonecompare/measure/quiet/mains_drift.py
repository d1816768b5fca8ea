"""How fast the mains frequency drifts inside one frame, from how its lines are smeared.

A drift of kappa Hz/s turns line k by ``pi k kappa t²`` away from a steady sinusoid; to first
order its spectrum gains ``i pi k kappa T² c W2``, W2 the transform of ``w(u) u²``, u = t/T. The
part of W2 that is not W itself gives kappa by weighted least squares over the lines.
"""

from __future__ import annotations

import numpy as np

from tonecompare.arrays import FloatArray
from tonecompare.measure.quiet.hiss_floor import Floor
from tonecompare.measure.quiet.mains_frequency import Mains, fit_half_width
from tonecompare.measure.quiet.quiet_frames import Frames, hann_kernel

#: First-order terms hold for the lines up to here at any usual drift (0.01 Hz/s, 2 s).
TOP_ORDER = 40
#: A drift counts when it is this many standard deviations from none.
SIGNIFICANT = 4.0
#: Shorter frames cannot smear any line.
SHORTEST_S = 0.8
_STEP = 1e-2


def _second_kernel(distance_bins: FloatArray) -> FloatArray:
    """Transform of w(u) u²: ``-W''(d)/(4 pi²)``."""
    outer = hann_kernel(distance_bins - _STEP) + hann_kernel(distance_bins + _STEP)
    curvature = (outer - 2.0 * hann_kernel(distance_bins)) / _STEP**2
    return np.asarray(-curvature / (4.0 * np.pi**2))


def drift_within(frames: Frames, mains: Mains, floor: Floor) -> float:
    """Return the size of the drift inside the frames in Hz/s, 0 where none is significant.

    Parameters
    ----------
    frames
        Hann frames of the quiet.
    mains
        The mains frequency found in them.
    floor
        Density of the floor, which weighs the lines.
    """
    if frames.length_s < SHORTEST_S:
        return 0.0
    top = min(TOP_ORDER, int(0.45 * frames.rate_hz / mains.frequency_hz))
    order = np.arange(1.0, top + 1.0)
    line_hz = mains.track_hz[:, None] * order
    half_width = fit_half_width(mains.frequency_hz, frames)
    bins = np.rint(line_hz / frames.bin_hz).astype(np.intp)[..., None]
    bins = bins + np.arange(-half_width, half_width + 1)
    distance = bins - line_hz[..., None] / frames.bin_hz
    w, w2 = hann_kernel(distance), _second_kernel(distance)
    energy = np.square(w).sum(axis=-1)
    w2 = w2 - w * ((w * w2).sum(axis=-1) / energy)[..., None]
    picked = frames.spectra[np.arange(bins.shape[0])[:, None, None], bins]
    amplitude = (picked * w).sum(axis=-1) / energy
    turn = 1j * np.pi * order * frames.length_s**2 * amplitude
    weight = 1.0 / floor.density_at(mains.frequency_hz * order)
    top_sum = (weight * (turn.conj() * (picked * w2).sum(axis=-1)).real).sum()
    bottom = (weight * np.square(np.abs(turn)) * np.square(w2).sum(axis=-1)).sum()
    if not bottom > 0.0:
        return 0.0
    # Noise of a bin: variance of |X|² is density · rate · N · mean w² / 2, half in each part.
    noise = frames.rate_hz * frames.n * 0.375 / 4.0
    drift = float(top_sum / bottom)
    return abs(drift) if abs(drift) > SIGNIFICANT * float(np.sqrt(noise / bottom)) else 0.0
