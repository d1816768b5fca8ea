"""Stages rendered and measured once, from which many sessions are drawn, for calibration.

A file of the pool is one voice at one stage: quiet, 6 open strings by 5 plucks, quiet. The hand is
set anew for every note, its place and strength scattering by a share of how far its plucks do
(:data:`HAND_SHARE`); its plucks scatter about that as ``strings.vary_plucks`` has it; hum wanders
from file to file. A
drawn stage takes the five plucks of each string from a file of its own, so that hands, not single
plucks, are dealt anew; no hand is in a session twice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare import strings as st
from tonecompare.measure.model import Measurements
from tonecompare.measure.session import MeasuredRecording, collected, measure_recording
from tonecompare.session.model import ComparisonSpec, Instrument, Recording, Session, Stage

NOTES = ("E2", "A2", "D3", "G3", "B3", "E4")
REPEATS = 5
#: How far the hand is set elsewhere, and harder or softer, from note to note, as a share of its
#: scatter from pluck to pluck (assumed, as in simulated_tables): 0.9 mm and 0.17 dB.
HAND_SHARE = 0.3
_SPREAD = st.Spread()
HUM_WANDER_DB = 0.2
PICK_MM, STRENGTH_DB = 120.0, -6.0
_QUIET_S, _DAMP_S, _END_S = 3.0, 0.25, 3.2
_HUM_DBFS = (-60.0, -80.0, -68.0, -84.0, -72.0)
_HISS_DBFS = -88.0
#: Damping of the strings beside the standard ones, so that 20 dB of decay fit between plucks.
_DAMPING = (2.6, 1.9, 1.5)


@dataclass(frozen=True)
class Condition:
    """How a stage differs from the one before the work."""

    pickups: Mapping[str, st.Magnetic]
    decay_factor: float = 1.0
    pick_mm: float = 0.0
    #: Interface gain: acts on everything.
    gain_db: float = 0.0
    hum_db: Mapping[str, float] | None = None
    hand_share: float = HAND_SHARE
    #: From pluck to pluck; a hand damps the string _DAMP_S before the next.
    spacing_s: float = 2.4


PICKUPS = {"bridge": st.humbucker(45.0), "neck": st.single_coil(150.0)}
BASE = Condition(PICKUPS)


def instrument(decay_factor: float = 1.0) -> st.InstrumentSpec:
    """Six strings whose decay times are ``decay_factor`` times the usual ones."""
    plain = st.standard_instrument("wren")
    strings = tuple(
        replace(
            string,
            damping=tuple(
                b * f / decay_factor for b, f in zip(string.damping, _DAMPING, strict=True)
            ),
        )
        for string in plain.strings
    )
    return replace(plain, strings=strings)


def exact(pickup: st.Magnetic) -> st.Rendered:
    """One exact, noiseless pluck of each string through a pickup."""
    plucks = st.plucks_in_turn(
        [(string, 0) for string in range(6, 0, -1)], start_s=0.2, spacing_s=1.4,
        like=st.PluckSpec(0.0, 1, position_mm=PICK_MM, strength_db=STRENGTH_DB),
    )  # fmt: skip
    voice = st.VoiceSpec("v", (st.Channel("magnetic", pickup),))
    return st.render_recording(
        instrument(), voice, plucks, rng=np.random.default_rng(0), rate_hz=44100.0,
        subtype="FLOAT",
    )  # fmt: skip


def truth(pickup: st.Magnetic) -> list[st.OutputTruth]:
    """Closed-form truth of one exact pluck of each string through a pickup."""
    return [pluck.outputs[0] for pluck in exact(pickup).truth.plucks]


def exact_plucks(pickup: st.Magnetic) -> list[tuple[NDArray[np.float64], float, float]]:
    """Samples, rate and onset of one exact pluck of each string."""
    rendered = exact(pickup)
    return [
        (rendered.samples[0], rendered.rate_hz, pluck.outputs[0].onset_s)
        for pluck in rendered.truth.plucks
    ]


def rendered_file(condition: Condition, voice: str, *, rng: np.random.Generator) -> st.Rendered:
    """One voice at one stage, played by a hand set anew for every note."""
    plucks = []
    hand_mm = condition.hand_share * _SPREAD.position_mm
    hand_db = condition.hand_share * _SPREAD.level_db
    for index, string in enumerate(range(6, 0, -1)):
        like = st.PluckSpec(
            0.0, 1,
            position_mm=PICK_MM + condition.pick_mm + hand_mm * rng.standard_normal(),
            strength_db=STRENGTH_DB + hand_db * rng.standard_normal(),
        )  # fmt: skip
        start_s = _QUIET_S + index * REPEATS * condition.spacing_s
        plucks += st.plucks_in_turn(
            [(string, 0)], start_s=start_s, spacing_s=condition.spacing_s, repeats=REPEATS,
            damp_before_s=_DAMP_S, like=like,
        )  # fmt: skip
    played = st.vary_plucks(plucks, rng=rng)
    up_db = condition.gain_db + HUM_WANDER_DB * rng.standard_normal()
    up_db += (condition.hum_db or {}).get(voice, 0.0)
    noise = st.NoiseSpec(
        mains_hz=50.0 + 0.02 * rng.standard_normal(),
        line_dbfs=tuple(level + up_db for level in _HUM_DBFS),
        hiss_dbfs=_HISS_DBFS + condition.gain_db,
    )
    channel = st.Channel("magnetic", condition.pickups[voice], gain_db=condition.gain_db)
    return st.render_recording(
        instrument(condition.decay_factor), st.VoiceSpec(voice, (channel,)), played, rng=rng,
        rate_hz=44100.0, noise=noise,
        length_s=_QUIET_S + len(plucks) * condition.spacing_s + _END_S,
    )  # fmt: skip


def measured_file(
    condition: Condition, voice: str, name: str, *, seed: Sequence[int]
) -> MeasuredRecording:
    """Render, write, read and measure one file; ``name`` is its name in the tables."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / f"{name}.wav"
        rendered_file(condition, voice, rng=np.random.default_rng(list(seed))).write(path)
        session = _session(Path(folder), {"pool": Stage("pool", "wren", Path(folder))})
        return measure_recording(session, Recording("pool", voice, (path,)))


