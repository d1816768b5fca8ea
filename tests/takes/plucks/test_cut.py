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


@pytest.mark.parametrize("quiet_s", [0.6, 1.0, 2.0])
@pytest.mark.parametrize("over_hum_db", [3.0, 6.0, 10.0])
def test_a_hand_on_a_note_that_had_sunk_near_the_hum(over_hum_db: float, quiet_s: float) -> None:
    """The bass of E2 shares its band with the hum; it falls by 1086 dB/s from 2.1 s on."""
    t = np.arange(round((2.1 + quiet_s) * RATE_HZ)) / RATE_HZ
    since = t - ONSET_S
    note = np.exp(-6.907755 / 4.0 * since) * np.sin(2 * np.pi * 82.4069 * since)
    at_hand = np.exp(-6.907755 / 4.0 * 1.6)
    note = np.where(since >= 0, 1e-3 * 10 ** (over_hum_db / 20) / at_hand * note, 0.0)
    note *= np.where(t < 2.1, 1.0, np.exp(-np.maximum(t - 2.1, 0.0) / 0.008))
    hum = 1e-3 * (np.sin(2 * np.pi * 50 * t) + 0.4 * np.sin(2 * np.pi * 150 * t + 1.0))
    hiss = 2e-5 * np.random.default_rng(1).standard_normal(t.size)
    end = end_of(note + hum + hiss, next_onset_s=2.1 + quiet_s)
    assert end.end_s == pytest.approx(2.1, abs=0.02)


def test_a_note_that_sinks_into_the_noise_has_no_step_made_up() -> None:
    """20 dB a second over steady hum, which it reaches 2 s after the onset."""
    t = np.arange(4 * RATE_HZ) / RATE_HZ
    since = t - ONSET_S
    decay = 0.1 * 10 ** (-20.0 * since / 20)
    note = np.where(since >= 0, decay * np.sin(2 * np.pi * 82.4069 * since), 0.0)
    hum = 1e-3 * np.sin(2 * np.pi * 50 * t)
    hiss = 1e-6 * np.random.default_rng(1).standard_normal(t.size)
    end = end_of(note + hum + hiss)
    assert end.ended_by == "noise"
    assert end.end_s > ONSET_S + 1.85
