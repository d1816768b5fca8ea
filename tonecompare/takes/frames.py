"""Band powers of short frames: the one spectrogram that finding quiet and plucks shares."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from tonecompare.takes.model import FloatArray

#: Band edges. The lowest band holds the mains fundamental and the lowest strings; the rest widen
#: upwards so that every band spans several partials or several hundred hertz of noise.
BAND_EDGES_HZ = (
    30.0,
    150.0,
    300.0,
    450.0,
    700.0,
    1000.0,
    1500.0,
    2200.0,
    3300.0,
    5000.0,
    7500.0,
    11000.0,
)
#: Frame length aimed at; the nearest power of two in samples is used, a quarter of it as hop.
FRAME_S = 0.0232
#: Mean square in a band below which nothing is told apart (24-bit rounding noise, -150 dBFS).
LEAST_POWER = 1e-15

_BLOCK_FRAMES = 2048


@dataclass(frozen=True)
class BandFrames:
    """Power of each channel in each band over time.

    ``power`` has shape (channels, bands, frames): mean square in the band, (sample value)².
    Frame ``k`` is centred on ``k * hop_s`` seconds; the file is mirrored at its ends.
    """

    power: FloatArray
    hop_s: float
    length_s: float
    edges_hz: FloatArray
    #: Per frame: no channel holds digital silence (samples that are all the same) around it.
    alive: NDArray[np.bool_]

    def frames_of(self, seconds: float) -> int:
        """Return the number of hops in a time, rounded, at least one."""
        return max(1, round(seconds / self.hop_s))


def band_frames(samples: FloatArray, *, rate_hz: float) -> BandFrames:
    """Cut the file into Hann-windowed frames and sum their spectra into bands.

    ``P_b[k] = 2 / (N sum w²) * sum_{f in b} |X_k(f)|²`` is the mean square of the part of frame k
    that lies in band b (Parseval).

    Parameters
    ----------
    samples
        Shape (channels, n).
    rate_hz
        Sample rate. Bands above 0.45 of it are left out.

    Returns
    -------
    BandFrames
    """
    frame = 2 ** round(np.log2(FRAME_S * rate_hz))
    hop = frame // 4
    window = np.hanning(frame + 1)[:-1].astype(np.float32)
    frequency_hz = np.arange(frame // 2 + 1) * (rate_hz / frame)
    edges = [edge for edge in BAND_EDGES_HZ if edge < 0.45 * rate_hz]
    members = np.array(
        [(frequency_hz >= low) & (frequency_hz < high) for low, high in pairwise(edges)],
        dtype=np.float32,
    )
    scale = 2.0 / (frame * float(np.sum(window.astype(np.float64) ** 2)))
    channels = [_one_channel(channel, frame, hop, window, members) for channel in samples]
    return BandFrames(
        power=np.stack(channels) * scale + LEAST_POWER,
        hop_s=hop / rate_hz,
        length_s=samples.shape[1] / rate_hz,
        edges_hz=np.array(edges),
        alive=np.all([_changes(channel, hop) for channel in samples], axis=0),
    )


def _changes(samples: FloatArray, hop: int) -> NDArray[np.bool_]:
    """Whether the samples change in the hop around each frame's centre."""
    changed = np.diff(samples, append=samples[-1:]) != 0.0
    starts = np.maximum(np.arange(len(samples) // hop + 1) * hop - hop // 2, 0)
    return np.asarray(np.logical_or.reduceat(changed, starts))


def _one_channel(
    samples: FloatArray, frame: int, hop: int, window: np.ndarray, members: np.ndarray
) -> FloatArray:
    # Mirrored, so that hum and offset do not end in a step that rings in every band.
    padded = np.pad(samples - samples.mean(), (frame // 2, frame // 2), mode="reflect")
    padded = padded.astype(np.float32)
    cut = sliding_window_view(padded, frame)[::hop]
    parts = []
    for start in range(0, len(cut), _BLOCK_FRAMES):
        spectrum = scipy.fft.rfft(cut[start : start + _BLOCK_FRAMES] * window, axis=1)
        parts.append((spectrum.real**2 + spectrum.imag**2) @ members.T)
    return np.concatenate(parts).T.astype(np.float64)
