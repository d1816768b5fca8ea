"""Band powers of short frames: the one spectrogram that finding quiet and plucks shares."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.takes.extremes import Extremes, frame_size

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
#: Mean square in a band below which nothing is told apart (24-bit rounding noise, -150 dBFS).
LEAST_POWER = 1e-15

#: Frames transformed at once: as many as stay near the processor.
_BLOCK_FRAMES = 128
#: Frames whose samples are read at once from a file that is read in parts.
_CHUNK_FRAMES = 8 * _BLOCK_FRAMES


@dataclass(frozen=True, eq=False)
class BandPower:
    """Mean square in bands over time, kept as computed in single precision.

    Parts are given in double precision when they are asked for, so that an hour takes half.
    """

    computed: NDArray[np.float32]
    scale: float

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of all of it, frames last."""
        return self.computed.shape

    def __getitem__(self, part: Any) -> FloatArray:
        power = self.computed[part].astype(np.float64)
        power *= self.scale
        power += LEAST_POWER
        return np.asarray(power)

    def __iter__(self) -> Iterator[FloatArray]:
        return (self[i] for i in range(len(self.computed)))

    def of_all_channels(self) -> BandPower:
        """Return the bands of all channels one after the other, shape (bands, frames)."""
        return BandPower(self.computed.reshape(-1, self.computed.shape[-1]), self.scale)


@dataclass(frozen=True)
class BandFrames:
    """Power of each channel in each band over time.

    ``power`` has shape (channels, bands, frames): mean square in the band, (sample value)².
    Frame ``k`` is centred on ``k * hop_s`` seconds; the file is mirrored at its ends.
    """

    power: BandPower
    hop_s: float
    length_s: float
    edges_hz: FloatArray
    #: Per frame: no channel holds digital silence (samples that are all the same) around it.
    alive: NDArray[np.bool_]

    def frames_of(self, seconds: float) -> int:
        """Return the number of hops in a time, rounded, at least one."""
        return max(1, round(seconds / self.hop_s))


def band_frames(
    samples: FloatArray,
    *,
    rate_hz: float,
    extremes: Extremes | None = None,
    means: FloatArray | None = None,
) -> BandFrames:
    """Cut the file into Hann-windowed frames and sum their spectra into bands.

    ``P_b[k] = 2 / (N sum w²) * sum_{f in b} |X_k(f)|²`` is the mean square of the part of frame k
    that lies in band b (Parseval).

    Parameters
    ----------
    samples
        Shape (channels, n).
    rate_hz
        Sample rate. Bands above 0.45 of it are left out.
    extremes, means
        Of the same samples, when known; the means have shape (channels,).

    Returns
    -------
    BandFrames
    """
    frame = frame_size(rate_hz)
    hop = frame // 4
    n_frames = samples.shape[1] // hop + 1
    if extremes is None:
        extremes = Extremes.of(samples, frame // 8)
    window = np.hanning(frame + 1)[:-1].astype(np.float32)
    frequency_hz = np.arange(frame // 2 + 1) * (rate_hz / frame)
    edges = [edge for edge in BAND_EDGES_HZ if edge < 0.45 * rate_hz]
    members = np.array(
        [(frequency_hz >= low) & (frequency_hz < high) for low, high in pairwise(edges)],
        dtype=np.float32,
    )
    bins = int(np.flatnonzero(members.any(axis=0))[-1]) + 1
    # Real and imaginary parts, one after the other.
    of_parts = np.repeat(members[:, :bins].T, 2, axis=0)
    scale = 2.0 / (frame * float(np.sum(window.astype(np.float64) ** 2)))
    power = np.empty((samples.shape[0], len(members), n_frames), dtype=np.float32)
    if means is None:
        means = samples.mean(axis=1)
    chunk = _BLOCK_FRAMES if isinstance(samples, np.ndarray) else _CHUNK_FRAMES
    for start in range(0, n_frames, chunk):
        stop = min(start + chunk, n_frames)
        around = _mirrored(samples, means, start * hop - frame // 2, (stop - 1) * hop + frame // 2)
        for channel, part in enumerate(around):
            power[channel, :, start:stop] = _in_bands(part, frame, hop, window, of_parts)
    return BandFrames(
        power=BandPower(power, scale),
        hop_s=hop / rate_hz,
        length_s=samples.shape[1] / rate_hz,
        edges_hz=np.array(edges),
        alive=extremes.changing(np.maximum(np.arange(n_frames) * hop - hop // 2, 0)),
    )


def _mirrored(samples: FloatArray, means: FloatArray, first: int, last: int) -> NDArray[np.float32]:
    """Return samples from first to last (exclusive) less their mean, mirrored beyond both ends.

    So that hum and offset do not end in a step that rings in every band.
    """
    n = samples.shape[1]
    before, after = max(0, -first), max(0, last - n)
    part = np.empty((samples.shape[0], last - first), dtype=np.float32)

    def less_mean(start: int, stop: int) -> NDArray[np.float32]:
        found = samples[:, start:stop]
        out = np.empty(found.shape, dtype=np.float32)
        return np.subtract(found, means[:, None], out=out, casting="same_kind")

    part[:, before : part.shape[1] - after] = less_mean(max(0, first), min(n, last))
    if before:
        part[:, :before] = less_mean(1, before + 1)[:, ::-1]
    if after:
        part[:, part.shape[1] - after :] = less_mean(n - 1 - after, n - 1)[:, ::-1]
    return part


def _in_bands(
    samples: NDArray[np.float32], frame: int, hop: int, window: np.ndarray, of_parts: np.ndarray
) -> NDArray[np.float32]:
    """Sum the spectra of the frames of one channel into bands, shape (bands, frames)."""
    cut = sliding_window_view(samples, frame)[::hop]
    bins = len(of_parts) // 2
    parts = []
    for start in range(0, len(cut), _BLOCK_FRAMES):
        spectrum = scipy.fft.rfft(cut[start : start + _BLOCK_FRAMES] * window, axis=1)
        # As pairs of numbers, real and imaginary.
        squares = spectrum[:, :bins].view(np.float32)
        np.square(squares, out=squares)
        parts.append(squares @ of_parts)
    return np.asarray(np.concatenate(parts).T)
