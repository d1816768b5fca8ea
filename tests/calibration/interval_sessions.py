"""Many small sessions, each played and rendered for itself.

A session is one voice at two stages, four to six open strings by four or five plucks. Hand, voice
and what is done between the stages are drawn (:func:`drawn`); no two sessions share a pluck or a
quiet. Finite-difference strings are stepped for several sessions at once, which costs little more
than stepping them for one.
"""

from __future__ import annotations

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
        like = meant_pluck(
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


def meant_pluck(string: int, away_mm: float = 0.0, harder_db: float = 0.0) -> st.PluckSpec:
    """Return a pluck as it is meant, by a hand set so far away and so much harder."""
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
        motions = motions_of(number, [pluck for _, _, pluck in where], seed)
        for (index, stage, pluck), motion in zip(where, motions, strict=True):
            one = sessions[index]
            x = sensed(motion, one.conditions[stage].pickups[one.voice], number)
            first = round(pluck.time_s * RATE_HZ) - round(RAMP_S * RATE_HZ)
            out[index][stage][first : first + x.size] += x
    return out


def motions_of(number: int, plucks: Sequence[st.PluckSpec], seed: Sequence[int]) -> FloatArray:
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


def sensed(motion: FloatArray, pickup: st.Magnetic | st.Parallel, number: int) -> FloatArray:
    """Return what a pickup makes of one pluck's motion (polarisations, coils, n), (n,)."""
    return voice_signal(
        dict(zip(COILS_MM, np.swapaxes(motion, 0, 1), strict=True)),
        pickup,
        string_gain=guitar().string(number).magnetic_gain,
        rate_hz=RATE_HZ,
    )


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
