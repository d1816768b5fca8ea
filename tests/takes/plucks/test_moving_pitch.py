"""Sweeps have no note; hard plucks that glide and steady strings keep theirs.

Chosen on the sweeps of 20 Hz–20 kHz in 5 s and 60–120 Hz in 3 s; the others here prove it.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import chirp
from small_takes import RATE_HZ, take

from tonecompare.takes.plucks.moving_pitch import keeps_moving
from tonecompare.takes.plucks.note_of_pluck import find_pitch


def _moves(samples: np.ndarray, length_s: float) -> bool:
    extent = {"rate_hz": RATE_HZ, "onset_s": 0.0, "end_s": length_s}
    pitch = find_pitch(samples[None], **extent)
    assert pitch is not None
    return keeps_moving(pitch, samples[None], **extent)


@pytest.mark.parametrize(
    ("low_hz", "high_hz", "length_s"), [(200, 2000, 2.0), (60, 120, 1.5), (400, 100, 1.0)]
)
@pytest.mark.parametrize("method", ["linear", "logarithmic"])
def test_a_sweep_keeps_moving(low_hz, high_hz, length_s, method):
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    assert _moves(0.3 * chirp(time_s, low_hz, length_s, high_hz, method=method), length_s)


def test_a_string_that_glides_by_fifty_cents_after_a_hard_pluck_does_not():
    # Tension modulation: f falls back as the square of the amplitude (Legge & Fletcher 1984).
    time_s = np.arange(round(1.6 * RATE_HZ)) / RATE_HZ
    f0_hz = 82.4 * 2.0 ** (50.0 / 1200.0 * np.exp(-4.0 * time_s))
    phase = 2.0 * np.pi * np.cumsum(f0_hz) / RATE_HZ
    string = sum(np.exp(-2.0 * time_s) * np.sin(n * phase) / n for n in range(1, 20))
    assert not _moves(0.2 * string, 1.6)


def test_a_steady_string_does_not():
    assert not _moves(take(notes=("A2",), repeats=1, quiet_s=0.0), 1.5)
