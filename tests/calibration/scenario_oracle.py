"""What could be found by a test that knows every pluck's true place, force and gain, and the work.

Levels of the plucks of a voice (whole, or in third octaves b) less gain and less the closed-form
level of that very pluck on an ideal string through the pickup that was there before
(:func:`known_levels`) leave

    r_b = note_b + after · D_b(string) + scatter_b,

where D_b is what the work does to an exact pluck. The oracle knows D up to its size: it joins the
bands into one number per pluck, s = Σ_b D_b r_b/var_b, which is the best single number for
independent bands, and tests s = note + δ·after by least squares. The scatter is what measuring,
angle, release and string leave: the same noise as everybody has.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, lru_cache

import numpy as np
from calibration_pool import instrument
from scenario_takes import RATE_HZ, STAGES, PlayedFile
from scipy import stats

from tonecompare import strings as st
from tonecompare.arrays import FloatArray
from tonecompare.measure.model import Measurements, PluckCurves
from tonecompare.measure.session import collected
from tonecompare.strings.modes import string_modes
from tonecompare.strings.pickups.sensors import channel_paths, mode_amplitudes

#: 5 % over six lead quantities of two voices.
ALPHA = 0.05 / 12
#: A measured pluck belongs to the played one that is no further away than this.
_NEAR_S = 0.3
#: Third octaves in which pickups resonate, by name, and their mid frequencies.
_MIDDLE_HZ = {f"third_{hz:.0f}": float(hz) for hz in 1000.0 * 2.0 ** (np.arange(11) / 3.0)}
LEVEL = ("level_dbfs",)
TREBLE = tuple(_MIDDLE_HZ)
#: (voice, string number or "all", quantity) -> true difference.
Differences = Mapping[tuple[str, str, str], float]


def oracle_finds(
    dealt: Mapping[tuple[str, str], PlayedFile],
    voice: str,
    columns: Sequence[str],
    *,
    pickup: st.Magnetic | st.Parallel,
    truth: Differences,
) -> bool:
    """Whether the oracle claims what the work did to these levels, with the true sign.

    Parameters
    ----------
    dealt
        The files of a session by (stage, voice).
    voice, columns
        What is tested together, at :data:`ALPHA`.
    pickup
        What the voice was before.
    truth
        D of every string and column.
    """
    sides = [_rows(dealt[stage, voice], tuple(columns), pickup) for stage in STAGES]
    after = np.repeat([0.0, 1.0], [len(side) for side in sides])
    rows = np.concatenate(sides)
    string, rest = rows[:, 0], rows[:, 1:]
    done = np.array(
        [[truth[voice, f"{number:.0f}", column] for column in columns] for number in string]
    )
    score = np.zeros(after.size)
    kept = np.zeros(after.size, dtype=bool)
    variance = _scatter(rest, string + 100.0 * after) ** 2
    for number in np.unique(string):
        here = string == number
        # A band counts for a note where all its plucks show it.
        known = np.isfinite(rest[here]).all(axis=0) & np.isfinite(done[here]).all(axis=0)
        known &= np.isfinite(variance)
        if known.any():
            score[here] = (done * rest / variance)[np.ix_(here, known)].sum(axis=1)
            kept |= here
    return bool(kept.any()) and _found(score[kept], after[kept], string[kept])


def _scatter(rest: FloatArray, group: FloatArray) -> FloatArray:
    """Standard deviation of each column within groups, pooled; NaN where nothing repeats."""
    squares, df = np.zeros(rest.shape[1]), np.zeros(rest.shape[1])
    for one in np.unique(group):
        part = rest[group == one]
        known = np.isfinite(part)
        count = known.sum(axis=0)
        mean = np.where(known, part, 0.0).sum(axis=0) / np.maximum(count, 1)
        squares += (np.where(known, part - mean, 0.0) ** 2).sum(axis=0)
        df += np.maximum(count - 1, 0)
    return np.sqrt(np.where(df > 0, squares / np.maximum(df, 1), np.nan))


def _found(score: FloatArray, after: FloatArray, string: FloatArray) -> bool:
    """Whether δ of score = note + δ·after is above 0 at :data:`ALPHA`, two-sided."""
    notes = (string[:, None] == np.unique(string)[None, :]).astype(np.float64)
    design = np.column_stack((after, notes))
    found, _, rank, _ = np.linalg.lstsq(design, score, rcond=None)
    df = score.size - int(rank)
    if df < 1:
        return False
    variance = float(np.sum((score - design @ found) ** 2)) / df
    se = float(np.sqrt(variance * np.linalg.pinv(design.T @ design)[0, 0]))
    return 2.0 * float(stats.t.sf(float(found[0]) / se, df)) < ALPHA


@lru_cache(maxsize=1024)
def _rows(
    played: PlayedFile, columns: tuple[str, ...], pickup: st.Magnetic | st.Parallel
) -> FloatArray:
    """String and levels less gain and what is known, of every pluck found: (plucks, 1 + B)."""
    measured = collected([played.as_stage[STAGES[0]]])
    times = np.array([pluck.time_s for pluck in played.played])
    levels = np.column_stack([pluck_levels(measured, column) for column in columns])
    rows = []
    for level, onset_s in zip(levels, measured.plucks["onset_s"].to_numpy(), strict=True):
        nearest = int(np.argmin(np.abs(times - onset_s)))
        if abs(times[nearest] - onset_s) < _NEAR_S:
            pluck = played.played[nearest]
            known = known_levels(pluck, pickup)
            rest = level - played.gain_db - np.array([known[column] for column in columns])
            rows.append((float(pluck.string), *rest))
    return np.array(rows, dtype=np.float64).reshape(-1, 1 + len(columns))


@cache
def known_levels(pluck: st.PluckSpec, pickup: st.Magnetic | st.Parallel) -> Mapping[str, float]:
    """Level of one pluck at its release in dB, whole and by third octave, in closed form.

    Half the squared amplitudes of both polarisations, of an undamped string played at the usual
    angle and release: what follows from place and force alone. NaN where no partial falls.
    """
    usual = st.PluckSpec(
        0.0, pluck.string, position_mm=pluck.position_mm, strength_db=pluck.strength_db
    )
    string, modes = string_modes(instrument(), usual, rate_hz=RATE_HZ)
    paths = channel_paths(st.Channel("magnetic", pickup), string, modes, usual)
    power = np.sum(np.abs(mode_amplitudes(paths, modes, usual)) ** 2, axis=1) / 2.0
    octave = np.log2(modes.rates.imag[:, 0] / (2.0 * np.pi))
    levels = {LEVEL[0]: float(10.0 * np.log10(power.sum()))}
    for name, middle_hz in _MIDDLE_HZ.items():
        within = np.abs(octave - np.log2(middle_hz)) <= 1.0 / 6.0
        total = float(power[within].sum())
        levels[name] = float(10.0 * np.log10(total)) if total > 0.0 else float("nan")
    return levels


def pluck_levels(measured: Measurements, column: str) -> FloatArray:
    """Return a level of every measured pluck, whole or in a band (NaN where unmeasured)."""
    frame = measured.plucks
    if column in LEVEL:
        return frame[column].to_numpy(dtype=np.float64)
    keys = zip(frame["file"], frame["channel"], frame["pluck"], strict=True)
    return np.array([_third_dbfs(measured.curves[key], _MIDDLE_HZ[column]) for key in keys])


def _third_dbfs(curves: PluckCurves, middle_hz: float) -> float:
    within = np.abs(np.log2(curves.band_hz / middle_hz)) <= 1.0 / 6.0
    heard = within & np.isfinite(curves.band_dbfs)
    if not heard.any():
        return float("nan")
    return float(10.0 * np.log10(np.sum(10 ** (curves.band_dbfs[heard] / 10.0))))


def differences_by_string(before: PlayedFile, after: PlayedFile) -> dict[tuple[str, str], float]:
    """D of every string and column between two files played by a machine, by (string, column)."""
    found: dict[tuple[str, str], float] = {}
    frames = [collected([played.as_stage[STAGES[0]]]) for played in (before, after)]
    for column in (*LEVEL, *TREBLE):
        levels = [pluck_levels(frame, column) for frame in frames]
        for number in range(1, 7):
            means = [
                float(np.mean(level[(frame.plucks["string"] == number).to_numpy(dtype=bool)]))
                for level, frame in zip(levels, frames, strict=True)
            ]
            found[f"{number}", column] = means[1] - means[0]
    return found
