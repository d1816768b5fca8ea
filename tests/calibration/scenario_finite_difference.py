"""The scenarios' files from finite-difference strings, so that truth is not from the fitted model.

Strings move the same whatever pickup hears them: the motion of a file's plucks is stepped once and
kept in a folder, and a voice worked on hears other motions than the untouched one, so that no hand
is in a session twice. Gain, hum and noise are those of :mod:`scenario_takes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zlib import crc32

import numpy as np
from finite_difference_string import FdPluck, FdString, simulate
from finite_difference_voice import voice_signal
from scenario_takes import (
    RATE_HZ,
    RING_S,
    USUAL,
    Condition,
    PlayedFile,
    guitar,
    length_s,
    measured_file,
    noise_of,
    played_plucks,
    touches,
)

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.strings.noise import render_noise

#: Every coil's distance from the bridge in mm, and the apertures that are sensed.
_COILS_MM, _APERTURE_MM = (36.0, 54.0, 150.0), 12.0
_TAIL_S = 0.2
#: Losses agree with the string's own at this frequency.
_LOSS_KHZ = 1.5


def fd_string(string: st.StringSpec, scale_mm: float) -> FdString:
    """Return the numbers of one open string for the finite-difference scheme."""
    length_m = scale_mm / 1000
    b0, b1, b2 = string.damping
    wavenumber = 2 * np.pi * 1000 * _LOSS_KHZ / (2 * length_m * string.open_hz)
    sigma1 = (b1 * _LOSS_KHZ + b2 * _LOSS_KHZ**2) / wavenumber**2
    ratio = string.damping_ratio
    return FdString(
        length_m,
        string.open_hz,
        string.inharmonicity,
        (b0, b0 * ratio),
        (sigma1, sigma1 * ratio),
        string.split,
        string.stretch,
    )


@dataclass(frozen=True)
class FdPlayer:
    """Plays files as :func:`scenario_takes.played_file` does; ``folder`` keeps the motions."""

    folder: Path

    def __call__(
        self, condition: Condition, voice: str, name: str, seed: Sequence[int]
    ) -> PlayedFile:
        """Play one file; the last of ``seed`` is its number among those of its condition."""
        plucks, motion = self._motion(condition, voice, [seed[0], seed[-1]])
        rng = np.random.default_rng(list(seed))
        n = round(length_s(len(plucks)) * RATE_HZ)
        samples = np.zeros(n)
        instrument = guitar()
        for index, pluck in enumerate(plucks):
            out = voice_signal(
                dict(zip(_COILS_MM, motion[index].astype(np.float64), strict=True)),
                condition.pickups[voice],
                string_gain=instrument.string(pluck.string).magnetic_gain,
                rate_hz=RATE_HZ,
            )
            first = round(pluck.time_s * RATE_HZ) - self._release
            samples[first : first + out.size] += out
        samples *= 10 ** (condition.gain_db / 20)
        noise = noise_of(condition, voice, rng)
        samples += render_noise(noise, n=n, rate_hz=RATE_HZ, rng=rng)
        return measured_file(samples[None, :], voice, name, plucks, condition.gain_db)

    @property
    def _release(self) -> int:
        """Steps before the release (of every simulation)."""
        return round(0.04 * RATE_HZ)

    def _motion(
        self, condition: Condition, voice: str, number: Sequence[int]
    ) -> tuple[tuple[st.PluckSpec, ...], FloatArray]:
        """Plucks of a file and their motion (plucks, coils, polarisations, n) in metres."""
        played = replace(condition, pickups={}, line_dbfs={}, gain_db=0.0)
        worked = condition.pickups[voice] != USUAL.pickups.get(voice)
        key = crc32(repr((played, voice, worked or condition.gain_db)).encode())
        rng = np.random.default_rng([key, *number])
        plucks = played_plucks(condition, rng)
        touched = {touch.time_s: touch.position_mm for touch in touches(condition, plucks, rng)}
        kept = self.folder / f"{key:08x}-{number[0]}-{number[1]}.npy"
        if not kept.exists():
            np.save(kept, _moved(plucks, touched, seed=[key, *number]))
        return plucks, np.load(kept, mmap_mode="r")


def _moved(
    plucks: Sequence[st.PluckSpec], touched: dict[float, float], *, seed: Sequence[int]
) -> np.ndarray:
    """Step every string's plucks together; float32 is enough for a ten-thousandth of a micron."""
    parts = []
    instrument = guitar()
    n = round((0.04 + RING_S + _TAIL_S) * RATE_HZ)
    for number in dict.fromkeys(pluck.string for pluck in plucks):
        string = fd_string(instrument.string(number), instrument.scale_length_mm)
        motion, _ = simulate(
            string,
            [_fd_pluck(pluck, touched) for pluck in plucks if pluck.string == number],
            [(distance / 1000, _APERTURE_MM / 1000) for distance in _COILS_MM],
            n=n,
            damp_s=RING_S,
            rate_hz=RATE_HZ,
            seed=[*seed, number],
        )
        parts.append(np.swapaxes(motion, 1, 2).astype(np.float32))
    return np.concatenate(parts)


def _fd_pluck(pluck: st.PluckSpec, touched: dict[float, float]) -> FdPluck:
    after = {time_s - pluck.time_s: place for time_s, place in touched.items()}
    touch_s = next((late for late in after if 0.0 < late < RING_S), None)
    return FdPluck(
        position_m=pluck.position_mm / 1000,
        pull_m=1e-3 * 10 ** (pluck.strength_db / 20),
        angle_rad=float(np.deg2rad(pluck.angle_deg)),
        touch_s=touch_s,
        touch_m=0.3 if touch_s is None else after[touch_s] / 1000,
        decay_factor=pluck.decay_factor,
    )
