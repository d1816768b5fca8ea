"""Quiet stretches: hum is quiet, a dying note, a fade, a gate and a muted stretch are not."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.takes.frames import band_frames
from tonecompare.takes.model import Quiet
from tonecompare.takes.quiet import find_quiets, quiet_floor

RATE_HZ = 44100


def hiss(length_s: float, *, seed: int = 1, rms: float = 1e-4) -> np.ndarray:
    return rms * np.random.default_rng(seed).standard_normal(round(length_s * RATE_HZ))


def decaying(length_s: float, *, t60_s: float) -> np.ndarray:
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    partials = sum(np.sin(2 * np.pi * k * 110.0 * t) / k for k in range(1, 9))
    return 0.2 * np.exp(-6.907755 / t60_s * t) * partials


def quiets_of(samples: np.ndarray, *onsets_s: float) -> tuple[Quiet, ...]:
    return find_quiets(band_frames(samples[None], rate_hz=RATE_HZ), onsets_s=onsets_s)


def test_all_of_a_quiet_file() -> None:
    (quiet,) = quiets_of(hiss(3.0))
    assert quiet.start_s < 0.1
    assert quiet.length_s > 2.6


def test_strong_hum_is_quiet() -> None:
    """60 Hz at -40 dBFS, 50 dB over the hiss."""
    t = np.arange(3 * RATE_HZ) / RATE_HZ
    hum = 0.01 * np.sin(2 * np.pi * 60.02 * t) + 0.004 * np.sin(2 * np.pi * 180.06 * t)
    assert sum(quiet.length_s for quiet in quiets_of(hum + hiss(3.0))) > 2.5


@pytest.mark.parametrize("gap_s", [0.5, 2.0])
def test_quiet_before_a_pluck_ends_before_it(gap_s: float) -> None:
    x = hiss(gap_s + 3.0)
    x[round(gap_s * RATE_HZ) :] += decaying(3.0, t60_s=6.0)
    (quiet,) = quiets_of(x, gap_s)
    assert gap_s - 0.25 < quiet.start_s + quiet.length_s <= gap_s - 0.1
    assert quiet.start_s < 0.1


@pytest.mark.parametrize("t60_s", [3.0, 8.0, 15.0])
def test_a_dying_note_is_not_quiet(t60_s: float) -> None:
    """Decays of 20, 7.5 and 4 dB/s to the end of the file, still 20 dB over the hiss at its end."""
    length_s = 0.5 * t60_s
    assert quiets_of(decaying(length_s, t60_s=t60_s) + hiss(length_s), 0.0) == ()


def test_quiet_returns_when_the_note_is_gone() -> None:
    x = hiss(6.0) + decaying(6.0, t60_s=1.5)  # 66 dB down to the hiss: gone after 1.9 s
    quiets = quiets_of(x, 0.0)
    assert quiets
    assert min(quiet.start_s for quiet in quiets) > 1.4
    assert sum(quiet.length_s for quiet in quiets) > 1.5


def test_quiet_between_damped_notes() -> None:
    x = hiss(4.0)
    for start in (0.5, 2.0):
        at = round(start * RATE_HZ)
        x[at : at + RATE_HZ] += decaying(1.0, t60_s=5.0)
    quiets = quiets_of(x, 0.5, 2.0)
    assert any(1.5 < quiet.start_s < 1.7 and 0.2 < quiet.length_s < 0.4 for quiet in quiets)


def test_digital_silence_is_not_quiet() -> None:
    x = np.concatenate([np.zeros(RATE_HZ), hiss(1.0), np.zeros(RATE_HZ)])
    for quiet in quiets_of(x):
        assert quiet.start_s > 0.95
        assert quiet.start_s + quiet.length_s < 2.05


def test_a_fade_is_not_quiet() -> None:
    x = (decaying(4.0, t60_s=6.0) + hiss(4.0)) * np.clip(np.linspace(4.0, 0.0, 4 * RATE_HZ), 0, 1)
    assert quiets_of(x, 0.0) == ()


def test_a_muted_stretch_is_not_the_quiet() -> None:
    """After the volume went down, hiss falls by 20 dB: that is not the quiet of the take."""
    x = np.concatenate([hiss(1.0), decaying(2.0, t60_s=6.0) + hiss(2.0), hiss(1.0, rms=1e-5)])
    quiets = quiets_of(x, 1.0)
    assert quiets
    assert all(quiet.start_s < 1.0 for quiet in quiets)


def test_contact_noise_before_the_pluck_is_kept_out() -> None:
    x = hiss(2.5)
    at = round(1.0 * RATE_HZ)
    x[at : at + 2205] += hiss(0.05, seed=3, rms=5e-3)
    x[round(1.3 * RATE_HZ) :] += decaying(1.2, t60_s=6.0)
    for quiet in quiets_of(x, 1.3):
        assert quiet.start_s + quiet.length_s < 1.0 or quiet.start_s > 1.05


def test_floor_is_the_power_of_the_quiet() -> None:
    """White noise of RMS 1e-4 has 1e-8 in all, 1e-8 * 10 970 / 22 050 in 30 Hz-11 kHz."""
    frames = band_frames(hiss(3.0)[None], rate_hz=RATE_HZ)
    floor = quiet_floor(frames, [Quiet(0.5, 2.0)])
    assert floor is not None
    assert floor.sum() == pytest.approx(1e-8 * 10970 / 22050, rel=0.03)
    assert quiet_floor(frames, []) is None
