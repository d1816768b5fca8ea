"""Simulated plucks of an ideal string through a pickup, as tables: picking place, strength, filter.

Where :mod:`simulated_tables` scatters every quantity by itself, here the quantities of
a pluck hang together as physics has them: partials follow from the picking place (``|sin(n pi
p)|/n``), the hand's strength (louder and brighter together), the frequency response of pickup and
cable, and a little scatter of their own; level, brightness and the rest follow from the partials.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from tonecompare.arrays import FloatArray
from tonecompare.compare.comb_correction import NULL_POWER
from tonecompare.measure.model import Measurements
from tonecompare.measure.pluck.harmonic_balance import TILT_FLOOR
from tonecompare.quantities.compared import quiet_quantities
from tonecompare.quantities.registry import N_PARTIALS, PARTIAL_DECAYS, PARTIAL_LEVELS
from tonecompare.session.model import STANDARD_TUNING, ComparisonSpec, Instrument, Session, Stage

ResponseDb = Callable[[FloatArray], FloatArray]

#: Open strings in Hz (ISO 16, equal temperament), lowest first.
OPEN_HZ = (82.4069, 110.0, 146.8324, 195.9977, 246.9417, 329.6276)
#: Distance of the pickup from the bridge as a share of the string, by voice.
PICKUP_SHARE: Mapping[str, float] = {"bridge": 0.07, "middle": 0.15, "neck": 0.24}
_ORDER = np.arange(1, N_PARTIALS + 1)


@dataclass(frozen=True)
class Playing:
    """How one stage was played and recorded.

    ``place`` is the picking place as a share of the string, ``strength_db`` how much harder than
    usual; ``response_db`` what pickup, cable and input make of a frequency; ``gain_db`` acts on
    everything, hiss included. ``decay_high`` multiplies the decay times of partial 12 (partial 1
    stays; between them in proportion), ``stiffness`` the inharmonicity.
    """

    place: float = 0.17
    place_sd: float = 0.004
    strength_db: float = 0.0
    strength_sd_db: float = 0.6
    gain_db: float = 0.0
    response_db: ResponseDb = field(default=lambda hz: np.zeros_like(hz))
    decay_factor: float = 1.0
    decay_high: float = 1.0
    stiffness: float = 1.0
    cents: float = 0.0
    #: Added to hum lines 1 … 10.
    hum_db: tuple[float, ...] = (0.0,) * 10


@dataclass(frozen=True)
class Picks:
    """What is recorded, and how far hands and measurements scatter."""

    repeats: int = 5
    stretches: int = 2
    voices: tuple[str, ...] = ("bridge", "middle", "neck")
    #: From one note's hand position to the next, shared by its plucks in one stage.
    note_place_sd: float = 0.003
    note_strength_sd_db: float = 0.3
    #: Error of the estimated picking place.
    estimate_sd: float = 0.004
    #: Own scatter of each partial in dB.
    partial_sd_db: float = 0.5
    #: How much brighter a harder pluck is, dB per octave of partials for each dB.
    brighter: float = 0.25


def simulated_picks(
    rng: np.random.Generator,
    before: Playing,
    after: Playing,
    picks: Picks | None = None,
    *,
    only: str = "",
) -> tuple[Session, Measurements]:
    """Return a session of stages ``before`` and ``after`` and its simulated measurements.

    Parameters
    ----------
    rng
        Source of all randomness.
    before, after
        How the stages were played and recorded.
    picks
        Repeats, voices and scatter.
    only
        The one voice that ``after`` holds for ("" for every voice); others stay as before.
    """
    picks = picks or Picks()
    plucks, quiet = [], []
    for stage, playing in (("before", before), ("after", after)):
        for voice in picks.voices:
            own = before if only and voice != only else playing
            plucks.append(_plucks(rng, picks, own, stage, voice))
            quiet.append(_quiet(rng, picks, own, stage, voice))
    session = Session(
        "simulated",
        Path(),
        {name: Stage(name, "guitar", Path(name)) for name in ("before", "after")},
        (),
        instruments={"guitar": Instrument("guitar", 648.0)},
        comparisons=(ComparisonSpec("before", "after"),),
    )
    return session, Measurements(
        pd.concat(plucks, ignore_index=True), pd.concat(quiet, ignore_index=True), pd.DataFrame()
    )


def _plucks(
    rng: np.random.Generator, picks: Picks, playing: Playing, stage: str, voice: str
) -> pd.DataFrame:
    rows = []
    for string, (note, f0) in enumerate(zip(STANDARD_TUNING, OPEN_HZ, strict=True)):
        f0_hz = f0 * 2.0 ** (playing.cents / 1200.0)
        place = playing.place + picks.note_place_sd * rng.standard_normal()
        strength = playing.strength_db + picks.note_strength_sd_db * rng.standard_normal()
        for repeat in range(picks.repeats):
            p = place + playing.place_sd * rng.standard_normal()
            s = strength + playing.strength_sd_db * rng.standard_normal()
            row = _pluck(rng, picks, playing, f0_hz, p, s, PICKUP_SHARE.get(voice, 0.15))
            row |= {"stage": stage, "voice": voice, "output": "magnetic", "channel": 1}
            row |= {"note": note, "file": f"{stage}/{voice}.wav", "flags": ()}
            row["string"] = len(OPEN_HZ) - string
            row["pluck"] = string * picks.repeats + repeat + 1
            row["f0_hz"] = f0_hz * 2.0 ** (0.5 * rng.standard_normal() / 1200.0)
            row["cents"] = 1200.0 * float(np.log2(float(str(row["f0_hz"])) / f0))
            rows.append(row)
    return pd.DataFrame(rows)


def _pluck(
    rng: np.random.Generator,
    picks: Picks,
    playing: Playing,
    f0_hz: float,
    p: float,
    strength_db: float,
    pickup: float,
) -> dict[str, object]:
    hz = np.asarray(f0_hz * _ORDER, dtype=np.float64)
    level = -20.0 + strength_db + playing.gain_db - 20.0 * np.log10(_ORDER)
    level += picks.brighter * strength_db * np.log2(_ORDER)
    level += 10.0 * np.log10(np.square(np.sin(np.pi * _ORDER * p)) + NULL_POWER / 2.0)
    level += 10.0 * np.log10(np.square(np.sin(np.pi * _ORDER * pickup)) + NULL_POWER)
    level += -8.0 * np.square(hz / 4000.0) + playing.response_db(hz)
    level += picks.partial_sd_db * rng.standard_normal(N_PARTIALS)
    power = 10.0 ** (level / 10.0)
    amplitude = np.sqrt(power)
    total = float(power.sum())
    h = 10.0 * np.log10(power / total)
    weight = power / (power + TILT_FLOOR * power.max()) / _ORDER
    octave = np.log2(_ORDER) - float(np.average(np.log2(_ORDER), weights=weight))
    odd = _ORDER % 2 == 1
    row: dict[str, object] = dict(zip(PARTIAL_LEVELS, h, strict=True))
    row["level_dbfs"] = 10.0 * np.log10(total)
    row["centroid_hz"] = float((hz * amplitude).sum() / amplitude.sum())
    row["tilt_db_per_octave"] = float((weight * octave * h).sum() / (weight * octave**2).sum())
    row["odd_even_db"] = 10.0 * np.log10(power[odd].sum() / power[~odd].sum())
    for k, part in enumerate((slice(0, 1), slice(1, 4), slice(4, None)), start=1):
        row[f"tristimulus_{k}"] = float(amplitude[part].sum() / amplitude.sum())
    row["attack_ms"] = 8.0 * float(np.exp(0.15 * rng.standard_normal()))
    row["inharmonicity"] = 1e-4 * playing.stiffness * float(np.exp(0.1 * rng.standard_normal()))
    row["pluck_point"] = p + picks.estimate_sd * rng.standard_normal()
    order = np.arange(1, len(PARTIAL_DECAYS) + 1)
    factor = playing.decay_factor * playing.decay_high ** ((order - 1) / (order.size - 1))
    times = 8.0 / order**0.5 * factor * np.exp(0.05 * rng.standard_normal(order.size))
    row |= dict(zip(PARTIAL_DECAYS, times, strict=True))
    for name, share in (("decay_s", 3), ("decay_early_s", 5), ("decay_late_s", 1)):
        row[name] = float(times[:share].mean()) * float(np.exp(0.04 * rng.standard_normal()))
    return row


def _quiet(
    rng: np.random.Generator, picks: Picks, playing: Playing, stage: str, voice: str
) -> pd.DataFrame:
    rows = []
    lines = np.array([-70.0 - 3.0 * k for k in range(10)]) + np.array(playing.hum_db)
    for k in range(picks.stretches):
        now = lines + playing.gain_db + 0.2 * rng.standard_normal(10)
        row: dict[str, object] = {
            "stage": stage,
            "voice": voice,
            "output": "magnetic",
            "channel": 1,
            "file": f"{stage}/{voice}.wav",
            "start_s": 20.0 * k,
            "length_s": 2.0,
            "flags": (),
        }
        for quantity in quiet_quantities():
            row[quantity.column] = -80.0 + playing.gain_db + 0.1 * float(rng.standard_normal())
            row[f"{quantity.column}_se"] = 0.1
        row |= {f"hum_{i:02d}_dbfs": float(v) for i, v in enumerate(now, start=1)}
        row["hum_dbfs"] = 10.0 * float(np.log10((10.0 ** (now / 10.0)).sum()))
        signal = -20.0 + playing.strength_db + playing.gain_db
        row["signal_to_hum_db"] = signal - float(str(row["hum_dbfs"]))
        row["mains_hz"] = 50.0 + 0.01 * float(rng.standard_normal())
        rows.append(row)
    return pd.DataFrame(rows)
