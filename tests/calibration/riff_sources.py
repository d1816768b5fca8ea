"""What riffs are played on: two string models of different physics, and real lines cut anew.

Each gives the sound of performances without noise, sample values at 44.1 kHz; gain, treble, hum and
hiss are added to it afterwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from finite_difference_string import RAMP_S, FdPluck, FdString, simulate
from finite_difference_voice import voice_signal
from played_riffs import Performance
from scenario_finite_difference import fd_string
from scenario_takes import RATE_HZ, guitar

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.strings.instruments import humbucker, standard_instrument

PICKUP = humbucker(45.0)
_COILS_MM, _APERTURE_MM = (36.0, 54.0), 12.0
_TAIL_S = 0.15


class Source(Protocol):
    """Sounds of several performances, (n,) each."""

    def __call__(self, performances: Mapping[str, Performance]) -> dict[str, FloatArray]:
        """Render them."""


@dataclass(frozen=True)
class Modes:
    """The project's string model: strings that stretch, or do not."""

    instrument: st.InstrumentSpec

    def __call__(self, performances: Mapping[str, Performance]) -> dict[str, FloatArray]:
        """Render each by itself."""
        voice = st.VoiceSpec("bridge", (st.Channel("magnetic", PICKUP),))
        return {
            name: st.render_recording(
                self.instrument,
                voice,
                played.plucks,
                rng=np.random.default_rng(0),
                rate_hz=RATE_HZ,
                length_s=played.length_s,
                subtype="FLOAT",
            ).samples[0]
            for name, played in performances.items()
        }


@dataclass(frozen=True)
class FiniteDifferences:
    """Strings stepped in time, which stretch (:mod:`finite_difference_string`).

    Plucks of one string and fret that ring equally long are stepped together.
    """

    instrument: st.InstrumentSpec

    def __call__(self, performances: Mapping[str, Performance]) -> dict[str, FloatArray]:
        """Render all at once."""
        out = {
            name: np.zeros(round(played.length_s * RATE_HZ))
            for name, played in performances.items()
        }
        alike: dict[tuple[int, int, float], list[tuple[str, st.PluckSpec]]] = {}
        for name, played in performances.items():
            for pluck in played.plucks:
                rings_s = round(pluck.damp_s or 0.0, 4)
                alike.setdefault((pluck.string, pluck.fret, rings_s), []).append((name, pluck))
        for (number, fret, rings_s), members in alike.items():
            plucks = [pluck for _, pluck in members]
            sounds = self._sounds(number, fret, rings_s, plucks)
            for (name, pluck), sound in zip(members, sounds, strict=True):
                first = round((pluck.time_s - RAMP_S) * RATE_HZ)
                whole = out[name][first : first + sound.size]
                whole += sound[: whole.size]
        return out

    def _sounds(
        self, number: int, fret: int, rings_s: float, plucks: Sequence[st.PluckSpec]
    ) -> list[FloatArray]:
        string = self.instrument.string(number)
        motion, _ = simulate(
            _fretted(fd_string(string, self.instrument.scale_length_mm), fret),
            [
                FdPluck(
                    pluck.position_mm / 1000.0,
                    1e-3 * 10.0 ** (pluck.strength_db / 20.0),
                    float(np.deg2rad(pluck.angle_deg)),
                )
                for pluck in plucks
            ],
            [(distance / 1000.0, _APERTURE_MM / 1000.0) for distance in _COILS_MM],
            n=round((RAMP_S + rings_s + _TAIL_S) * RATE_HZ),
            damp_s=rings_s,
            damp_per_s=60.0,
            rate_hz=RATE_HZ,
            seed=[number, fret],
        )
        return [
            voice_signal(
                dict(zip(_COILS_MM, np.swapaxes(moved, 0, 1), strict=True)),
                PICKUP,
                string_gain=string.magnetic_gain,
                rate_hz=RATE_HZ,
            )
            for moved in motion
        ]


def _fretted(string: FdString, fret: int) -> FdString:
    """Return a string shortened by a finger; stiffness counts more (1/L²)."""
    ratio = 2.0 ** (fret / 12.0)
    return replace(
        string,
        length_m=string.length_m / ratio,
        open_hz=string.open_hz * ratio,
        inharmonicity=string.inharmonicity * ratio**2,
    )


#: Name, source, and the pull at the pick re 1 mm.
SOURCES: Mapping[str, tuple[Source, float]] = {
    "soft": (Modes(standard_instrument()), -12.0),
    "stretching": (Modes(guitar()), 0.0),
    "finite-difference": (FiniteDifferences(guitar()), 3.0),
}
