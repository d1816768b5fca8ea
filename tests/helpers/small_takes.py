"""Small synthetic recordings for tests that run whole commands: quick to make and to measure.

Plain sums of decaying partials in hum and hiss; not the project's string model, so that a fault
there cannot hide a fault here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import soundfile as sf

RATE_HZ = 44_100
#: Equal temperament, A4 = 440 Hz: 440·2^((MIDI − 69)/12) of E2, A2 and D3 (ISO 16).
NOTES_HZ = {"E2": 82.4069, "A2": 110.0, "D3": 146.8324}
QUIET_S = 2.0
RING_S = 1.6


def take(
    *,
    notes: Sequence[str] = ("E2", "A2"),
    repeats: int = 3,
    gain: float = 0.2,
    t60_s: float = 3.0,
    slope: float = 1.0,
    hum: float = 3e-4,
    hiss: float = 1e-4,
    quiet_s: float = QUIET_S,
    rate_hz: int = RATE_HZ,
    seed: int = 1,
) -> np.ndarray:
    """Return quiet, then each note ``repeats`` times, in (sample value), one channel.

    Partial n has the amplitude ``gain/n**slope`` and the decay time ``t60_s/(1 + n/8)``; every
    pluck is a little louder or softer than the last (0.3 dB standard deviation).
    """
    random = np.random.default_rng(seed)
    pluck_n = round(RING_S * rate_hz)
    time_s = np.arange(pluck_n) / rate_hz
    parts = [np.zeros(round(quiet_s * rate_hz))]
    fade_n = rate_hz // 50
    for note in notes:
        pluck = np.zeros(pluck_n)
        for n in range(1, 25):
            hz = n * NOTES_HZ[note]
            if hz > 0.45 * rate_hz:
                break
            decay = np.exp(-6.9078 * (1 + n / 8) / t60_s * time_s)
            pluck += decay * np.sin(2 * np.pi * hz * time_s) / n**slope
        pluck[-fade_n:] *= np.linspace(1, 0, fade_n)
        for _ in range(repeats):
            loudness = gain * 10 ** (random.normal(0, 0.3) / 20)
            parts.append(loudness * pluck)
    samples = np.concatenate(parts)
    at_s = np.arange(samples.size) / rate_hz
    samples += hum * np.sin(2 * np.pi * 50.0 * at_s) + 0.3 * hum * np.sin(2 * np.pi * 150.0 * at_s)
    return samples + hiss * random.standard_normal(samples.size)


def write(
    path: Path, samples: np.ndarray, *, rate_hz: int = RATE_HZ, subtype: str = "PCM_24"
) -> None:
    """Write (n,) or (channels, n) samples."""
    path.parent.mkdir(parents=True, exist_ok=True)
    sf.write(path, np.asarray(samples).T, rate_hz, subtype=subtype)


def stage(folder: Path, voices: Mapping[str, Mapping[str, float]], *, seed: int = 1) -> Path:
    """Write a stage: a file per voice, each with its own arguments for :func:`take`."""
    for number, (voice, changed) in enumerate(voices.items()):
        write(folder / f"{voice}.wav", take(seed=seed + 10 * number, **changed))
    return folder


def two_stages(folder: Path) -> Path:
    """Write the stages ``before`` and ``after`` of two voices; the neck got quieter by half."""
    stage(folder / "before", {"neck": {}, "bridge": {"slope": 0.7}}, seed=1)
    stage(folder / "after", {"neck": {"gain": 0.1}, "bridge": {"slope": 0.7}}, seed=5)
    return folder
