"""A played passage frame by frame: pitch classes, what begins, and how much of each band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view

from tonecompare.arrays import FloatArray
from tonecompare.measure.played.event_glide import glide_of_events
from tonecompare.measure.pluck.centroid import CENTROID_BAND_HZ
from tonecompare.measure.pluck.octave_bands import band_response
from tonecompare.measure.signal import PluckSignal, quiet_in_bins
from tonecompare.quantities.octave_bands import BANDS
from tonecompare.takes.hann import hann

#: Distance of the frames, and the windows for pitch and for everything else.
HOP_S, PITCH_WINDOW_S, WINDOW_S = 0.04, 0.186, 0.08
_BLOCK = 64


@dataclass(frozen=True)
class PassageFrames:
    """What a passage holds, every 40 ms from its first onset.

    Attributes
    ----------
    chroma
        Shape (12, T): pitch classes C … B, each frame of length 1 (root of the power: weak notes
        count).
    onset
        Shape (T,): how much begins, the largest 1.
    power
        Shape (8, T): mean square in each octave band, the quiet's taken off.
    noise
        Shape (8,): the quiet's mean square in each band.
    moment, magnitude
        Shape (T,): ``sum f |X|`` and ``sum |X|`` from 60 Hz to 12 kHz, for the centroid.
    events_s
        When each note or chord begins, seconds from the first onset.
    glide_cents
        Shape (events, 2): by how much each begins sharper than it goes on, and the standard error,
        NaN where unknown.
    """

    chroma: FloatArray
    onset: FloatArray
    power: FloatArray
    noise: FloatArray
    moment: FloatArray
    magnitude: FloatArray
    events_s: tuple[float, ...]
    glide_cents: FloatArray


def passage_frames(signal: PluckSignal, *, events_s: tuple[float, ...]) -> PassageFrames:
    """Cut a passage into frames.

    Chroma and onset strength are librosa's (``feature.chroma_stft``, ``onset.onset_strength``);
    powers are those of Hann windows of 80 ms, each band's share by the filters of the octave bands.

    Parameters
    ----------
    signal
        The passage's samples from its first onset on, with the quiet's noise.
    events_s
        Seconds from the first onset.
    """
    import librosa

    rate_hz = signal.rate_hz
    hop = round(HOP_S * rate_hz)
    long = 2 * round(PITCH_WINDOW_S * rate_hz / 2.0)
    spectrum = np.abs(librosa.stft(signal.samples, n_fft=long, hop_length=hop)) ** 2
    chroma = np.sqrt(
        librosa.feature.chroma_stft(S=spectrum, sr=rate_hz, n_fft=long, tuning=0.0, norm=None)
    )
    chroma = chroma / np.maximum(np.linalg.norm(chroma, axis=0), np.finfo(float).tiny)
    frequency_hz, power, quiet = _powers(signal, hop, spectrum.shape[1])
    levels = librosa.power_to_db(power, ref=np.max)
    onset = librosa.onset.onset_strength(S=levels, sr=rate_hz, hop_length=hop)
    weights = np.array([band_response(frequency_hz, band) for band in BANDS])
    noise = weights @ quiet
    moment, magnitude = _moments(frequency_hz, power, quiet)
    return PassageFrames(
        chroma=np.asarray(chroma, np.float64),
        onset=np.asarray(onset / max(float(onset.max()), np.finfo(float).tiny), np.float64),
        power=weights @ power - noise[:, np.newaxis],
        noise=noise,
        moment=moment,
        magnitude=magnitude,
        events_s=events_s,
        glide_cents=glide_of_events(signal, events_s=events_s),
    )


def _powers(signal: PluckSignal, hop: int, count: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Frequencies (F,), mean square per bin and frame (F, T), and the quiet's per bin (F,)."""
    size = scipy.fft.next_fast_len(round(WINDOW_S * signal.rate_hz), real=True)
    window = hann(size)
    to_mean_square = 2.0 / (size * float(np.sum(window**2)))
    padded = np.pad(signal.samples, (size // 2, size // 2 + hop))
    frames = sliding_window_view(padded, size)[: count * hop : hop]
    power: FloatArray = np.empty((size // 2 + 1, len(frames)))
    for first in range(0, len(frames), _BLOCK):
        bins = scipy.fft.rfft(frames[first : first + _BLOCK] * window, axis=1)
        power[:, first : first + _BLOCK] = to_mean_square * (bins.real**2 + bins.imag**2).T
    quiet = quiet_in_bins(signal.noise, signal.rate_hz, size, size)
    as_peaks = (2.0 / float(window.sum())) ** 2
    frequency_hz = np.arange(size // 2 + 1) * (signal.rate_hz / size)
    return (
        np.asarray(frequency_hz, dtype=np.float64),
        power,
        np.asarray(quiet * (to_mean_square / as_peaks)),
    )


def _moments(
    frequency_hz: FloatArray, power: FloatArray, quiet: FloatArray
) -> tuple[FloatArray, FloatArray]:
    low, high = CENTROID_BAND_HZ
    inside = (frequency_hz >= low) & (frequency_hz <= high)
    net = np.sqrt(np.maximum(power - quiet[:, np.newaxis], 0.0))[inside]
    return frequency_hz[inside] @ net, net.sum(axis=0)
