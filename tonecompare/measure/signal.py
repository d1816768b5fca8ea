"""One pluck on one channel, with the transforms that all quantity families share.

The long transform (the whole ring, rectangular, zero-padded) carries the partials; the frames
(Hann, 0.2 s, hop 0.1 s, 0.05–1.05 s after the onset) carry centroid and tilt; one Hann frame over
the same second carries the bands of the charts. Each is computed once, on first use.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Noise

ComplexArray = NDArray[np.complex128]
SingleArray = NDArray[np.float32]
#: Rows that are transformed and their transforms, of either precision.
RowsArray = NDArray[np.float32] | FloatArray
SpectraArray = NDArray[np.complex64] | ComplexArray

#: Windows of design §5, seconds from the onset.
LEVEL_WINDOW_S = (0.05, 0.55)
SPECTRUM_WINDOW_S = (0.05, 1.05)
#: Frames of the averaged spectrum.
FRAME_S = 0.2
#: The shortest part of a window that is still worth measuring.
SHORTEST_WINDOW_S = 0.1


@dataclass(frozen=True)
class PluckSignal:
    """What is measured: the samples of one channel from the onset to the end of what rang.

    Parameters
    ----------
    samples
        Shape (n,), float64, full scale 1.0; the first sample is the first at or after the onset.
    rate_hz
        Sample rate.
    f0_hz
        Pitch that named the note, to a few cents; None when no pitch was found.
    noise
        What the channel carries when the strings are damped; None when no quiet was found.
    lag_s
        Time of the first sample after the (sub-sample) onset.
    onset_sd_s
        Standard uncertainty of the onset; None when unknown.
    """

    samples: FloatArray
    rate_hz: float
    f0_hz: float | None
    noise: Noise | None
    lag_s: float = 0.0
    onset_sd_s: float | None = None
    #: What was taken out of the samples: the mean of the file's channel.
    offset: float = 0.0
    #: Whether several strings were struck together, so that there is no one pitch.
    is_chord: bool = False
    #: Pitch of the lowest string of a chord, None where it is not known.
    lowest_hz: float | None = None
    #: Transforms of segments worked out beforehand, by the segments' names.
    spectra: Mapping[str, SpectraArray] = field(default_factory=dict, repr=False)

    @property
    def no_pitch(self) -> str:
        """Why ``f0_hz`` is None, and with it all that one string's partials say."""
        return "several strings sound together" if self.is_chord else "no pitch was found"

    @property
    def ring_s(self) -> float:
        """Length of what rang, in seconds."""
        return self.samples.size / self.rate_hz

    @cached_property
    def fft_size(self) -> int:
        """Length of the long transform: the ring and 0.15 s of zeros against wrap-round."""
        return _fast(self.samples.size + int(0.15 * self.rate_hz))

    @cached_property
    def transform(self) -> ComplexArray:
        """One-sided transform of the whole ring, shape (fft_size // 2 + 1,)."""
        return np.asarray(scipy.fft.rfft(self.samples, self.fft_size), dtype=np.complex128)

    def transform_at(self, low_bins: NDArray[np.intp], offsets: NDArray[np.intp]) -> ComplexArray:
        """Return the transform of the whole ring at some bins, (n,) and (w,) give (n, w).

        Every fourth sample makes a short transform ``Y_d`` of its own, and
        ``X[k] = sum_d exp(-2 pi i d k / N) Y_d[k]`` (decimation in time; Cooley & Tukey 1965) is
        put together only where it is asked for: a third of the time of the long transform, which
        no cache holds. Bins beyond the transform are those of its periodic continuation.
        """
        short = RING.spectrum(self)
        assert short is not None
        count, length = len(short), self.fft_size // len(short)
        bins = (low_bins[:, np.newaxis] + offsets) % length
        mirrored = bins > length // 2
        any_mirrored = bool(mirrored.any())
        if any_mirrored:
            bins = np.where(mirrored, length - bins, bins)
        turn = np.exp(-2j * np.pi / self.fft_size * low_bins)[:, np.newaxis] * np.exp(
            -2j * np.pi / self.fft_size * offsets
        )
        found = np.zeros(bins.shape, dtype=np.complex128)
        for d in range(count - 1, -1, -1):
            part = np.take(short[d], bins, mode="clip")  # none is outside; faster than looking
            if any_mirrored:
                np.conj(part, out=part, where=mirrored)
            found *= turn
            found += part
        return found

    def mean_squares(self, step: int) -> FloatArray:
        """Mean square of successive steps of samples, shape (n // step,)."""
        usable = self.samples.size // step * step
        steps = self.samples[:usable].reshape(-1, step)
        return np.asarray(np.einsum("ij,ij->i", steps, steps) / step)

    def mean_square(self, first: int, last: int) -> float:
        """Mean square of the samples first:last."""
        part = self.samples[first:last]
        return float(part @ part) / part.size

    def window(self, window_s: tuple[float, float]) -> tuple[int, int] | None:
        """Sample range of a window from the onset, cut at the ring's end; None if too short."""
        first = max(0, round((window_s[0] - self.lag_s) * self.rate_hz))
        last = min(self.samples.size, round((window_s[1] - self.lag_s) * self.rate_hz))
        if last - first < SHORTEST_WINDOW_S * self.rate_hz:
            return None
        return first, last

    def noise_power(self) -> float:
        """Mean square of the quiet, floor and lines together; 0 when no quiet is known."""
        return 0.0 if self.noise is None else _whole_power(self.noise)

    def noise_density(self, frequency_hz: FloatArray) -> FloatArray:
        """Density of the floor at some frequencies, (sample value)²/Hz; 0 when unknown."""
        if self.noise is None:
            return np.zeros_like(frequency_hz)
        return np.asarray(np.interp(frequency_hz, self.noise.frequency_hz, self.noise.density))

    @cached_property
    def average_spectrum(self) -> tuple[FloatArray, FloatArray, FloatArray, int] | None:
        """Averaged power spectrum over 0.05–1.05 s and what the quiet would give there.

        Returns
        -------
        tuple or None
            Frequencies (F,), power (F,) and noise power (F,), both scaled so that a sine of
            amplitude A peaks at A², and the number of frames. None when too little rang.
        """
        spectra = FRAMES.spectrum(self)
        if spectra is None:
            return None
        # As pairs of numbers, real and imaginary, whose squares are summed over the frames.
        parts = spectra.view(np.float64)
        power = np.einsum("ij,ij->j", parts, parts).reshape(-1, 2).sum(axis=1)
        power /= len(spectra)
        size = _frame_size(self)
        frequency_hz = _bins_hz(power.size, self.rate_hz / size)
        quiet = quiet_in_bins(self.noise, self.rate_hz, size, size)
        return frequency_hz, power, quiet, len(spectra)

    @cached_property
    def long_frame(self) -> tuple[FloatArray, FloatArray, FloatArray] | None:
        """One Hann frame over 0.05–1.05 s: frequencies, power and expected noise power.

        Scaled so that a steady sine of amplitude A peaks at A²; None when too little rang.
        """
        limits = self.window(SPECTRUM_WINDOW_S)
        if limits is None:
            return None
        size = limits[1] - limits[0]
        n_fft = _fast(size)
        spectra = SECOND.spectrum(self)
        assert spectra is not None
        spectrum = spectra[0]
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float64)
        frequency_hz = _bins_hz(power.size, self.rate_hz / n_fft)
        return frequency_hz, power, quiet_in_bins(self.noise, self.rate_hz, size, n_fft)