@dataclass(frozen=True)
class Pool:
    """Measured files of several conditions, as tables, and where each hand's rows stand."""

    measured: Measurements
    #: Rows of ``plucks`` by (condition, voice, note), one array per file, in the order of files.
    hands: Mapping[tuple[str, str, str], list[NDArray[np.int64]]]
    quiets: Mapping[tuple[str, str], list[NDArray[np.int64]]]

    def draw(
        self, rng: np.random.Generator, after: Mapping[str, str]
    ) -> tuple[Session, Measurements]:
        """Deal a session: before from "base", after from a condition by voice."""
        plucks, quiet = [], []
        for voice, condition in after.items():
            for note in NOTES:
                both = _two(rng, self.hands, condition, (voice, note))
                plucks += [(stage, rows) for stage, rows in zip(_STAGES, both, strict=True)]
            both = _two(rng, self.quiets, condition, (voice,))
            quiet += [(stage, rows) for stage, rows in zip(_STAGES, both, strict=True)]
        measured = replace(
            self.measured,
            plucks=_dealt(self.measured.plucks, plucks),
            quiet=_dealt(self.measured.quiet, quiet),
        )
        stages = {name: Stage(name, "wren", Path(name)) for name in _STAGES}
        return _session(Path(), stages), measured


_STAGES = ("before", "after")


def _session(root: Path, stages: Mapping[str, Stage]) -> Session:
    specs = (ComparisonSpec(*_STAGES),) if set(stages) == set(_STAGES) else ()
    return Session(
        "calibration", root, stages, (), instruments={"wren": Instrument("wren", 648.0)},
        comparisons=specs,
    )  # fmt: skip


def _two(
    rng: np.random.Generator,
    groups: Mapping[tuple[str, ...], list[NDArray[np.int64]]],
    condition: str,
    key: tuple[str, ...],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows of one hand before and another after."""
    first, second = groups[("base", *key)], groups[(condition, *key)]
    if condition == "base":
        one, other = rng.choice(len(first), 2, replace=False)
        return first[one], first[other]
    return first[rng.integers(len(first))], second[rng.integers(len(second))]


def _dealt(frame: pd.DataFrame, parts: list[tuple[str, NDArray[np.int64]]]) -> pd.DataFrame:
    rows = np.concatenate([rows for _, rows in parts])
    stages = np.repeat([stage for stage, _ in parts], [len(rows) for _, rows in parts])
    return frame.iloc[rows].assign(stage=stages.astype(object)).reset_index(drop=True)


def make_pool(
    conditions: Mapping[str, tuple[Condition, Sequence[str]]],
    *,
    files: Mapping[str, int],
    seed: int,
    workers: int = 1,
) -> Pool:
    """Render and measure ``files`` files of each condition's voices ("base" must be there).

    Parameters
    ----------
    conditions
        {name: (condition, voices)}.
    files
        Files per voice by condition.
    seed
        Seed of everything.
    workers
        Processes.
    """
    import joblib

    work = [
        (condition, voice, f"{name}-{voice}-{number}", (seed, index, i, number))
        for index, (name, (condition, voices)) in enumerate(conditions.items())
        for i, voice in enumerate(voices)
        for number in range(files[name])
    ]
    results = joblib.Parallel(n_jobs=workers)(
        joblib.delayed(measured_file)(condition, voice, name, seed=seeds)
        for condition, voice, name, seeds in work
    )
    measured = collected(results)
    hands: dict[tuple[str, str, str], list[NDArray[np.int64]]] = {}
    quiets: dict[tuple[str, str], list[NDArray[np.int64]]] = {}
    file_of = measured.plucks["file"].to_numpy()
    note_of = measured.plucks["note"].to_numpy()
    quiet_file = measured.quiet["file"].to_numpy()
    for _, voice, name, _ in work:
        condition = name.rsplit("-", 2)[0]
        quiets.setdefault((condition, voice), []).append(
            np.flatnonzero(quiet_file == f"{name}.wav")
        )
        for note in NOTES:
            rows = np.flatnonzero((file_of == f"{name}.wav") & (note_of == note))
            if rows.size != REPEATS:
                raise ValueError(f"{name}: {rows.size} plucks named {note}, played {REPEATS}")
            hands.setdefault((condition, voice, note), []).append(rows)
    return Pool(measured, hands, quiets)
