"""Centroid against librosa on the same magnitude spectrum, and by the definition as a whole."""

from __future__ import annotations

import librosa
import numpy as np
import pytest
from pluck_truth import partials, signal

from tonecompare.measure.partials.partial_set import measure_partials
from tonecompare.measure.pluck.centroid import CENTROID_BAND_HZ, centroid_of, measure_centroid


def test_same_spectrum_same_centroid() -> None:
    rng = np.random.default_rng(1)
    magnitude, hz = rng.random(1025), np.linspace(0.0, 24000.0, 1025)
    theirs = librosa.feature.spectral_centroid(S=magnitude[:, None], freq=hz)[0, 0]
    assert centroid_of(hz, magnitude) == pytest.approx(float(theirs), rel=1e-12)


@pytest.mark.parametrize("f0_hz", [82.41, 196.0, 440.0])
@pytest.mark.parametrize("rate_hz", [44100.0, 48000.0])
def test_whole_definition_with_librosas_transform(f0_hz: float, rate_hz: float) -> None:
    order = np.arange(1, 21)
    x = partials(order * f0_hz * np.sqrt(1.0 + 5e-5 * order**2), 0.1 / order, 3.0, rate_hz=rate_hz)
    size = round(0.2 * rate_hz)
    part = x[round(0.05 * rate_hz) : round(1.05 * rate_hz)]
    power = np.abs(librosa.stft(part, n_fft=size, hop_length=size // 2, center=False)) ** 2
    hz = librosa.fft_frequencies(sr=rate_hz, n_fft=size)
    inside = (hz >= CENTROID_BAND_HZ[0]) & (hz <= CENTROID_BAND_HZ[1])
    theirs = librosa.feature.spectral_centroid(
        S=np.sqrt(power.mean(axis=1))[inside, None], freq=hz[inside]
    )[0, 0]
    clean = signal(x, f0_hz, rate_hz=rate_hz)
    ours = measure_centroid(clean, measure_partials(clean))["centroid_hz"]
    assert ours.value == pytest.approx(float(theirs), rel=2e-3)
    noisy = signal(x, f0_hz, rate_hz=rate_hz, snr_db=60.0)
    ours = measure_centroid(noisy, measure_partials(noisy))["centroid_hz"]
    assert ours.value == pytest.approx(float(theirs), rel=5e-3)
