"""Whether sound goes on over a moment: closed forms with steady and broken sinusoids."""

from __future__ import annotations

import numpy as np
import pytest

from tonecompare.takes.plucks.new_sound import NewSound, new_sound

RATE_HZ = 44100.0
AT_S = 0.5


def partials(f0_hz: float, *, phase: float = 0.0, sigma: float = 3.0, n: int = 8) -> np.ndarray:
    t = np.arange(round(RATE_HZ)) / RATE_HZ
    waves = [np.sin(2 * np.pi * k * f0_hz * t + phase * k) / k for k in range(1, n + 1)]
    return np.exp(-sigma * t) * np.sum(waves, axis=0)


def over(before: np.ndarray, after: np.ndarray) -> NewSound:
    t = np.arange(len(before)) / RATE_HZ
    rng = np.random.default_rng(1)
    x = np.where(t < AT_S, before, after) + 1e-5 * rng.standard_normal(len(t))
    got = new_sound(x[None], rate_hz=RATE_HZ, at_s=AT_S)
    assert got is not None
    return got


@pytest.mark.parametrize("f0_hz", [61.7, 110.0, 329.6])
def test_what_goes_on_is_foretold(f0_hz: float) -> None:
    ringing = partials(f0_hz)
    got = over(ringing, ringing)
    assert got.broken < 0.01
    assert got.risen < 0.001
    assert got.elsewhere < 0.001


def test_buzz_adds_nothing_below() -> None:
    """High partials that come in over a ringing note: no pluck."""
    ringing = partials(110.0)
    t = np.arange(len(ringing)) / RATE_HZ
    buzz = sum(0.1 * np.sin(2 * np.pi * k * 110.0 * t) for k in range(20, 40))
    got = over(ringing, ringing + buzz)
    assert got.broken < 0.05
    assert got.elsewhere < 0.005


def test_same_note_plucked_again_breaks_the_phases() -> None:
    ringing = partials(110.0)
    got = over(ringing, partials(110.0, phase=2.0) * 3.0)
    assert got.broken > 0.3
    assert got.same_string is True


def test_soft_pluck_of_another_string_stands_elsewhere() -> None:
    """20 dB under what rings: a share of 0.01, less what falls on ringing partials."""
    ringing = partials(110.0, sigma=0.5)
    got = over(ringing, ringing + 0.1 * partials(146.8, sigma=0.5))
    assert 0.005 < got.elsewhere < 0.012
    assert got.broken < 0.1
    assert got.same_string is False


def test_pluck_out_of_quiet() -> None:
    got = over(np.zeros(round(RATE_HZ)), partials(196.0))
    assert got.risen > 0.99
    assert got.elsewhere > 0.99


def test_too_near_the_ends() -> None:
    x = partials(110.0)[None]
    assert new_sound(x, rate_hz=RATE_HZ, at_s=0.1) is None
    assert new_sound(x, rate_hz=RATE_HZ, at_s=0.95) is None
