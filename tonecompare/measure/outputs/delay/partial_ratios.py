"""The complex ratio of magnetic to piezo output at each partial of a note, at the pluck.

Both outputs hear the same modes, so at partial n the ratio of their spectra is a property of the
wiring and of the places, not of the pluck::

    R_n = sum_t w_t M_t(f_n) conj P_t(f_n) exp(-j θ_n(t)) / sum_t w_t |P_t(f_n)|²

over the frames t of ``pluck_frames`` (least squares of M on P), turned back by the drift θ that the
two polarisations of the string bring between the outputs (``phase_drift``).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tonecompare.errors import InputError
from tonecompare.measure.outputs.delay.phase_drift import phase_drift
from tonecompare.measure.outputs.delay.pluck_frames import MOST_PARTIALS, OVERLAP, frames_of
from tonecompare.measure.outputs.results import BlendPair, PartialRatios


def check_pair(pair: BlendPair) -> None:
    """Raise a clear error when a pair cannot be measured.

    Raises
    ------
    InputError
        When the outputs differ in length, hold NaN, or the pitch or rate make no sense.
    """
    where = pair.label or pair.note or "a pluck"
    if pair.magnetic.shape != pair.piezo.shape or pair.magnetic.ndim != 1:
        raise InputError(
            f"{where}: the magnetic output has the shape {pair.magnetic.shape}, the piezo output "
            f"{pair.piezo.shape}; both must be one channel of the same length."
        )
    if not (pair.rate_hz >= 8000.0):
        raise InputError(f"{where}: rate_hz={pair.rate_hz!r} is too low; did you give kHz?")
    if not (20.0 <= pair.f0_hz <= pair.rate_hz / 4):
        raise InputError(
            f"{where}: f0_hz={pair.f0_hz!r} is outside 20 Hz to a quarter of the rate."
        )
    if not 0 <= pair.onset_index < pair.magnetic.size:
        raise InputError(
            f"{where}: onset_index={pair.onset_index} is outside the {pair.magnetic.size} samples."
        )
    if not (np.isfinite(pair.magnetic).all() and np.isfinite(pair.piezo).all()):
        raise InputError(f"{where}: the samples hold NaN or infinity.")


def partial_ratios(pairs: Sequence[BlendPair]) -> PartialRatios | None:
    """Return magnetic over piezo at the partials of one note from all its plucks.

    Parameters
    ----------
    pairs
        Plucks of one note (same string).

    Returns
    -------
    PartialRatios or None
        None when no partial stands above the noise on both outputs.

    Raises
    ------
    InputError
        See :func:`check_pair`.
    """
    size = MOST_PARTIALS
    cross = np.zeros(size, dtype=np.complex128)
    power, noise_m, noise_p = np.zeros(size), np.zeros(size), np.zeros(size)
    weighted_hz, weighted_turn = np.zeros(size), np.zeros(size)
    for pair in pairs:
        check_pair(pair)
        frames = frames_of(pair)
        if frames is None:
            continue
        at = frames.number.astype(np.int64) - 1
        drift = phase_drift(frames)
        energy = drift.weight * np.abs(frames.piezo) ** 2
        straight = frames.magnetic * frames.piezo.conj() * np.exp(-1j * drift.turn_rad)
        total = float(energy.sum())
        share = energy.sum(axis=0) / total
        cross[at] += (drift.weight * straight).sum(axis=0) / total
        power[at] += share
        weighted_hz[at] += frames.frequency_hz * share
        weighted_turn[at] += drift.error_rad * share
        # Variance of the sum over frames, relative to this pluck's strength.
        heavy = OVERLAP * (drift.weight * energy).sum(axis=0) / total**2
        noise_m[at] += frames.noise_magnetic * heavy
        noise_p[at] += frames.noise_piezo * heavy
    used = np.flatnonzero(power > 0)
    if used.size == 0:
        return None
    ratio = cross[used] / power[used]
    sigma = np.sqrt(0.5 * (noise_m[used] + np.abs(ratio) ** 2 * noise_p[used])) / power[used]
    return PartialRatios(
        name=pairs[0].string_name,
        open_string=pairs[0].string is not None,
        f0_hz=float(np.median([pair.f0_hz for pair in pairs])),
        number=used.astype(np.float64) + 1.0,
        frequency_hz=weighted_hz[used] / power[used],
        ratio=ratio,
        sigma=sigma,
        turn_rad=weighted_turn[used] / power[used],
    )
