"""The scenarios' files from finite-difference strings, so that truth is not from the fitted model.

Strings move the same whatever pickup hears them: the motion of a file's plucks is stepped once and
kept in a folder for all conditions that are played alike. A session never deals two files of the
same number, so that no hand is in it twice. Gain, hum and noise are those of
:mod:`scenario_takes`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zlib import crc32

import numpy as np
from finite_difference_string import RAMP_S, FdPluck, FdString, simulate
from finite_difference_voice import voice_signal
from numpy.typing import NDArray
from scenario_takes import (
    MACHINE,
    RATE_HZ,
    RING_S,
    Condition,
    Played,
    guitar,
    length_s,
    noise_of,
    played,
    rng_of,
)

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.strings.noise import render_noise

#: Every coil's distance from the bridge in mm, and the apertures that are sensed.
COILS_MM, APERTURE_MM = (36.0, 54.0, 150.0), 12.0
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
class FdRender:
    """Renders files as :func:`scenario_takes.modes_rendered` does.

    ``motions`` keeps how strings moved; the plucks of ``together`` files are stepped at once.
    """

    motions: Path
    together: int = 1

    def __call__(self, condition: Condition, voice: str, number: Sequence[int]) -> FloatArray:
        """Render one file of this (seed, number), (n,)."""
        plucks = played(condition, voice, number).plucks
        motion = self._motion(condition, voice, number)
        n = round(length_s(len(plucks)) * RATE_HZ)
        samples = np.zeros(n)
        instrument = guitar()
        for index, pluck in enumerate(plucks):
            out = voice_signal(
                dict(zip(COILS_MM, motion[index].astype(np.float64), strict=True)),
                condition.pickups[voice],
                string_gain=instrument.string(pluck.string).magnetic_gain,
                rate_hz=RATE_HZ,
            )
            first = round(pluck.time_s * RATE_HZ) - round(RAMP_S * RATE_HZ)
            samples[first : first + out.size] += out
        samples *= 10 ** (condition.gain_db / 20)
        rng = rng_of(condition, voice, number)
        noise = noise_of(condition, voice, rng)
        return samples + render_noise(noise, n=n, rate_hz=RATE_HZ, rng=rng)

    def _motion(self, condition: Condition, voice: str, number: Sequence[int]) -> FloatArray:
        """Motion of a file's plucks in metres, (plucks, coils, polarisations, n)."""
        seed, index = number
        # A machine plays one file of a kind.
        together = 1 if condition.hand == MACHINE else self.together
        batch = (index // together) * together
        files = [played(condition, voice, (seed, batch + i)) for i in range(together)]
        key = crc32(repr(files).encode())
        kept = self.motions / f"{key:08x}.npy"
        if not kept.exists():
            np.save(kept, _moved(files, seed=[key]))
        moved: FloatArray = np.load(kept, mmap_mode="r")[index - batch]
        return moved


def _moved(files: Sequence[Played], *, seed: Sequence[int]) -> NDArray[np.float32]:
    """Step every string's plucks of all files together, (files, plucks, coils, polarisations, n).

    float32 is enough for a ten-thousandth of a micron.
    """
    parts = []
    instrument = guitar()
    n = round((RAMP_S + RING_S + _TAIL_S) * RATE_HZ)
    for number in dict.fromkeys(pluck.string for pluck in files[0].plucks):
        string = fd_string(instrument.string(number), instrument.scale_length_mm)
        motion, _ = simulate(
            string,
            [
                fd_pluck(pluck, file.touches)
                for file in files
                for pluck in file.plucks
                if pluck.string == number
            ],
            [(distance / 1000, APERTURE_MM / 1000) for distance in COILS_MM],
            n=n,
            damp_s=RING_S,
            rate_hz=RATE_HZ,
            seed=[*seed, number],
        )
        parts.append(np.split(np.swapaxes(motion, 1, 2).astype(np.float32), len(files)))
    return np.stack([np.concatenate(file) for file in zip(*parts, strict=True)])


def fd_pluck(pluck: st.PluckSpec, touches: Sequence[st.PluckSpec] = ()) -> FdPluck:
    """Return one pluck, and what touches the string at its end, for the scheme."""
    late = [touch for touch in touches if 0.0 < touch.time_s - pluck.time_s < RING_S]
    return FdPluck(
        position_m=pluck.position_mm / 1000,
        pull_m=1e-3 * 10 ** (pluck.strength_db / 20),
        angle_rad=float(np.deg2rad(pluck.angle_deg)),
        touch_s=late[0].time_s - pluck.time_s if late else None,
        touch_m=late[0].position_mm / 1000 if late else 0.3,
        decay_factor=pluck.decay_factor,
    )