@dataclass(frozen=True)
class Segment:
    """Part of a pluck that is transformed, in rows, as many quantity families need it.

    Several rows are transformed in half of the time that each takes alone, in single precision in a
    third. Its rounding lies some 120 dB below the pluck, which is enough for charts and bands; what
    is fitted or rooted is transformed in double.

    Parameters
    ----------
    name
        Under which a pluck keeps it.
    rows
        Of a pluck, its weighted samples, shape (rows, n), and the length of the transform, n or
        more; None where too little rang.
    """

    name: str
    rows: Callable[[PluckSignal], tuple[RowsArray, int] | None]

    def spectrum(self, signal: PluckSignal) -> SpectraArray | None:
        """One-sided transform of each row, shape (rows, length // 2 + 1)."""
        known = signal.spectra.get(self.name)
        return self.transforms([signal])[0] if known is None else known

    def transforms(self, signals: Sequence[PluckSignal]) -> list[SpectraArray | None]:
        """Transform the segment of some plucks, those of one length together."""
        of_length: dict[tuple[int, int, int], list[tuple[int, RowsArray]]] = {}
        found: list[SpectraArray | None] = [None] * len(signals)
        for at, signal in enumerate(signals):
            cut = self.rows(signal)
            if cut is not None:
                of_length.setdefault((*cut[0].shape, cut[1]), []).append((at, cut[0]))
        for (count, _, length), parts in of_length.items():
            rows = parts[0][1] if len(parts) == 1 else np.concatenate([each for _, each in parts])
            together = scipy.fft.rfft(rows, length, axis=1, overwrite_x=True)
            for place, (at, _) in enumerate(parts):
                found[at] = together[place * count : (place + 1) * count]
        return found


