"""One voice at one stage of a scenario, played, rendered and measured; its truth beside it.

A file is quiet, 6 open strings by 5 plucks (each damped before the next), quiet. The hand is set
anew for every note by a share of its scatter (:data:`calibration_pool.HAND_SHARE`), and every pluck
scatters about that; hum wanders from file to file, as in :mod:`calibration_pool`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from zlib import crc32

import numpy as np
from calibration_pool import HAND_SHARE, HUM_WANDER_DB, REPEATS, instrument

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.measure.session import MeasuredRecording, measure_recording
from tonecompare.session.model import ComparisonSpec, Instrument, Recording, Session, Stage, Voice

RATE_HZ = 44100.0
STAGES = ("before", "after")


def near_string(pickup: st.Magnetic) -> st.Magnetic:
    """Return the pickup set at a usual distance from the strings, which bends its output."""
    law = st.DistanceLaw()
    return replace(pickup, coils=tuple(replace(coil, law=law) for coil in pickup.coils))


PICKUPS: Mapping[str, st.Magnetic | st.Parallel] = {
    "bridge": near_string(st.humbucker(45.0)),
    "neck": near_string(st.single_coil(150.0)),
}
#: What the session tells of voices that sound more than one pickup.
TOLD_PICKUPS = {"middle": ("bridge", "neck")}
#: Hum lines 1, 2, … of every voice before the work, dBFS.
ROOM_DBFS = (-60.0, -80.0, -68.0, -84.0, -72.0)
HISS_DBFS, PINK_DBFS = -88.0, -94.0
_HUSH_DB = -40.0
#: Slow drift of every hum line and of the mains within a file, standard deviations.
LINE_WANDER_DB, MAINS_WANDER_HZ = 0.7, 0.01
PICK_MM, STRENGTH_DB = 120.0, -6.0
#: No hand at all: every pluck as it is meant.
MACHINE = st.Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
#: E·A/T of strings 1 to 6: plain 0.25, 0.33 and 0.43 mm, wound on cores of 0.33, 0.40 and 0.46 mm.
STRETCH = (140.0, 250.0, 395.0, 245.0, 290.0, 425.0)
_QUIET_S, _SPACING_S, _DAMP_S, _END_S = 3.0, 2.4, 0.25, 3.2
#: How long a note rings before the hand damps it.
RING_S = _SPACING_S - _DAMP_S
#: A touch at the end of a note: so much below the note, so long before the string is damped.
_TOUCH_DB, _TOUCH_S = (-35.0, -22.0), 0.3


@dataclass(frozen=True)
class Condition:
    """How a stage is wired, played and recorded.

    Work: ``pickups`` and ``line_dbfs`` (hum lines by voice). Not work: ``gain_db`` of the interface
    (acts on notes, hum and hiss), ``pick_mm`` and ``harder_db`` away from the usual hand, and
    ``touched``: the share of notes at whose end the hand touches the string first.
    """

    pickups: Mapping[str, st.Magnetic | st.Parallel]
    line_dbfs: Mapping[str, tuple[float, ...]]
    hand: st.Spread = st.LOOSE_HAND
    gain_db: float = 0.0
    pick_mm: float = 0.0
    harder_db: float = 0.0
    touched: float = 0.0

    def work_alone(self) -> Condition:
        """Return the same work, played by a machine at the usual gain."""
        return Condition(self.pickups, self.line_dbfs, hand=MACHINE)


#: Renders one file of a voice, (n,): condition, voice, (seed, number).
Render = Callable[[Condition, str, Sequence[int]], FloatArray]

USUAL = Condition(PICKUPS, dict.fromkeys(PICKUPS, ROOM_DBFS))


def guitar() -> st.InstrumentSpec:
    """Six strings that stretch."""
    plain = instrument()
    strings = tuple(replace(s, stretch=STRETCH[s.number - 1]) for s in plain.strings)
    return replace(plain, strings=strings)


@dataclass(frozen=True, eq=False)
class PlayedFile:
    """A measured file as either stage, and the plucks that were played; compared by identity."""

    as_stage: Mapping[str, MeasuredRecording]
    played: tuple[st.PluckSpec, ...]
    gain_db: float


def session_of(root: Path, recordings: Sequence[Recording] = ()) -> Session:
    """Return a session of two stages of one instrument."""
    return Session(
        "scenario",
        root,
        {stage: Stage(stage, "wren", root) for stage in STAGES},
        tuple(recordings),
        instruments={"wren": Instrument("wren", 648.0)},
        comparisons=(ComparisonSpec(*STAGES),),
        voices={name: Voice(name, pickups) for name, pickups in TOLD_PICKUPS.items()},
    )


def played_plucks(condition: Condition, rng: np.random.Generator) -> tuple[st.PluckSpec, ...]:
    """Return every pluck of a file: 6 strings by 5, by a hand set anew for every string."""
    hand = condition.hand
    meant: list[st.PluckSpec] = []
    for index, string in enumerate(range(6, 0, -1)):
        offset_mm, offset_db = HAND_SHARE * rng.standard_normal(2)
        like = st.PluckSpec(
            0.0,
            1,
            position_mm=PICK_MM + condition.pick_mm + hand.position_mm * offset_mm,
            strength_db=STRENGTH_DB + condition.harder_db + hand.level_db * offset_db,
            slip=st.Slip(),
        )
        meant += st.plucks_in_turn(
            [(string, 0)],
            start_s=_QUIET_S + index * REPEATS * _SPACING_S,
            spacing_s=_SPACING_S,
            repeats=REPEATS,
            damp_before_s=_DAMP_S,
            like=like,
        )
    return st.vary_plucks(meant, rng=rng, spread=hand)


def touches(
    condition: Condition, plucks: Sequence[st.PluckSpec], rng: np.random.Generator
) -> list[st.PluckSpec]:
    """Return what a hand does to the strings that it touches before it damps them."""
    touched: list[st.PluckSpec] = []
    for pluck in plucks:
        chance, depth, place = rng.random(3)
        if pluck.damp_s is None or chance >= condition.touched:
            continue
        low, high = _TOUCH_DB
        touched.append(
            replace(
                pluck,
                time_s=pluck.time_s + pluck.damp_s - _TOUCH_S,
                strength_db=pluck.strength_db + low + (high - low) * depth,
                position_mm=60.0 + 200.0 * place,
                release_ms=0.5,
                width_mm=15.0,
                damp_s=0.15,
                slip=None,
            )
        )
    return touched


@dataclass(frozen=True)
class Played:
    """What a hand does in one file."""

    plucks: tuple[st.PluckSpec, ...]
    touches: tuple[st.PluckSpec, ...]


def played(condition: Condition, voice: str, number: Sequence[int]) -> Played:
    """Return what is played in a file of this (seed, number).

    Conditions that are played alike share hands from file to file of one number, whatever pickup
    hears them.
    """
    alike = replace(condition, pickups={}, line_dbfs={}, gain_db=0.0)
    rng = np.random.default_rng([crc32(repr((alike, voice)).encode()), *number])
    plucks = played_plucks(condition, rng)
    return Played(plucks, tuple(touches(condition, plucks, rng)))


def rng_of(condition: Condition, voice: str, number: Sequence[int]) -> np.random.Generator:
    """Return what draws the noise of one file."""
    return np.random.default_rng([crc32(repr((condition, voice)).encode()), *number])


def modes_rendered(condition: Condition, voice: str, number: Sequence[int]) -> FloatArray:
    """Render one file by the string model, (n,)."""
    hand = played(condition, voice, number)
    rng = rng_of(condition, voice, number)
    channel = st.Channel("magnetic", condition.pickups[voice], gain_db=condition.gain_db)
    rendered = st.render_recording(
        guitar(),
        st.VoiceSpec(voice, (channel,)),
        [*hand.plucks, *hand.touches],
        rng=rng,
        rate_hz=RATE_HZ,
        noise=noise_of(condition, voice, rng),
        length_s=length_s(len(hand.plucks)),
    )
    return rendered.samples[0]


def length_s(n_plucks: int) -> float:
    """Length of a file."""
    return _QUIET_S + n_plucks * _SPACING_S + _END_S


def noise_of(condition: Condition, voice: str, rng: np.random.Generator) -> st.NoiseSpec:
    """Hum, hiss and 1/f noise of one file, all through the interface's gain.

    A machine, which plays the truth, plays in silence but for the hum: what lies under the hiss of
    a usual file (the treble of a split bridge on the D and G string) is part of the truth.
    """
    steady = condition.hand == MACHINE
    hush_db = _HUSH_DB if steady else 0.0
    up_db = condition.gain_db + (0.0 if steady else HUM_WANDER_DB * rng.standard_normal())
    return st.NoiseSpec(
        mains_hz=50.0 + 0.02 * rng.standard_normal(),
        line_dbfs=tuple(line + up_db for line in condition.line_dbfs[voice]),
        hiss_dbfs=HISS_DBFS + condition.gain_db + hush_db,
        pink_dbfs=PINK_DBFS + condition.gain_db + hush_db,
        line_wander_db=0.0 if steady else LINE_WANDER_DB,
        mains_wander_hz=0.0 if steady else MAINS_WANDER_HZ,
    )


def measured_file(
    render: Render, condition: Condition, voice: str, number: Sequence[int], takes: Path
) -> PlayedFile:
    """Play and render one file unless ``takes`` has it; read, cut and measure it."""
    import soundfile

    key = crc32(repr(condition).encode())
    path = takes / f"{key:08x}-{voice}-{number[0]}-{number[1]}.wav"
    if not path.exists():
        samples = render(condition, voice, number)
        unfinished = path.with_suffix(".unfinished")
        soundfile.write(unfinished, samples, int(RATE_HZ), subtype="PCM_24", format="WAV")
        unfinished.rename(path)
    recording = Recording(STAGES[0], voice, (path,))
    measured = measure_recording(session_of(takes, (recording,)), recording)
    as_stage = {stage: _moved(measured, stage) for stage in STAGES}
    return PlayedFile(as_stage, played(condition, voice, number).plucks, condition.gain_db)


def _moved(measured: MeasuredRecording, stage: str) -> MeasuredRecording:
    """Return the same recording as one of another stage."""
    subjects = tuple(
        replace(entry, subject=replace(entry.subject, stage=stage))
        for entry in measured.table.subjects
    )
    return replace(
        measured,
        table=replace(measured.table, subjects=subjects),
        bands={(stage, *key[1:]): value for key, value in measured.bands.items()},
        early={
            instrument: {(stage, *key[1:]): rows for key, rows in of.items()}
            for instrument, of in measured.early.items()
        },
        blends={(stage, key[1]): value for key, value in measured.blends.items()},
        files=tuple(replace(record, stage=stage) for record in measured.files),
    )
