"""Many small sessions, each played and rendered for itself, with the truth of every difference.

A session is one voice at two stages, four to six open strings by four or five plucks. Hand, voice
and what is done between the stages are drawn (:func:`drawn`); no two sessions share a pluck or a
quiet. Finite-difference strings are stepped for several sessions at once, which costs little more
than stepping them for one.

Truth
    Of a hand that scatters about one place and force the mean difference is 0. A coil's
    sensitivity moves level and bands by its decibels and nothing else, a mains line's level the
    hum by its own. Inductance moves the resonance by ``1/√L``; what it does to level, bands and
    brightness is taken from noise-free plucks through either pickup by plain sums
    (:func:`levels_of`) over the notes that a row joins.
"""

from __future__ import annotations

import math
import pickle
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import scipy.fft
import soundfile
from finite_difference_string import RAMP_S, simulate
from finite_difference_voice import voice_signal
from scenario_finite_difference import APERTURE_MM, COILS_MM, fd_pluck, fd_string
from scenario_takes import (
    HAND_SHARE,
    PICK_MM,
    PICKUPS,
    RATE_HZ,
    STAGES,
    STRENGTH_DB,
    USUAL,
    Condition,
    guitar,
    noise_of,
    session_of,
)

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import collected, measure_recording
from tonecompare.session.model import Recording
from tonecompare.strings.noise import render_noise

PHYSICS = ("modes", "finite-difference")
KINDS = ("nothing", "louder", "resonance", "place")
_SHARES = (0.4, 0.25, 0.25, 0.1)
#: Quiet before and after, from pluck to pluck, from the hand's damping to the next pluck, s.
_QUIET_S, _SPACING_S, _DAMP_S, _END_S = 2.0, 2.0, 0.25, 2.2
_TAIL_S = 0.2
#: Finite-difference sessions that are stepped together: the same strings, as many plucks.
TOGETHER = 8
_MID_HZ: Mapping[str, float] = {
    f"{name:04d}": 1000.0 * 10.0 ** (0.3 * n)
    for name, n in zip((63, 125, 250, 500, 1000, 2000, 4000, 8000), range(-4, 4), strict=True)
}
_OF_THE_QUIET = ("hum_dbfs", "hiss_dbfs", "signal_to_hum_db")
_OF_THE_VOICE = ("resonance_hz", "resonance_q", "pickup_distance_mm", "pluck_point")
_ELSE = ("decay_s", "attack_ms", "inharmonicity", "cents")


@dataclass(frozen=True)
class Drawn:
    """What one session is: who plays what on which voice, and what is done between its stages."""

    number: tuple[int, int]
    physics: str
    kind: str
    voice: str
    steady: bool
    strings: tuple[int, ...]
    repeats: int
    louder_db: float = 0.0
    hum_db: float = 0.0
    resonance: float = 1.0
    pick_mm: float = 0.0

    @property
    def conditions(self) -> dict[str, Condition]:
        """Both stages."""
        usual = replace(USUAL, hand=st.STEADY_HAND if self.steady else st.LOOSE_HAND)
        lines = tuple(line + self.hum_db for line in USUAL.line_dbfs[self.voice])
        after = replace(
            usual,
            pickups={**PICKUPS, self.voice: self._after()},
            line_dbfs={**USUAL.line_dbfs, self.voice: lines},
            pick_mm=self.pick_mm,
        )
        return dict(zip(STAGES, (usual, after), strict=True))

    def _after(self) -> st.Magnetic:
        pickup = PICKUPS[self.voice]
        assert isinstance(pickup, st.Magnetic)
        gain = 10 ** (self.louder_db / 20)
        coils = tuple(replace(c, sensitivity=c.sensitivity * gain) for c in pickup.coils)
        inductance_h = pickup.circuit.inductance_h / self.resonance**2
        return replace(
            pickup, coils=coils, circuit=replace(pickup.circuit, inductance_h=inductance_h)
        )


