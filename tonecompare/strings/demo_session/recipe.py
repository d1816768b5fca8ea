"""What a recording of the demo is made from: a visit, a guitar, a voice, and the room's noise.

Every number here is made up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.strings.instruments import standard_strings
from tonecompare.strings.model import (
    Channel,
    InstrumentSpec,
    Magnetic,
    NoiseSpec,
    PluckSpec,
    VoiceSpec,
)
from tonecompare.strings.noise import coil_line_dbfs
from tonecompare.strings.player import plucks_in_turn, vary_plucks

RATE_HZ = 44100.0
_DAMP_BEFORE_S = 0.2
#: What one coil of hum 1 picks up at this bench, lines 1 … 10 (before the circuit).
_FIELD_DBFS = (-58.0, -82.0, -67.0, -86.0, -72.0, -90.0, -77.0, -93.0, -81.0, -96.0)
#: Electric-field buzz, lines 11 … 40: a second coil does not cancel it.
_BUZZ_DBFS = tuple(-94.0 - 0.25 * k - (6.0 if k % 2 else 0.0) for k in range(30))
_HISS_DBFS = -90.0
#: Cable of all visits.
LONG_CABLE_F = 420e-12


@dataclass(frozen=True)
class Visit:
    """One session at the bench: gain, mains, hand and how much was played."""

    name: str
    gain_db: float
    mains_hz: float
    #: What all plucks of it have in common, but for the picking place.
    like: PluckSpec
    repeats: int
    quiet_s: float
    #: Seconds from pluck to pluck, string 6 … 1: low strings ring longer.
    spacing_s: Mapping[int, float]


@dataclass(frozen=True)
class Planned:
    """One file before it is played."""

    stage: str
    instrument: InstrumentSpec
    visit: Visit
    voice: str
    channels: tuple[Channel, ...]
    pick_mm: float
    #: By how much a screened guitar picks up less electric-field buzz.
    screened_db: float = 0.0


@dataclass(frozen=True)
class DemoRecording:
    """One file of the demo: where it goes and everything needed to render it."""

    stage: str
    voice: VoiceSpec
    instrument: InstrumentSpec
    plucks: tuple[PluckSpec, ...]
    noise: tuple[NoiseSpec, ...]
    length_s: float
    #: Seed of the generator that draws the noise.
    seed: tuple[int, ...]

    @property
    def file(self) -> str:
        """Path below the demo folder."""
        return f"{self.stage}/{self.voice.name}.flac"


def guitar(
    name: str, *, scale_length_mm: float, seat_db: float = 0.0, damping: float = 1.0
) -> InstrumentSpec:
    """Return a guitar; ``seat_db`` is what a badly seated saddle costs string 3 in the piezo.

    ``damping`` multiplies every string's losses.
    """
    strings = []
    for string in standard_strings():
        b0, b1, b2 = string.damping
        lost = (2.6 * b0 * damping, 1.9 * b1 * damping, 1.5 * b2 * damping)
        gain = 10 ** (seat_db / 20) if string.number == 3 else 1.0
        strings.append(replace(string, damping=lost, piezo_gain=gain))
    return InstrumentSpec(name, tuple(strings), scale_length_mm)


def louder(pickup: Magnetic, gain_db: float) -> Magnetic:
    """Return a pickup with more turns: more of the string and as much more of the mains field."""
    gain = 10 ** (gain_db / 20)
    coils = tuple(
        replace(coil, sensitivity=coil.sensitivity * gain, hum=coil.hum * gain)
        for coil in pickup.coils
    )
    return replace(pickup, coils=coils)


def played(planned: Planned, number: int) -> DemoRecording:
    """Return a planned file with its plucks drawn; ``number`` seeds it."""
    rng = np.random.default_rng((2718, number))
    plucks, length_s = _plucks(planned, rng)
    return DemoRecording(
        stage=planned.stage,
        voice=VoiceSpec(planned.voice, planned.channels),
        instrument=planned.instrument,
        plucks=plucks,
        noise=tuple(_noise(planned, channel, rng) for channel in planned.channels),
        length_s=length_s,
        seed=(2719, number),
    )


def _plucks(planned: Planned, rng: np.random.Generator) -> tuple[tuple[PluckSpec, ...], float]:
    visit = planned.visit
    plucks: list[PluckSpec] = []
    start_s = visit.quiet_s
    for string, spacing_s in visit.spacing_s.items():
        plucks += plucks_in_turn(
            [(string, 0)],
            start_s=start_s,
            spacing_s=spacing_s,
            repeats=visit.repeats,
            damp_before_s=_DAMP_BEFORE_S,
            like=replace(visit.like, position_mm=planned.pick_mm),
        )
        start_s += visit.repeats * spacing_s
    return vary_plucks(plucks, rng=rng), start_s


def _noise(planned: Planned, channel: Channel, rng: np.random.Generator) -> NoiseSpec:
    """Noise of a channel: hum by its coils, buzz, and hiss; piezo and blend add the preamp's."""
    mains_hz = planned.visit.mains_hz + 0.01 * float(rng.uniform(-1, 1))
    gain = channel.gain_db
    lines = np.full(len(_FIELD_DBFS) + len(_BUZZ_DBFS), -np.inf)
    lines[len(_FIELD_DBFS) :] = np.asarray(_BUZZ_DBFS) + gain - planned.screened_db
    if channel.magnetic is not None:
        hum = coil_line_dbfs(channel.magnetic, _FIELD_DBFS, mains_hz=mains_hz)
        with np.errstate(divide="ignore"):
            share = 20 * np.log10(1 - channel.ratio)
        lines[: len(hum)] = np.asarray(hum) + gain + share
    else:
        lines[:4] = np.array([-84.0, -90.0, -88.0, -97.0]) + gain
    hiss = _HISS_DBFS + gain + (4.0 if channel.piezo is not None else 0.0)
    return NoiseSpec(mains_hz=mains_hz, line_dbfs=tuple(lines.tolist()), hiss_dbfs=hiss)
