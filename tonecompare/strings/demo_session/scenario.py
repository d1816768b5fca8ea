"""The invented demo session: two guitars, what was done to one of them, and how both were played.

Every number here is made up. ``heron`` gets a hotter bridge pickup with a coil split, later a
saddle piezo with preamp and blend; ``plover`` is left alone and recorded on both visits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from tonecompare.strings.instruments import humbucker, single_coil, split_coil, standard_strings
from tonecompare.strings.model import (
    Channel,
    Circuit,
    InstrumentSpec,
    Magnetic,
    NoiseSpec,
    Piezo,
    PluckSpec,
    VoiceSpec,
)
from tonecompare.strings.noise import coil_line_dbfs
from tonecompare.strings.player import plucks_in_turn, vary_plucks

RATE_HZ = 44100.0
QUIET_S = 2.5
REPEATS = 5
#: Seconds from pluck to pluck, string 6 … 1: low strings ring longer.
SPACING_S = {6: 2.5, 5: 2.4, 4: 2.2, 3: 2.0, 2: 1.9, 1: 1.8}
_DAMP_BEFORE_S = 0.2

#: What one coil of hum 1 picks up at this bench, lines 1 … 10 (before the circuit).
_FIELD_DBFS = (-58.0, -82.0, -67.0, -86.0, -72.0, -90.0, -77.0, -93.0, -81.0, -96.0)
#: Electric-field buzz, lines 11 … 40: a second coil does not cancel it.
_BUZZ_DBFS = tuple(-94.0 - 0.25 * k - (6.0 if k % 2 else 0.0) for k in range(30))

_LONG_CABLE = 420e-12
#: The rewound coils have more turns: more of the string and as much more of the mains field.
REWIND_DB = 3.0


def _louder(pickup: Magnetic, gain_db: float) -> Magnetic:
    gain = 10 ** (gain_db / 20)
    coils = tuple(
        replace(coil, sensitivity=coil.sensitivity * gain, hum=coil.hum * gain)
        for coil in pickup.coils
    )
    return replace(pickup, coils=coils)


_STOCK_BRIDGE = humbucker(
    45.0, sensitivity=0.24, mismatch=0.08, circuit=Circuit(4.3, 8100.0, 120e-12, 200e3, _LONG_CABLE)
)
_REWOUND_BRIDGE = _louder(
    humbucker(
        45.0,
        sensitivity=0.24,
        mismatch=0.04,
        circuit=Circuit(6.6, 13200.0, 140e-12, 200e3, _LONG_CABLE),
    ),
    REWIND_DB,
)
_NECK = humbucker(
    158.0,
    sensitivity=0.16,
    mismatch=0.03,
    circuit=Circuit(4.0, 7600.0, 120e-12, 200e3, _LONG_CABLE),
)
_PIEZO = Piezo(
    sensitivity=0.30,
    capacitance_f=1e-9,
    input_ohm=4.7e6,
    bandwidth_hz=13e3,
    second_polarisation=0.4,
)
#: The piezo's preamp is digital and inverts.
PIEZO_DELAY_US = 350.0
PIEZO_POLARITY = -1
BLEND_RATIO = 0.4
#: Changes between the visits that are not the work.
GAIN_DB = {"first": 0.0, "second": 1.0}
MAINS_HZ = {"first": 49.98, "second": 50.03}
_HISS_DBFS = -90.0


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


def _instrument(name: str, *, scale_length_mm: float, seat_db: float = 0.0) -> InstrumentSpec:
    """Return a guitar; ``seat_db`` is what a badly seated saddle costs string 3 in the piezo."""
    strings = []
    for string in standard_strings():
        b0, b1, b2 = string.damping
        gain = 10 ** (seat_db / 20) if string.number == 3 else 1.0
        strings.append(replace(string, damping=(2.6 * b0, 1.9 * b1, 1.5 * b2), piezo_gain=gain))
    return InstrumentSpec(name, tuple(strings), scale_length_mm)


HERON = _instrument("heron", scale_length_mm=648.0, seat_db=-5.0)
PLOVER = _instrument("plover", scale_length_mm=628.0)
_PLOVER_BRIDGE = single_coil(
    42.0, sensitivity=0.42, circuit=Circuit(2.6, 6200.0, 110e-12, 111e3, _LONG_CABLE)
)
_PLOVER_NECK = single_coil(
    150.0, sensitivity=0.22, circuit=Circuit(2.3, 5700.0, 110e-12, 111e3, _LONG_CABLE)
)


def _mag(pickup: Magnetic, visit: str) -> Channel:
    return Channel("magnetic", pickup, gain_db=GAIN_DB[visit])


def _piezo_channel(visit: str) -> Channel:
    return Channel(
        "piezo",
        None,
        _PIEZO,
        ratio=1.0,
        delay_us=PIEZO_DELAY_US,
        polarity=PIEZO_POLARITY,
        gain_db=GAIN_DB[visit],
    )


def _blend_channel(visit: str) -> Channel:
    return replace(
        _piezo_channel(visit), output="blend", magnetic=_REWOUND_BRIDGE, ratio=BLEND_RATIO
    )


#: stage, instrument, visit, voice, channels, pick distance in mm.
_PLAN = (
    ("heron-stock", HERON, "first", "bridge", (_mag(_STOCK_BRIDGE, "first"),), 115.0),
    ("heron-stock", HERON, "first", "neck", (_mag(_NECK, "first"),), 120.0),
    ("plover-first", PLOVER, "first", "bridge", (_mag(_PLOVER_BRIDGE, "first"),), 112.0),
    ("plover-first", PLOVER, "first", "neck", (_mag(_PLOVER_NECK, "first"),), 118.0),
    ("heron-rewound", HERON, "second", "bridge", (_mag(_REWOUND_BRIDGE, "second"),), 115.0),
    (
        "heron-rewound",
        HERON,
        "second",
        "bridge-split",
        (_mag(split_coil(_REWOUND_BRIDGE, coil="far"), "second"),),
        115.0,
    ),
    # Nobody touched the neck pickup, but the pick landed 12 mm further up.
    ("heron-rewound", HERON, "second", "neck", (_mag(_NECK, "second"),), 132.0),
    ("plover-second", PLOVER, "second", "bridge", (_mag(_PLOVER_BRIDGE, "second"),), 112.5),
    ("plover-second", PLOVER, "second", "neck", (_mag(_PLOVER_NECK, "second"),), 117.5),
    ("heron-piezo", HERON, "second", "bridge", (_mag(_REWOUND_BRIDGE, "second"),), 115.0),
    (
        "heron-piezo",
        HERON,
        "second",
        "bridge-and-piezo",
        (_mag(_REWOUND_BRIDGE, "second"), _piezo_channel("second")),
        115.0,
    ),
    ("heron-piezo", HERON, "second", "blend", (_blend_channel("second"),), 115.0),
)


def demo_recordings() -> Iterator[DemoRecording]:
    """Yield every recording of the demo; the plucks are drawn, the audio is not rendered yet."""
    for index, (stage, instrument, visit, name, channels, position_mm) in enumerate(_PLAN):
        rng = np.random.default_rng((2718, index))
        plucks, length_s = _plucks(visit, position_mm, rng)
        yield DemoRecording(
            stage=stage,
            voice=VoiceSpec(name, channels),
            instrument=instrument,
            plucks=plucks,
            noise=tuple(_noise(channel, visit, rng) for channel in channels),
            length_s=length_s,
            seed=(2719, index),
        )


def _plucks(
    visit: str, position_mm: float, rng: np.random.Generator
) -> tuple[tuple[PluckSpec, ...], float]:
    # Another day: a slightly different hand, strings a few hours older.
    like = PluckSpec(0.0, 1, position_mm=position_mm)
    if visit == "second":
        like = replace(like, strength_db=0.1, decay_factor=0.98, angle_deg=31.0, detune_cents=0.4)
    plucks: list[PluckSpec] = []
    start_s = QUIET_S
    for string, spacing_s in SPACING_S.items():
        plucks += plucks_in_turn(
            [(string, 0)],
            start_s=start_s,
            spacing_s=spacing_s,
            repeats=REPEATS,
            damp_before_s=_DAMP_BEFORE_S,
            like=like,
        )
        start_s += REPEATS * spacing_s
    return vary_plucks(plucks, rng=rng), start_s


def _noise(channel: Channel, visit: str, rng: np.random.Generator) -> NoiseSpec:
    """Noise of a channel: hum by its coils, buzz, and hiss; piezo and blend add the preamp's."""
    mains_hz = MAINS_HZ[visit] + 0.01 * float(rng.uniform(-1, 1))
    gain = channel.gain_db
    lines = np.full(len(_FIELD_DBFS) + len(_BUZZ_DBFS), -np.inf)
    lines[len(_FIELD_DBFS) :] = np.asarray(_BUZZ_DBFS) + gain
    if channel.magnetic is not None:
        hum = coil_line_dbfs(channel.magnetic, _FIELD_DBFS, mains_hz=mains_hz)
        with np.errstate(divide="ignore"):
            share = 20 * np.log10(1 - channel.ratio)
        lines[: len(hum)] = np.asarray(hum) + gain + share
    else:
        lines[:4] = np.array([-84.0, -90.0, -88.0, -97.0]) + gain
    hiss = _HISS_DBFS + gain + (4.0 if channel.piezo is not None else 0.0)
    return NoiseSpec(mains_hz=mains_hz, line_dbfs=tuple(lines.tolist()), hiss_dbfs=hiss)