def drawn(physics: str, seed: int, index: int) -> Drawn:
    """Draw session ``index`` of a seed."""
    own = np.random.default_rng([seed, PHYSICS.index(physics), index])
    # Sessions that are stepped together have strings and plucks in common.
    batch = index // TOGETHER if physics == PHYSICS[1] else index
    common = np.random.default_rng([seed, PHYSICS.index(physics), batch, 1])
    count = 4 if physics == PHYSICS[1] else int(common.integers(4, 7))
    chosen = sorted(common.choice(6, count, replace=False) + 1, reverse=True)
    kind = str(own.choice(KINDS, p=_SHARES))
    session = Drawn(
        (seed, index),
        physics,
        kind,
        str(own.choice(list(PICKUPS))),
        bool(own.random() < 0.5),
        tuple(int(string) for string in chosen),
        int(common.integers(4, 6)),
    )
    if kind == "louder":
        return replace(session, louder_db=own.uniform(-3.0, 3.0), hum_db=own.uniform(-6.0, 6.0))
    if kind == "resonance":
        return replace(session, resonance=float(np.exp(own.uniform(-0.35, 0.35))))
    if kind == "place":
        return replace(session, pick_mm=float(own.uniform(-12.0, 12.0)))
    return session


def plucks_of(session: Drawn, stage: str) -> list[st.PluckSpec]:
    """Return what the hand plays at a stage: set anew for every string, scattering about that."""
    condition = session.conditions[stage]
    rng = np.random.default_rng([*session.number, PHYSICS.index(session.physics), *stage.encode()])
    meant: list[st.PluckSpec] = []
    for index, string in enumerate(session.strings):
        offset_mm, offset_db = HAND_SHARE * rng.standard_normal(2)
        like = _meant(
            string,
            condition.pick_mm + condition.hand.position_mm * offset_mm,
            condition.hand.level_db * offset_db,
        )
        meant += st.plucks_in_turn(
            [(string, 0)],
            start_s=_QUIET_S + index * session.repeats * _SPACING_S,
            spacing_s=_SPACING_S,
            repeats=session.repeats,
            damp_before_s=_DAMP_S,
            like=like,
        )
    return st.vary_plucks(meant, rng=rng, spread=condition.hand)


def _meant(string: int, away_mm: float = 0.0, harder_db: float = 0.0) -> st.PluckSpec:
    return st.PluckSpec(
        0.0,
        string,
        position_mm=PICK_MM + away_mm,
        strength_db=STRENGTH_DB + harder_db,
        slip=st.Slip(),
    )


def samples_of(sessions: Sequence[Drawn]) -> list[dict[str, FloatArray]]:
    """Render sessions of one kind of strings, both stages each, (n,)."""
    played = [{stage: plucks_of(one, stage) for stage in STAGES} for one in sessions]
    if sessions[0].physics == PHYSICS[0]:
        notes = [
            {stage: _by_modes(one, stage, plucks) for stage, plucks in of.items()}
            for one, of in zip(sessions, played, strict=True)
        ]
    else:
        notes = _by_stepping(sessions, played)
    return [
        {stage: x + _noise(one, stage, x.size) for stage, x in of.items()}
        for one, of in zip(sessions, notes, strict=True)
    ]


def _length(session: Drawn) -> int:
    """Length of a file, one that noise is made quickly for."""
    count = len(session.strings) * session.repeats
    seconds = _QUIET_S + count * _SPACING_S + _END_S
    return int(scipy.fft.next_fast_len(round(seconds * RATE_HZ), real=True))


def _noise(session: Drawn, stage: str, n: int) -> FloatArray:
    number = [*session.number, PHYSICS.index(session.physics), *stage.encode(), 1]
    rng = np.random.default_rng(number)
    noise = noise_of(session.conditions[stage], session.voice, rng)
    return render_noise(noise, n=n, rate_hz=RATE_HZ, rng=rng)


def _by_modes(session: Drawn, stage: str, plucks: Sequence[st.PluckSpec]) -> FloatArray:
    channel = st.Channel("magnetic", session.conditions[stage].pickups[session.voice])
    rendered = st.render_recording(
        guitar(),
        st.VoiceSpec(session.voice, (channel,)),
        list(plucks),
        rng=np.random.default_rng([*session.number, *stage.encode(), 2]),
        rate_hz=RATE_HZ,
        length_s=_length(session) / RATE_HZ,
        subtype="FLOAT",
    )
    return rendered.samples[0]


