"""The scenarios' files from finite-difference strings, so that truth is not from the fitted model.

Strings move the same whatever pickup hears them: the motion of a file's plucks is stepped once and
kept in a folder for all conditions that are played alike. A session never deals two files of the
same number, so that no hand is in it twice. Gain, hum and noise are those of
:mod:`scenario_takes`.
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
    MACHINE,
    RATE_HZ,
    RING_S,
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
    """Plays files as :func:`scenario_takes.played_file` does.

    ``folder`` keeps the motions; those of ``together`` files are stepped at once.
    """

    folder: Path
    together: int = 1

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
        key = crc32(repr((played, voice)).encode())
        seed, index = number
        # A machine plays one file of a kind.
        together = 1 if condition.hand == MACHINE else self.together
        batch = (index // together) * together
        files = [_Played.of(condition, [key, seed, i]) for i in range(batch, batch + together)]
        kept = self.folder / f"{key:08x}-{seed}-{batch}.npy"
        if not kept.exists():
            np.save(kept, _moved(files, seed=[key, seed, batch]))
        return files[index - batch].plucks, np.load(kept, mmap_mode="r")[index - batch]


@dataclass(frozen=True)
class _Played:
    """Plucks of one file and what touched them, by time."""

    plucks: tuple[st.PluckSpec, ...]
    touched: dict[float, float]

    @classmethod
    def of(cls, condition: Condition, seed: Sequence[int]) -> _Played:
        rng = np.random.default_rng(list(seed))
        plucks = played_plucks(condition, rng)
        touched = {touch.time_s: touch.position_mm for touch in touches(condition, plucks, rng)}
        return cls(plucks, touched)


def _moved(files: Sequence[_Played], *, seed: Sequence[int]) -> np.ndarray:
    """Step every string's plucks of all files together, (files, plucks, coils, polarisations, n).

    float32 is enough for a ten-thousandth of a micron.
    """
    parts = []
    instrument = guitar()
    n = round((0.04 + RING_S + _TAIL_S) * RATE_HZ)
    for number in dict.fromkeys(pluck.string for pluck in files[0].plucks):
        string = fd_string(instrument.string(number), instrument.scale_length_mm)
        motion, _ = simulate(
            string,
            [
                _fd_pluck(pluck, file.touched)
                for file in files
                for pluck in file.plucks
                if pluck.string == number
            ],
            [(distance / 1000, _APERTURE_MM / 1000) for distance in _COILS_MM],
            n=n,
            damp_s=RING_S,
            rate_hz=RATE_HZ,
            seed=[*seed, number],
        )
        parts.append(np.split(np.swapaxes(motion, 1, 2).astype(np.float32), len(files)))
    return np.stack([np.concatenate(file) for file in zip(*parts, strict=True)])


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
