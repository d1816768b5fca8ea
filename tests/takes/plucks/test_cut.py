"""Where plucks end: closed-form decays, hands, noise, ends of files and fades."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.takes.frames import band_frames
from tonecompare.takes.model import Quiet
from tonecompare.takes.plucks.cut import End, find_end
from tonecompare.takes.quiet import quiet_floor

RATE_HZ = 44100
ONSET_S = 0.5


def take(length_s: float, *, t60_s: float, hiss: float = 1e-4) -> np.ndarray:
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ - ONSET_S
    note = sum(np.sin(2 * np.pi * k * 110.0 * t) / k for k in range(1, 9))
    x = np.where(t >= 0, 0.2 * np.exp(-6.907755 / t60_s * t) * note, 0.0)
    return x + hiss * np.random.default_rng(1).standard_normal(len(t))


def end_of(x: np.ndarray, *, next_onset_s: float | None = None) -> End:
    frames = band_frames(x[None], rate_hz=RATE_HZ)
    floor = quiet_floor(frames, [Quiet(0.05, 0.35)])
    assert floor is not None
    return find_end(frames, floor, onset_s=ONSET_S, next_onset_s=next_onset_s)


def test_next_pluck_less_its_guard() -> None:
    end = end_of(take(6.0, t60_s=8.0), next_onset_s=3.0)
    assert end == End(2.94, "next-pluck", ("replucked",))


@pytest.mark.parametrize("next_onset_s", [None, 3.5])
def test_a_hand_on_the_strings(next_onset_s: float | None) -> None:
    """Damped at 2.0 s with 300 dB/s."""
    x = take(4.5, t60_s=6.0, hiss=0.0)
    t = np.arange(len(x)) / RATE_HZ
    x *= 10.0 ** (-15.0 * np.maximum(t - 2.0, 0.0))
    x += 1e-4 * np.random.default_rng(2).standard_normal(len(x))
    end = end_of(x, next_onset_s=next_onset_s)
    assert (end.ended_by, end.flags) == ("damped", ("damped",))
    assert end.end_s == pytest.approx(2.0, abs=0.05)


def test_decay_into_the_noise() -> None:
    """20 dB/s from 0.2 down to hiss: each partial meets the hiss of its band after 2 to 3.5 s."""
    end = end_of(take(8.0, t60_s=3.0))
    assert end.ended_by == "noise"
    assert 2.5 < end.end_s < 5.0


def test_cut_by_the_end_of_the_file() -> None:
    end = end_of(take(3.0, t60_s=8.0))
    assert end == End(3.0, "file-end", ("cut",))


def test_faded_end() -> None:
    """Linear fade from 4.0 to 5.0 s: 1.5 dB down after 0.16 s, and the hiss with it."""
    x = take(5.0, t60_s=8.0)
    x *= np.clip((5.0 - np.arange(len(x)) / RATE_HZ) / 1.0, 0.0, 1.0)
    end = end_of(x)
    assert (end.ended_by, end.flags) == ("file-end", ("faded",))
    assert 3.8 < end.end_s < 4.3


def test_a_fast_natural_decay_is_no_hand() -> None:
    """80 dB/s, as short as a 24th fret rings."""
    end = end_of(take(3.0, t60_s=0.75))
    assert end.ended_by == "noise"
