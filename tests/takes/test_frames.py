"""Band powers of frames: Parseval for a sine and for white noise, at several rates."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.takes.frames import BAND_EDGES_HZ, band_frames


@pytest.mark.parametrize("rate_hz", [8000.0, 44100.0, 48000.0, 96000.0])
def test_mean_square_of_a_sine_stands_in_its_band(rate_hz: float) -> None:
    """Amplitude 0.1 has mean square 0.005 (closed form)."""
    t = np.arange(round(rate_hz)) / rate_hz
    frames = band_frames(0.1 * np.sin(2 * np.pi * 1230.0 * t)[None], rate_hz=rate_hz)
    band = np.searchsorted(frames.edges_hz, 1230.0) - 1
    middle = frames.power[0][:, 10:-10]
    np.testing.assert_allclose(middle[band], 0.005, rtol=0.01)
    assert middle.sum(axis=0).mean() == pytest.approx(0.005, rel=0.01)


def test_white_noise_spreads_by_bandwidth() -> None:
    rng = np.random.default_rng(1)
    frames = band_frames(0.1 * rng.standard_normal((1, 441_000)), rate_hz=44100.0)
    expected = 0.01 * np.diff(BAND_EDGES_HZ) / 22050.0
    # Bands are cut at whole bins of 43 Hz: 15 % of the narrowest.
    np.testing.assert_allclose(frames.power[0].mean(axis=1), expected, rtol=0.2)


def test_channels_apart_and_frames_counted() -> None:
    samples = np.zeros((2, 44100))
    samples[1] = 0.01 * np.random.default_rng(2).standard_normal(44100)
    frames = band_frames(samples, rate_hz=44100.0)
    assert frames.power.shape[:2] == (2, len(BAND_EDGES_HZ) - 1)
    assert frames.power.shape[2] == pytest.approx(1.0 / frames.hop_s, abs=2)
    assert frames.power[0].max() < 1e-14 < frames.power[1].min()


def test_offset_is_no_sound() -> None:
    frames = band_frames(np.full((1, 44100), 0.5), rate_hz=44100.0)
    assert frames.power[:].max() < 1e-14
