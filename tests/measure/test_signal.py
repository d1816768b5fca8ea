"""Transforms and sums that plucks share, against NumPy's whole transform and plain sums."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.measure.signal import (
    FRAMES,
    RING,
    SECOND,
    PluckSignal,
    sum_between,
    transformed_together,
)


@pytest.mark.parametrize("n", [4000, 3900, 2950])
def test_transform_at_some_bins(n: int) -> None:
    samples = np.random.default_rng(n).normal(size=n)
    signal = PluckSignal(samples, rate_hz=1000.0, f0_hz=None, noise=None)
    whole = np.fft.fft(samples, signal.fft_size)
    first, offsets = np.array([3, 700, signal.fft_size // 2 - 4]), np.arange(-5, 6)
    wanted = whole[(first[:, None] + offsets) % signal.fft_size]
    assert signal.transform_at(first, offsets) == pytest.approx(wanted, abs=1e-9)


def test_transforms_of_each_kind_of_length() -> None:
    sizes = [
        PluckSignal(np.zeros(n), rate_hz=1000.0, f0_hz=None, noise=None).fft_size
        for n in (4000, 3900, 2950)
    ]
    assert {min(size & -size, 4) for size in sizes} == {1, 2, 4}


def test_sums_between_fractional_edges() -> None:
    values = np.array([1.0, 10.0, 100.0, 1000.0])
    edges = np.array([-3.0, -0.25, 0.5, 1.75, 2.0, 9.0])
    wanted = [0.25, 0.75, 10.0 + 25.0, 25.0, 50.0 + 1000.0]
    assert sum_between(values, edges) == pytest.approx(wanted, rel=1e-12)


def test_segments_transformed_together_are_those_of_each_alone() -> None:
    rng = np.random.default_rng(4)
    # Two of one length, one longer, one that rang too short for the window of the spectrum.
    plucks = [
        PluckSignal(rng.normal(size=n), rate_hz=1000.0, f0_hz=None, noise=None)
        for n in (2000, 2000, 3000, 60)
    ]
    segments = (RING, FRAMES, SECOND)
    together = transformed_together(plucks, segments)
    for alone, known in zip(plucks, together, strict=True):
        for segment in segments:
            wanted = segment.spectrum(alone)
            if wanted is None:
                assert segment.spectrum(known) is None
            else:
                assert segment.spectrum(known) == pytest.approx(wanted, abs=1e-4)
    # Against NumPy's in double precision.
    second = plucks[2].samples[50:1050] * np.hanning(1001)[:-1] / 250.0
    (found,) = SECOND.spectrum(together[2])  # type: ignore[misc]
    assert found == pytest.approx(np.fft.rfft(second), abs=1e-6)