def transformed_together(
    signals: Sequence[PluckSignal], segments: Sequence[Segment]
) -> list[PluckSignal]:
    """Return plucks that know the transforms of some segments: faster than of each alone."""
    spectra: list[dict[str, SpectraArray]] = [{} for _ in signals]
    for segment in segments:
        for known, spectrum in zip(spectra, segment.transforms(signals), strict=True):
            if spectrum is not None:
                known[segment.name] = spectrum
    return [replace(each, spectra=known) for each, known in zip(signals, spectra, strict=True)]


def _of_ring(signal: PluckSignal) -> tuple[FloatArray, int]:
    """Every fourth sample (or second, or all) of the ring."""
    size = signal.fft_size
    count = next(d for d in (4, 2, 1) if size % d == 0)
    parts = np.zeros((count, size // count))
    for d in range(count):
        own = signal.samples[d::count]
        parts[d, : own.size] = own
    return parts, size // count


def _frame_size(signal: PluckSignal) -> int:
    """Return the samples of a frame of the averaged spectrum, 0 where too little rang."""
    limits = signal.window(SPECTRUM_WINDOW_S)
    return 0 if limits is None else min(round(FRAME_S * signal.rate_hz), limits[1] - limits[0])


def _of_frames(signal: PluckSignal) -> tuple[FloatArray, int] | None:
    """Cut Hann frames over the spectrum's window.

    Without zeros behind them: sums of magnitudes depend on where the bins lie.
    """
    limits, size = signal.window(SPECTRUM_WINDOW_S), _frame_size(signal)
    if limits is None:
        return None
    part = signal.samples[limits[0] : limits[1]]
    frames = np.lib.stride_tricks.sliding_window_view(part, size)[:: max(1, size // 2)]
    return frames * _unit_hann(size), size


def _of_second(signal: PluckSignal) -> tuple[SingleArray, int] | None:
    """One Hann frame over the spectrum's window."""
    limits = signal.window(SPECTRUM_WINDOW_S)
    if limits is None:
        return None
    size = limits[1] - limits[0]
    part = signal.samples[limits[0] : limits[1]].astype(np.float32)
    part *= _single_hann(size)
    return part[np.newaxis], _fast(size)


RING = Segment("ring", _of_ring)
FRAMES = Segment("frames", _of_frames)
SECOND = Segment("second", _of_second)


@lru_cache(maxsize=64)
def _fast(size: int) -> int:
    """Length of a fast transform that holds so many samples."""
    return int(scipy.fft.next_fast_len(size, real=True))


@lru_cache(maxsize=8)
def _whole_power(noise: Noise) -> float:
    """Mean square of a quiet, floor and lines together."""
    step = float(noise.frequency_hz[1] - noise.frequency_hz[0])
    return float(np.sum(noise.density) * step + np.sum(noise.line_power))


@lru_cache(maxsize=8)
def quiet_in_bins(noise: Noise | None, rate_hz: float, size: int, n_fft: int) -> FloatArray:
    """Power that the quiet leaves in the bins of a Hann-windowed transform, one-sided.

    Floor density by bandwidth, and lines, scaled so that a steady sine of amplitude A peaks at A².
    Kept, since all plucks of a file share their quiet.
    """
    frequency_hz = np.arange(n_fft // 2 + 1) * (rate_hz / n_fft)
    if noise is None:
        return np.zeros_like(frequency_hz)
    window = _hann(size)
    squares = float(np.sum(window**2)) * (2.0 / window.sum()) ** 2
    floor = np.interp(frequency_hz, noise.frequency_hz, noise.density) * squares * rate_hz / 2.0
    for line_hz, power in zip(noise.line_hz, noise.line_power, strict=True):
        if power > 0.0:
            first = max(0, int(np.ceil((line_hz - 4.0 * rate_hz / size) * n_fft / rate_hz)))
            near = slice(first, int((line_hz + 4.0 * rate_hz / size) * n_fft / rate_hz) + 1)
            offset = (frequency_hz[near] - line_hz) * (size / rate_hz)
            floor[near] += 2.0 * power * _hann_response(offset) ** 2
    floor.flags.writeable = False
    return np.asarray(floor)


@lru_cache(maxsize=8)
def _hann(size: int) -> FloatArray:
    """Periodic Hann window; kept, since every pluck of a file asks for the same ones."""
    window: FloatArray = np.hanning(size + 1)[:-1]
    window.flags.writeable = False
    return window


@lru_cache(maxsize=8)
def _unit_hann(size: int) -> FloatArray:
    """Return the Hann window that a steady sine's transform peaks at its amplitude with."""
    window = _hann(size)
    scaled: FloatArray = window * (2.0 / window.sum())
    scaled.flags.writeable = False
    return scaled


@lru_cache(maxsize=8)
def _single_hann(size: int) -> NDArray[np.float32]:
    """Return the same in single precision."""
    scaled: NDArray[np.float32] = _unit_hann(size).astype(np.float32)
    scaled.flags.writeable = False
    return scaled


def sum_between(values: FloatArray, edges: FloatArray) -> FloatArray:
    """Sum of bins between fractional edges, ascending, bins being boxes of width 1 about theirs."""
    places = np.minimum(np.maximum(edges + 0.5, 0.0), values.size)
    below = np.minimum(places.astype(np.intp), values.size - 1)
    beside = (places - below) * values[below]
    # Whole bins from each edge's own on; an edge's own counts as far as it lies before the edge.
    whole = np.add.reduceat(values[: below[-1] + 1], below)[:-1]
    whole[below[1:] == below[:-1]] = 0.0
    return np.asarray(whole + beside[1:] - beside[:-1], dtype=np.float64)


@lru_cache(maxsize=8)
def _bins_hz(count: int, step_hz: float) -> FloatArray:
    """Frequencies of bins."""
    frequency_hz = np.arange(count, dtype=np.float64) * step_hz
    frequency_hz.flags.writeable = False
    return frequency_hz


def _hann_response(offset_bins: FloatArray) -> FloatArray:
    """Magnitude of a Hann window's transform, 1 at offset 0 (Harris 1978): sinc(x)/(1 - x²)."""
    safe = np.where(np.abs(np.abs(offset_bins) - 1.0) < 1e-6, 1.0 + 1e-6, offset_bins)
    return np.asarray(np.abs(np.sinc(safe) / (1.0 - safe**2)))