def _by_stepping(
    sessions: Sequence[Drawn], played: Sequence[Mapping[str, Sequence[st.PluckSpec]]]
) -> list[dict[str, FloatArray]]:
    out = [{stage: np.zeros(_length(one)) for stage in STAGES} for one in sessions]
    for number in sessions[0].strings:
        where = [
            (index, stage, pluck)
            for index, of in enumerate(played)
            for stage in STAGES
            for pluck in of[stage]
            if pluck.string == number
        ]
        seed = [*sessions[0].number, number]
        motions = _motions(number, [pluck for _, _, pluck in where], seed)
        for (index, stage, pluck), motion in zip(where, motions, strict=True):
            one = sessions[index]
            x = _sensed(motion, one.conditions[stage].pickups[one.voice], number)
            first = round(pluck.time_s * RATE_HZ) - round(RAMP_S * RATE_HZ)
            out[index][stage][first : first + x.size] += x
    return out


def _motions(number: int, plucks: Sequence[st.PluckSpec], seed: Sequence[int]) -> FloatArray:
    """Motion of plucks of one string in metres, (plucks, polarisations, coils, n)."""
    instrument = guitar()
    ring_s = _SPACING_S - _DAMP_S
    motion, _ = simulate(
        fd_string(instrument.string(number), instrument.scale_length_mm),
        [fd_pluck(pluck) for pluck in plucks],
        [(distance / 1000, APERTURE_MM / 1000) for distance in COILS_MM],
        n=round((RAMP_S + ring_s + _TAIL_S) * RATE_HZ),
        damp_s=ring_s,
        rate_hz=RATE_HZ,
        seed=seed,
    )
    return motion


def _sensed(motion: FloatArray, pickup: st.Magnetic | st.Parallel, number: int) -> FloatArray:
    return voice_signal(
        dict(zip(COILS_MM, np.swapaxes(motion, 0, 1), strict=True)),
        pickup,
        string_gain=guitar().string(number).magnetic_gain,
        rate_hz=RATE_HZ,
    )


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
                [replace(_meant(string), time_s=0.1)],
                rng=np.random.default_rng(session.number),
                rate_hz=RATE_HZ,
                length_s=1.5,
                subtype="FLOAT",
            )
            return levels_of(rendered.samples[0][round(0.1 * RATE_HZ) :])
        path = self.kept / f"exact-{string}.npy"
        if not path.exists():
            np.save(path, _motions(string, [_meant(string)], [0]))
        x = _sensed(np.load(path)[0], pickup, string)
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


def measured(
    physics: str, seed: int, indices: Sequence[int], takes: Path, *, anew: bool = False
) -> list[Measurements]:
    """Render, write and measure sessions that are stepped together; keep what is measured.

    With ``anew`` kept files are measured again.
    """
    sessions = [drawn(physics, seed, index) for index in indices]
    paths = [[takes / f"{physics}-{seed}-{i}-{stage}.flac" for stage in STAGES] for i in indices]
    if not all(path.exists() for of in paths for path in of):
        for of, samples in zip(paths, samples_of(sessions), strict=True):
            for path, stage in zip(of, STAGES, strict=True):
                unfinished = path.with_suffix(".unfinished")
                soundfile.write(
                    unfinished, samples[stage], int(RATE_HZ), subtype="PCM_24", format="FLAC"
                )
                unfinished.rename(path)
    out = []
    for index, one, of in zip(indices, sessions, paths, strict=True):
        kept = takes / f"{physics}-{seed}-{index}.pickle"
        if anew or not kept.exists():
            parts = []
            for path, stage in zip(of, STAGES, strict=True):
                recording = Recording(stage, one.voice, (path,))
                parts.append(measure_recording(session_of(takes, (recording,)), recording))
            unfinished = kept.with_suffix(".part")
            unfinished.write_bytes(pickle.dumps(collected(parts)))
            unfinished.rename(kept)
        out.append(pickle.loads(kept.read_bytes()))
    return out
