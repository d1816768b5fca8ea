"""Fingers that lift off a damped string are no plucks, however many there are."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tonecompare.session.model import Instrument, Recording, Session, Stage
from tonecompare.takes import load_takes
from tonecompare.takes.model import Take

RATE_HZ = 48000
NOTES_HZ = (82.4069, 146.8324, 246.9417)


@cache
def _note(hz: float) -> np.ndarray:
    """Three seconds of an ideal string picked at 0.17 and heard at 0.08 of its length, its highs
    dying sooner."""
    t = np.arange(3 * RATE_HZ) / RATE_HZ
    x = np.zeros_like(t)
    for n in range(1, 25):
        size = abs(np.sin(np.pi * n * 0.17) * np.sin(np.pi * n * 0.08)) / n**0.3
        x += size * np.exp(-6.9 * t * (1 + 0.05 * n) / 4.0) * np.sin(2 * np.pi * n * hz * t)
    return 0.3 * x / np.abs(x).max()


def _take(
    folder: Path, *, lift_db: float, every: int, lift_s: float = 0.35
) -> tuple[Take, list[float], list[float]]:
    """Pluck, ring 1.5 s, damp within 0.1 s; every so often a finger moves ``lift_s`` later."""
    rng = np.random.default_rng(4)
    plucks, lifts, parts, at = [], [], [np.zeros(2 * RATE_HZ)], 2 * RATE_HZ
    for index, hz in enumerate(np.repeat(NOTES_HZ, 3)):
        x = 10 ** (rng.normal(0, 0.6) / 20) * _note(float(hz))
        damped = round(1.5 * RATE_HZ)
        silenced = np.ones(len(x))
        silenced[damped:] = np.exp(-6.9 * np.arange(len(x) - damped) / RATE_HZ / 0.1)
        x *= silenced
        plucks.append(at / RATE_HZ)
        if index % every == 0:
            lift = damped + round(lift_s * RATE_HZ)
            t = np.arange(len(x) - lift) / RATE_HZ
            touch = 10 ** (lift_db / 20) * _note(float(hz))[: len(t)] * np.exp(-6.9 * t / 1.5)
            x[lift:] += touch * silenced[lift:] if lift < damped else touch
            lifts.append((at + lift) / RATE_HZ)
        parts.append(x)
        at += len(x)
    noisy = np.concatenate(parts) + 4e-5 * rng.standard_normal(at)
    sf.write(folder / "neck.wav", noisy, RATE_HZ, subtype="PCM_24")
    recording = Recording("stock", "neck", (folder / "neck.wav",))
    session = Session(
        "t", folder, {"stock": Stage("stock", "heron", folder)}, (recording,),
        instruments={"heron": Instrument("heron")},
    )  # fmt: skip
    (take,), _ = load_takes(session, recording)
    return take, plucks, lifts


@pytest.mark.parametrize("every", [1, 3])
@pytest.mark.parametrize("lift_db", [-25.0, -35.0])
def test_fingers_that_lift_are_left_out_and_told(
    tmp_path: Path, lift_db: float, every: int
) -> None:
    take, plucks, lifts = _take(tmp_path, lift_db=lift_db, every=every)
    onsets = [pluck.channel_onset_s[0] for pluck in take.plucks]
    assert onsets == pytest.approx(plucks, abs=0.005)
    assert "touches" in take.flags
    told = next(problem for problem in take.problems if "finger" in problem)
    assert told.startswith(f"{len(lifts)} sound")
    assert f"at {lifts[0]:.1f} s" in told


@pytest.mark.parametrize("every", [1, 3])
def test_a_hand_that_comes_down_before_it_damps_is_left_out(tmp_path: Path, every: int) -> None:
    # Measured with the note that still rings beneath, such a touch is 15 to 40 dB under the notes.
    take, plucks, touches = _take(tmp_path, lift_db=-20.0, every=every, lift_s=-0.3)
    onsets = [pluck.channel_onset_s[0] for pluck in take.plucks]
    assert onsets == pytest.approx(plucks, abs=0.005)
    assert "touches" in take.flags
    assert any(problem.startswith(f"{len(touches)} sound") for problem in take.problems)


def test_a_soft_pluck_is_a_pluck(tmp_path: Path) -> None:
    # 14 dB under the others: what soft playing does against hard.
    take, plucks, _ = _take(tmp_path, lift_db=-14.0, every=1)
    assert len(take.plucks) == 2 * len(plucks)
    assert "touches" not in take.flags
