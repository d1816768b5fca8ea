"""What could be found by a test that knows every pluck's true place, force and gain.

Levels y (dB) of the plucks of a voice, whole or in an octave, are regressed on the truth,

    y − gain = note + δ·after + b·x(place, force) + scatter,

where x is the closed-form level of that very pluck on an ideal string through the pickup that was
there before (:func:`known_levels`). δ is tested two-sidedly by least squares. The scatter is what
measuring, angle, release and string leave: the same noise as everybody has.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache

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
#: Levels of a pluck in the octaves in which pickups resonate, dBFS, and their mid frequencies.
_MIDDLE_HZ = {"octave_2k": 2000.0, "octave_4k": 4000.0, "octave_8k": 8000.0}
LEVEL = "level_dbfs"
TREBLE = tuple(_MIDDLE_HZ)


def oracle_finds(
    dealt: Mapping[tuple[str, str], PlayedFile],
    voice: str,
    columns: Sequence[str],
    *,
    pickup: st.Magnetic,
    truth: Mapping[tuple[str, str, str], float],
) -> bool:
    """Whether the oracle claims a change of any of these levels with the true sign.

    Parameters
    ----------
    dealt
        The files of a session by (stage, voice).
    voice, columns
        What is tested, at :data:`ALPHA` shared by the columns.
    pickup
        What the voice was before.
    truth
        True difference by (voice, "all", column).
    """
    for column in columns:
        parts = [
            _rows(dealt[stage, voice], stage, column, pickup, after=float(side))
            for side, stage in enumerate(STAGES)
        ]
        effect, p_value = _effect(np.concatenate(parts))
        if p_value < ALPHA / len(columns) and effect * truth[voice, "all", column] > 0.0:
            return True
    return False


def _effect(rows: FloatArray) -> tuple[float, float]:
    """δ and its p-value from (value, known level, after, string) rows."""
    rows = rows[np.isfinite(rows).all(axis=1)]
    if rows.size == 0:
        return 0.0, 1.0
    value, known, after, string = rows.T
    notes = (string[:, None] == np.unique(string)[None, :]).astype(np.float64)
    design = np.column_stack((after, known - known.mean(), notes))
    found, _, rank, _ = np.linalg.lstsq(design, value, rcond=None)
    df = value.size - int(rank)
    if df < 1:
        return 0.0, 1.0
    variance = float(np.sum((value - design @ found) ** 2)) / df
    se = float(np.sqrt(variance * np.linalg.pinv(design.T @ design)[0, 0]))
    return float(found[0]), 2.0 * float(stats.t.sf(abs(found[0]) / se, df))


def _rows(
    played: PlayedFile, stage: str, column: str, pickup: st.Magnetic, *, after: float
) -> FloatArray:
    """Value less gain, known level, stage, string of every pluck found, shape (plucks, 4)."""
    measured = collected([played.as_stage[stage]])
    times = np.array([pluck.time_s for pluck in played.played])
    rows = []
    values = pluck_levels(measured, column) - played.gain_db
    for value, onset_s in zip(values, measured.plucks["onset_s"].to_numpy(), strict=True):
        nearest = int(np.argmin(np.abs(times - onset_s)))
        if abs(times[nearest] - onset_s) < _NEAR_S:
            pluck = played.played[nearest]
            known = known_levels(pluck, pickup)[column]
            rows.append((value, known, after, float(pluck.string)))
    return np.array(rows, dtype=np.float64)


@cache
def known_levels(pluck: st.PluckSpec, pickup: st.Magnetic) -> Mapping[str, float]:
    """Level of one pluck at its release in dB, whole and by octave, closed form of its modes.

    Half the squared amplitudes of both polarisations, of an undamped string played at the usual
    angle and release: what follows from place and force alone.
    """
    usual = st.PluckSpec(
        0.0, pluck.string, position_mm=pluck.position_mm, strength_db=pluck.strength_db
    )
    string, modes = string_modes(instrument(), usual, rate_hz=RATE_HZ)
    paths = channel_paths(st.Channel("magnetic", pickup), string, modes, usual)
    power = np.sum(np.abs(mode_amplitudes(paths, modes, usual)) ** 2, axis=1) / 2.0
    octave = np.log2(modes.rates.imag[:, 0] / (2.0 * np.pi))
    levels = {LEVEL: float(10.0 * np.log10(power.sum()))}
    for name, middle_hz in _MIDDLE_HZ.items():
        within = np.abs(octave - np.log2(middle_hz)) <= 0.5
        levels[name] = float(10.0 * np.log10(power[within].sum()))
    return levels


def pluck_levels(measured: Measurements, column: str) -> FloatArray:
    """Return a level of every measured pluck, whole or in an octave (NaN where unmeasured)."""
    frame = measured.plucks
    if column == LEVEL:
        return frame[LEVEL].to_numpy(dtype=np.float64)
    keys = zip(frame["file"], frame["channel"], frame["pluck"], strict=True)
    return np.array([_octave_dbfs(measured.curves[key], _MIDDLE_HZ[column]) for key in keys])


def _octave_dbfs(curves: PluckCurves, middle_hz: float) -> float:
    within = np.abs(np.log2(curves.band_hz / middle_hz)) <= 0.5
    heard = within & np.isfinite(curves.band_dbfs)
    if not heard.any():
        return float("nan")
    return float(10.0 * np.log10(np.sum(10 ** (curves.band_dbfs[heard] / 10.0))))
