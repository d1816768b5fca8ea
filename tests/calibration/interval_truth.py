"""The true difference of every quantity of an interval session.

Of a hand that scatters about one place and force the mean difference is 0. A coil's sensitivity
moves level and bands by its decibels and nothing else, a mains line's level the hum by its own.
Inductance moves the resonance by ``1/√L``; what it does to level, bands and brightness is taken
from noise-free plucks through either pickup by plain sums (:func:`levels_of`) over the notes that a
row joins.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import scipy.fft
from finite_difference_string import RAMP_S
from interval_sessions import PHYSICS, Drawn, meant_pluck, motions_of, sensed
from scenario_takes import RATE_HZ, guitar

from tonecompare import strings as st
from tonecompare.arrays import FloatArray

_MID_HZ: Mapping[str, float] = {
    f"{name:04d}": 1000.0 * 10.0 ** (0.3 * n)
    for name, n in zip((63, 125, 250, 500, 1000, 2000, 4000, 8000), range(-4, 4), strict=True)
}
_OF_THE_VOICE = ("resonance_hz", "resonance_q", "pickup_distance_mm", "pluck_point")
_ELSE = ("decay_s", "attack_ms", "inharmonicity", "cents")


@dataclass(frozen=True)
class ExactPlucks:
    """One noise-free pluck of every string, as meant, through any pickup."""

    physics: str
    kept: Path

    def levels(self, pickup: st.Magnetic | st.Parallel, string: int) -> dict[str, float]:
        """Level, bands and brightness of one string's pluck on their analysis scales."""
        if self.physics == PHYSICS[0]:
            session = Drawn((0, 0), self.physics, "nothing", "bridge", True, (string,), 1)
            channel = st.Channel("magnetic", pickup)
            rendered = st.render_recording(
                guitar(),
                st.VoiceSpec("bridge", (channel,)),
                [replace(meant_pluck(string), time_s=0.1)],
                rng=np.random.default_rng(session.number),
                rate_hz=RATE_HZ,
                length_s=1.5,
                subtype="FLOAT",
            )
            return levels_of(rendered.samples[0][round(0.1 * RATE_HZ) :])
        path = self.kept / f"exact-{string}.npy"
        if not path.exists():
            np.save(path, motions_of(string, [meant_pluck(string)], [0]))
        x = sensed(np.load(path)[0], pickup, string)
        return levels_of(x[round(RAMP_S * RATE_HZ) :])


def levels_of(x: FloatArray) -> dict[str, float]:
    """Level and bands in dB and the logarithm of brightness of noise-free samples from the onset.

    Bands are sums over the transform of 0.05 to 0.55 s under a raised cosine (a filter's edge as
    the bands are defined: cos² over a quarter octave), brightness the mean frequency weighted by
    the magnitudes of 0.05 to 1.05 s.
    """
    part = x[round(0.05 * RATE_HZ) : round(0.55 * RATE_HZ)]
    out = {"level_dbfs": 10.0 * math.log10(float(np.mean(part**2)))}
    power = np.abs(scipy.fft.rfft(part * np.hanning(part.size))) ** 2
    hz = scipy.fft.rfftfreq(part.size, 1.0 / RATE_HZ)
    bands = {}
    for name, mid_hz in _MID_HZ.items():
        octave = np.abs(np.log10(np.maximum(hz, 1.0) / mid_hz))
        edge = np.clip((octave - 0.15) / 0.075 + 0.5, 0.0, 1.0)
        bands[name] = 10.0 * math.log10(float(power @ np.cos(0.5 * np.pi * edge) ** 2))
    whole = 10.0 * math.log10(sum(10 ** (level / 10) for level in bands.values()))
    out |= {f"band_{name}_db": level for name, level in bands.items()}
    out |= {f"shape_{name}_db": level - whole for name, level in bands.items()}
    size = 8192
    part = x[round(0.05 * RATE_HZ) : round(1.05 * RATE_HZ)]
    frames = np.lib.stride_tricks.sliding_window_view(part, size)[:: size // 4]
    magnitude = np.abs(scipy.fft.rfft(frames * np.hanning(size), axis=1)).mean(axis=0)
    hz = scipy.fft.rfftfreq(size, 1.0 / RATE_HZ)
    heard = (hz >= 60.0) & (hz <= 12000.0)
    out["centroid_hz"] = math.log(float(magnitude[heard] @ hz[heard] / magnitude[heard].sum()))
    return out


def truth_of(session: Drawn, exact: ExactPlucks) -> dict[tuple[str, int], float]:
    """Return the true difference by (quantity, string; 0 where it is the same for all)."""
    quiet = {"hum_dbfs": session.hum_db, "hiss_dbfs": 0.0}
    if session.kind == "place":
        moved = session.pick_mm / guitar().scale_length_mm
        known = quiet | dict.fromkeys(_OF_THE_VOICE, 0.0) | {"pluck_point": moved}
        return {(name, 0): value for name, value in known.items()}
    known = quiet | dict.fromkeys(_OF_THE_VOICE, 0.0)
    known["resonance_hz"] = math.log(session.resonance)
    if session.kind == "resonance":
        del known["resonance_q"]
        pickups = [one.pickups[session.voice] for one in session.conditions.values()]
        found = {(name, 0): value for name, value in known.items()}
        for string in session.strings:
            before, after = (exact.levels(pickup, string) for pickup in pickups)
            found |= {(name, string): after[name] - before[name] for name in before}
        return found
    known |= dict.fromkeys(_ELSE, 0.0) | {"centroid_hz": 0.0}
    known |= {f"shape_{name}_db": 0.0 for name in _MID_HZ}
    known |= {f"band_{name}_db": session.louder_db for name in _MID_HZ}
    known |= {
        "level_dbfs": session.louder_db,
        "signal_to_hum_db": session.louder_db - session.hum_db,
    }
    return {(name, 0): value for name, value in known.items()}
